"""What is asked before a visit is closed: sides, notes, what was really seen."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec
import pytest

from recall.care.case import Case, Reported, ReportWord, Visit
from recall.care.ear import Ear
from recall.desk.visits.questions import questions

DAY = date(2026, 9, 1)
SEEN = Ear(drum_seen="full", effusion="present")


def asked(visit: Visit, note: str = "", *before: Visit) -> list[str]:
    case = Case(born=date(2018, 3, 2), visits=before)
    return [q.about for q in questions(case, visit, note)]


def test_a_change_of_side_is_asked_about() -> None:
    before = Visit(on=DAY - timedelta(days=30), right=SEEN)
    assert asked(Visit(on=DAY, left=SEEN), "", before) == ["side"]
    assert asked(Visit(on=DAY, right=SEEN), "", before) == []
    assert asked(Visit(on=DAY, right=SEEN, left=SEEN), "", before) == []


def test_the_last_known_side_counts() -> None:
    then = Visit(on=DAY - timedelta(days=60), right=Ear(drum_seen="full", perforation="central"))
    unseen = Visit(on=DAY - timedelta(days=30), right=Ear(wax_found="occluding"))
    now = Visit(on=DAY, left=Ear(drum_seen="full", perforation="central"))
    assert asked(now, "", then, unseen) == ["side"]


@pytest.mark.parametrize(
    "note",
    [
        "Sudden hearing loss last Friday",
        "Lost the hearing suddenly",
        "face weak on one side",
        "drooping of the face",
        "numb cheek",
        "vertigo for a week",
        "Dizzy when turning",
        "some blood on the pillow",
        "fell on her head",
        "whooshing in time with the pulse",
        "pain at night",
        "Severe pain since Sunday",
        "swelling behind the ear",
        "mastoid tender",
        "button battery?",
        "polyp in the canal",
        "looks like cholesteatoma",
        "white mass behind the drum",
        "bone eroded",
        "No pain. Vertigo since Monday",
        "not getting better, dizzy",
        "no pain but vertigo",
    ],
)
def test_red_flag_words_in_a_note_are_asked_about(note: str) -> None:
    assert "note" in asked(Visit(on=DAY, right=SEEN), note)


@pytest.mark.parametrize(
    "note",
    ["", "Doing well.", "No vertigo, no bleeding.", "denies any facial weakness",
     "Wax softened with oil for two weeks", "not sudden hearing loss"],
)  # fmt: skip
def test_an_ordinary_note_asks_nothing(note: str) -> None:
    assert asked(Visit(on=DAY, right=SEEN), note) == []


def test_what_is_recorded_is_not_asked_about_again() -> None:
    told = Visit(on=DAY, right=SEEN, reported=("sudden_hearing_loss",))
    assert asked(told, "sudden hearing loss") == []
    dated = Visit(on=DAY, right=SEEN, reported=(Reported(what="vertigo", ear="right"),))
    assert asked(dated, "vertigo") == []
    found = Visit(on=DAY, right=Ear(drum_seen="full", polyp=True))
    assert asked(found, "a polyp") == []


def test_a_clear_drum_that_was_not_seen_is_asked_about() -> None:
    assert asked(Visit(on=DAY, right=Ear(effusion="absent"))) == ["seen"]
    assert asked(Visit(on=DAY, right=Ear(drum_seen="none", tensa_grade=0))) == ["seen"]
    assert asked(Visit(on=DAY, right=Ear(drum_seen="full", effusion="absent"))) == []


def test_a_second_visit_on_a_day_and_later_visits_are_told() -> None:
    same = Visit(on=DAY, right=SEEN)
    after = Visit(on=DAY + timedelta(days=1), right=SEEN)
    assert asked(Visit(on=DAY, right=SEEN), "", same, after) == ["day", "day"]


def told_since(days: int, what: ReportWord = "hearing_concern") -> Visit:
    report = Reported(what=what, ear="right", since=str(DAY - timedelta(days=days)))
    return Visit(on=DAY, reported=(report,), right=Ear(drum_seen="full"))


def test_a_concern_that_began_lately_is_asked_about() -> None:
    """NICE NG98 (2018) 1.1.2: a loss over 3 days or less, of the past 30: within 24 hours."""
    assert asked(told_since(2)) == asked(told_since(30)) == ["onset"]
    assert asked(told_since(31)) == asked(told_since(2, "pain")) == []
    sudden = msgspec.structs.replace(
        told_since(2), reported=(*told_since(2).reported, "sudden_hearing_loss")
    )
    assert asked(sudden) == []
    plain = Visit(on=DAY, reported=("hearing_concern",), right=Ear(drum_seen="full"))
    assert asked(plain) == []


def test_hearing_that_is_worse_after_care_is_measured() -> None:
    worse = Ear(wax_found="occluding", wax_left="none", clearance="cleared", hearing_after="worse")
    measured = msgspec.structs.replace(worse, hearing_screen="passed")
    same = msgspec.structs.replace(worse, hearing_after="same")
    assert asked(Visit(on=DAY, left=worse)) == ["worse"]
    assert asked(Visit(on=DAY, left=measured)) == asked(Visit(on=DAY, left=same)) == []


def test_putting_a_visit_right_does_not_ask_whether_it_is_another_one() -> None:
    first, old = Visit(on=DAY, right=SEEN), Visit(on=DAY, right=Ear(drum_seen="part"))
    case, now = Case(born=date(2018, 3, 2), visits=(first,)), Visit(on=DAY, right=SEEN)

    assert "day" in [q.about for q in questions(case, now, "")]
    assert "day" not in [q.about for q in questions(case, now, "", old)]
    moved = msgspec.structs.replace(old, on=DAY - timedelta(days=1))
    assert "day" in [q.about for q in questions(case, now, "", moved)]


@pytest.mark.parametrize(
    ("ear", "says"),
    [
        (Ear(keratin=True, attic_grade=0, drum_seen="full", attic_seen=True), "is graded 0"),
        (Ear(keratin=True, drum_seen="part"), "is not graded"),
        (Ear(keratin=True, attic_grade=0, tensa_grade=0, drum_seen="full"), "is graded 0"),
        (Ear(scutum_erosion=True, attic_grade=0, drum_seen="full"), "Worn bone"),
        (Ear(attic_crust=True, attic_grade=0, drum_seen="full"), "A crust over the attic"),
    ],
)
def test_a_sign_of_disease_beside_a_normal_attic_is_asked_about(ear: Ear, says: str) -> None:
    """Tos and Poulsen, Acta Otolaryngol 1980;89:479-86: grade 0 has no pocket, bone worn from 3."""
    visit = Visit(on=DAY, right=ear)
    (question,) = questions(Case(born=date(2018, 3, 2)), visit, "")
    assert question.about == "attic"
    assert says in question.says
    assert "right ear" in question.says


@pytest.mark.parametrize(
    "ear",
    [
        Ear(keratin=True, attic_grade=2, drum_seen="full"),
        Ear(keratin=True, tensa_grade=3, drum_seen="full"),
        Ear(keratin=True, attic_grade=0, perforation="marginal", drum_seen="full"),
        Ear(keratin=True, cavity=True, cavity_quiet=False),
        Ear(scutum_erosion=True, attic_grade=3, drum_seen="full"),
        Ear(attic_crust=True, drum_seen="part"),
        Ear(attic_grade=0, keratin=False, drum_seen="full", attic_seen=True),
    ],
)
def test_a_sign_that_has_its_place_is_not(ear: Ear) -> None:
    assert asked(Visit(on=DAY, left=ear)) == []
