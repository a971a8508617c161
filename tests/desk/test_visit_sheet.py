"""The sheet that a person takes home: in plain words, as far as the clinician chooses."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path

import pdfplumber
import pytest

from recall.care.case import Reported, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear
from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.people.sheet_lines import TESTED_THERE
from recall.desk.people.sheet_meanwhile import BY_FINDING
from recall.desk.people.sheet_words import (
    ADULT,
    BACK,
    BECAUSE,
    CHILD,
    DROPS_CAUTION,
    FOR_PEOPLE,
    OF_PERSON,
    STAFF_ONLY,
    advice_words,
    back_words,
)
from recall.desk.people.visit_sheet import print_sheet, visit_sheet
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.errors import InputError, NotFound, Refused
from recall.letters.wording.blocks import plain
from recall.protocol.loading import load
from recall.protocol.rules import Advise, Recheck
from recall.records.database.store import Store
from recall.schedule.calendar import Calendar
from recall.schedule.plan import Advice
from tests.desk.practice import KERATIN, desk_at, later, open_follow_ups, somebody, visit
from tests.letters import readability

AGE_12 = 7
"""The seventh school year of the grades that the formulas give; see the tests of the letters."""
FLUID = Ear(wax_found="occluding", clearance="cleared", drum_seen="full", effusion="suspected")
WELL = Ear(drum_seen="full", attic_seen=True, effusion="absent", tensa_grade=0)


@pytest.fixture
def desk(store: Store) -> Desk:
    """The clinical lead's desk, with a child who was seen today."""
    opened = desk_at(store, by="clara")
    visit(opened, somebody(opened), right=FLUID, left=WELL)
    return opened


@pytest.mark.parametrize(
    ("ear", "warns"),
    [
        (Ear(drum_seen="part", discharge="none"), "bad pain, fluid or blood from the ear, sudden"),
        (
            Ear(drum_seen="part", discharge="clear"),
            "bad pain, more fluid or blood from the ear than now, sudden",
        ),
        (
            Ear(drum_seen="part", discharge="blood"),
            "bad pain, more fluid or blood from the ear than now, sudden",
        ),
    ],
)
def test_an_ear_that_runs_already_is_warned_of_by_more_of_it(
    store: Store, ear: Ear, warns: str
) -> None:
    opened = desk_at(store, by="clara")
    visit(opened, somebody(opened), right=ear, left=WELL)

    assert warns in " ".join(plain(visit_sheet(opened, "W1").body).split())


def test_it_says_what_was_found_when_what_happens_and_when_not_to_wait(desk: Desk) -> None:
    text = plain(visit_sheet(desk, "W1").body)

    assert (
        "Right ear: ear wax, which we took out, and what may be fluid behind the eardrum." in text
    )
    assert "The left ear looked normal." in text
    again = "We would like to look at your child's right ear again."
    assert f"{again} A good day: Tuesday 13 October 2026; " in text
    assert "; or between 29 September 2026 and 27 October 2026." in text
    assert "For the parent or carer of Rowan Thackwell" in text
    assert "Call 999" in text and "Clara Voss" in text


def test_the_clinician_chooses_what_of_the_findings_is_written_down(desk: Desk) -> None:
    some = plain(visit_sheet(desk, "W1", leaves_out=("effusion",)).body)
    none = plain(visit_sheet(desk, "W1", tells_findings=False).body)

    assert "ear wax" in some and "fluid behind" not in some
    assert "What we found" not in none and "What happens next" in none


def test_a_referral_says_where_by_when_and_what_to_do_if_nothing_comes(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=KERATIN)

    text = plain(visit_sheet(desk, "W1").body)

    refer = "We refer your child to the ear, nose and throat (ENT) department about the right ear."
    assert refer in text
    assert "seen there by 15 September 2026. If you have heard nothing by 8 September 2026" in text


def test_days_that_have_gone_by_are_not_given(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=KERATIN)
    visit(desk, somebody(desk, "W2"), right=FLUID)

    waiting = plain(visit_sheet(later(desk, 8), "W1").body)
    late = plain(visit_sheet(later(desk, 400), "W1").body)
    fluid = plain(visit_sheet(later(desk, 400), "W2").body)

    assert "September 2026. If you hear nothing, please call us." in waiting
    assert "Your child should have been seen there by now" in late
    assert "This is late: please call us" in fluid and "A good day" not in fluid


def test_what_is_booked_is_what_stands_there(desk: Desk) -> None:
    row = open_follow_ups(desk.store, 1)[0]
    bookings.book(desk, row["id"], row["version"], Booking(datetime(2026, 10, 14, 10, 30)))

    text = plain(visit_sheet(desk, "W1").body)

    assert "Your appointment: Wednesday 14 October 2026, 10:30." in text
    assert "A good day" not in text


def test_an_emergency_comes_first_and_nothing_keeps_anybody_from_going(store: Store) -> None:
    """Sudden loss told for an ear whose drum looks well, wax taken out on the other side."""
    desk = desk_at(store, by="clara")
    somebody(desk, born=date(1960, 5, 4), adult=False)
    told = Reported(what="sudden_hearing_loss", ear="left", since="2026-08-31")
    ears = {"right": FLUID, "left": WELL}
    given = draft(desk, "W1", Visit(on=desk.today, reported=(told,), **ears))
    close_visit(desk, given, Acceptance(looked=True, arranged_with="Dr Vane, on call"))

    text = plain(visit_sheet(desk, "W1").body)
    following = text[text.index("What happens next") :]

    assert "You told us: sudden hearing loss (left ear)." in text
    assert "looked normal" not in text
    go = "Go today, without waiting for anything else: Ear, nose and throat department (left ear)."
    assert following.startswith(f"What happens next\n\n- {go} We arranged it with Dr Vane")
    assert "What to do until then" not in text


def test_of_a_finding_that_is_left_out_nothing_is_said_to_be_well(desk: Desk) -> None:
    visit(later(desk, 1), 1, right=Ear(drum_seen="full", tympanosclerosis=True), left=WELL)

    text = plain(visit_sheet(later(desk, 1), "W1", leaves_out=("tympanosclerosis",)).body)

    assert "Your child's visit on 2 September 2026" in text
    assert "Right ear" not in text


def test_advice_is_in_words_for_the_person_and_none_of_it_is_for_staff(store: Store) -> None:
    desk = desk_at(store, date(2026, 12, 1), by="clara")
    somebody(desk, born=date(1960, 5, 4), adult=False)
    visit(desk, 1, right=Ear(wax_found="occluding", clearance="failed", wax_left="occluding"))

    said = plain(visit_sheet(desk, "W1").body)
    assert "Right ear: use softening drops for 3 to 5 days before the next visit." in said
    assert DROPS_CAUTION in said
    advise = {r.id for r in load().rules if isinstance(r.ask, Advise)}
    assert advise == {*FOR_PEOPLE} | STAFF_ONLY | BY_FINDING
    assert not {*FOR_PEOPLE} & (STAFF_ONLY | BY_FINDING)


def test_it_is_read_at_age_12_or_below(desk: Desk) -> None:
    """Flesch-Kincaid, as `readability.py` cites it; findings are a list of words, not sentences."""
    text = plain(visit_sheet(desk, "W1", tells_findings=False).body)

    assert readability.flesch_kincaid_grade(text.replace("\n", ". ")) <= AGE_12


@pytest.mark.parametrize("name", [n for n, f in CATALOGUE.items() if f.plain])
def test_words_for_people_are_not_words_of_the_trade(name: str) -> None:
    trade = ("effusion", "retract", "perforat", "tympan", "keratin", "polyp", "stenos", "mastoid")

    assert not [word for word in trade if word in CATALOGUE[name].plain.lower()]


def test_it_can_be_printed(desk: Desk, tmp_path: Path) -> None:
    print_sheet(desk, visit_sheet(desk, "W1"), tmp_path / "sheet.pdf")

    with pdfplumber.open(tmp_path / "sheet.pdf") as pdf:
        assert len(pdf.pages) == 1
        assert "What happens next" in pdf.pages[0].extract_text()


def test_what_cannot_be_made_is_said(desk: Desk) -> None:
    somebody(desk, "W2", adult=False)

    with pytest.raises(Refused, match="no visit"):
        visit_sheet(desk, "W2")
    with pytest.raises(NotFound):
        visit_sheet(desk, "W9")
    with pytest.raises(InputError, match="'colour' is no finding"):
        visit_sheet(desk, "W1", leaves_out=("colour",))


def test_a_day_on_which_the_practice_is_closed_is_not_offered(desk: Desk) -> None:
    row = open_follow_ups(desk.store, 1)[0]
    closed = replace(desk, calendar=Calendar(holidays={row["target"]: "Founders' day"}))

    assert "A good day" in plain(visit_sheet(desk, "W1").body)
    assert "A good day" not in plain(visit_sheet(closed, "W1").body)


def test_what_is_late_is_one_line_however_many_follow_ups_it_is(store: Store) -> None:
    desk = desk_at(store, by="clara")
    whole = {"drum_seen": "full", "attic_seen": True}
    low = {"500": 40, "1000": 40, "2000": 40, "4000": 40}
    right = Ear(wax_found="none", effusion="present", hearing_dB=low, **whole)  # type: ignore[arg-type]
    left = Ear(wax_found="none", attic_grade=1, perforation="central", **whole)  # type: ignore[arg-type]
    person = somebody(desk)
    visit(desk, person, right=right, left=left)
    assert len(open_follow_ups(store, person)) > 1

    text = plain(visit_sheet(later(desk, 800), "W1").body)

    assert text.count("please call us, so that we can find a day soon") == 1
    assert "These are late" in text


def test_the_sheet_of_a_child_with_fluid_in_both_ears_is_one_page_in_the_order_of_the_days(
    store: Store, tmp_path: Path
) -> None:
    """Found by a practitioner who closed such a visit and read what was handed over."""
    desk = desk_at(store, date(2026, 11, 30), by="clara")
    low = {"500": 40, "1000": 40, "2000": 40, "4000": 40}
    fluid = Ear(wax_found="none", drum_seen="full", attic_seen=True, effusion="present",
                hearing_dB=low)  # fmt: skip
    visit(desk, somebody(desk), right=fluid, left=fluid)
    sheet = visit_sheet(desk, "W1")
    text = plain(sheet.body)
    following = text[text.index("What happens next") : text.index("What to do until then")]

    assert following.index("11 January 2027") < following.index("22 February 2027")
    assert following.count("the children's audiology department") == 1
    assert following.count(TESTED_THERE) == 1
    assert "both your child's ears" in following and "about both ears" in following
    assert "Both ears: fluid dulls sounds. Face your child" in text
    assert "smoke" in text and "school" in text and "Come back sooner" in text

    print_sheet(desk, sheet, tmp_path / "sheet.pdf")
    with pdfplumber.open(tmp_path / "sheet.pdf") as pdf:
        assert len(pdf.pages) == 1


def test_a_pocket_that_may_be_disease_does_not_read_as_harmless_and_says_look_once(
    store: Store,
) -> None:
    """A deep attic pocket is suspected disease until ENT has ruled it out (the rules' sources); how
    that is said to the person is common practice, no source."""
    desk = desk_at(store, date(2026, 11, 30), by="clara")
    somebody(desk, born=date(1970, 1, 1), adult=False)
    pocket = Ear(drum_seen="full", attic_seen=True, attic_grade=3)
    visit(desk, 1, right=pocket, left=Ear(drum_seen="full", tensa_grade=1))

    text = plain(visit_sheet(desk, "W1").body)
    following = text[text.index("What happens next") : text.index("What to do until then")]

    assert "a small pocket" not in text and "worn bone" not in text and "common" not in text
    assert "Right ear: a deep pocket at the top of the eardrum." in text
    assert "can slowly harm the ear and the hearing" in following
    assert following.count("look at") == 1
    assert "Left ear: come back if you hear less" in text


def test_every_line_for_the_person_names_the_ear() -> None:
    for reader in (ADULT, CHILD):
        for rule in {*FOR_PEOPLE} - OF_PERSON:
            for ears, named in ((("left",), "Left ear: "), (("right", "left"), "Both ears: ")):
                (words,) = advice_words([Advice(says="", rule=rule, ears=ears)], reader)
                assert words.startswith(named) and "{" not in words
        for aloud in BACK:
            (words,) = back_words({aloud: ("left",)}, reader)
            assert "left ear" in words and "{" not in words
    assert back_words({"Come and see us.": ("right", "left")}, ADULT) == (
        "Both ears: Come and see us.",
    )


def test_one_thing_in_both_ears_is_one_line_and_of_a_child_it_is_said_so() -> None:
    told = [Advice(says="", rule="wax-cleared-advice", ears=(ear,)) for ear in ("left", "right")]

    assert advice_words(told, CHILD) == (
        "Both ears: come back if it feels blocked again, or if your child hears less.",
    )
    assert advice_words(told[:1], ADULT) == (
        "Left ear: come back if it feels blocked again, or if you hear less.",
    )


def test_all_that_rules_say_aloud_of_a_visit_here_has_words_with_the_ear() -> None:
    file = load().file
    aloud = {r.says_aloud for r in file.rule if isinstance(r.ask, Recheck)}
    aloud |= {w.says_aloud for w in file.category.values()}

    assert aloud | {file.retry.says_aloud, file.loop.says_aloud} <= {*BACK}
    assert {*BECAUSE} <= {rule.id for rule in file.rule}


def test_no_test_is_spared_where_nobody_else_is_asked_to_test(store: Store) -> None:
    desk = desk_at(store, date(2026, 11, 30), by="clara")
    fluid = Ear(drum_seen="full", attic_seen=True, effusion="present")
    visit(desk, somebody(desk), right=fluid, left=fluid)

    text = plain(visit_sheet(desk, "W1").body)

    assert "test the hearing of both your child's ears" in text
    assert TESTED_THERE not in text


def _next_of(text: str) -> list[str]:
    """Return the lines under what happens next."""
    rest = text[text.index("What happens next") :]
    return [line for line in rest.split("\n\n")[1].splitlines() if line]


def test_an_old_referral_and_a_new_one_to_the_same_place_are_two_lines_with_their_own_days(
    store: Store,
) -> None:
    """Found by a practitioner: two ears and two days had become one line that was true of none."""
    then = desk_at(store, date(2024, 3, 4), by="clara")
    person = somebody(then, born=date(1960, 5, 4), adult=False)
    gap = Ear(drum_seen="full", attic_seen=True, attic_grade=3)
    visit(then, person, right=gap)
    now = desk_at(store, date(2026, 11, 30), by="clara")
    visit(now, person, left=Ear(drum_seen="full", attic_grade=3, scutum_erosion=True))

    old, new = [line for line in _next_of(plain(visit_sheet(now, "W1").body)) if "(ENT)" in line]

    assert old.startswith("- On 4 March 2024 we referred you") and "about the right ear." in old
    assert "You should have been seen there by now" in old
    assert new.startswith("- We refer you") and "about the left ear." in new
    assert "You should be seen there by 14 December 2026." in new


def test_the_gp_is_asked_today_beside_what_the_gp_was_asked_long_ago(store: Store) -> None:
    then = desk_at(store, date(2025, 3, 3), by="clara")
    person = somebody(then, born=date(1960, 5, 4), adult=False)
    visit(then, person, right=Ear(pinna_lesion=True))
    now = desk_at(store, date(2026, 11, 30), by="clara")
    visit(now, person, left=Ear(drum_seen="full", bulging=True))

    old, new = [line for line in _next_of(plain(visit_sheet(now, "W1").body)) if "(GP)" in line]

    assert "right ear" in old and "left" not in old
    assert "left ear" in new and "by 1 December 2026; if not, call us or NHS 111." in new


def test_two_visits_of_one_day_are_told_in_their_order(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person = somebody(desk, born=date(1960, 5, 4), adult=False)
    visit(desk, person, right=Ear(wax_found="occluding", clearance="cleared", drum_seen="full"))
    visit(desk, person, right=Ear(drum_seen="full", perforation="central"))

    text = plain(visit_sheet(desk, "W1").body)

    first = text.index("- Right ear: ear wax, which we took out.")
    assert first < text.index("- Later that day: Right ear: a hole in the eardrum.")


def test_an_appointment_that_has_gone_by_is_not_told_as_one_to_come(desk: Desk) -> None:
    row = open_follow_ups(desk.store, 1)[0]
    bookings.book(desk, row["id"], row["version"], Booking(datetime(2026, 10, 14, 9, 20)))

    to_come = plain(visit_sheet(later(desk, 42), "W1").body)
    gone = plain(visit_sheet(later(desk, 44), "W1").body)

    assert "Your appointment: Wednesday 14 October 2026, 09:20." in to_come
    assert "Your appointment" not in gone
    assert "The appointment of Wednesday 14 October 2026 has gone by." in gone
    assert "Please come by 27 October 2026 at the latest." in gone
