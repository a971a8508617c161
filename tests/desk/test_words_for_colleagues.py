"""What is told to colleagues, and asked before a visit is closed, to the word and the day."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from recall.care.case import Case, Reported, Risk, ToldByOthers, Visit
from recall.care.dates import Before
from recall.care.ear import Ear
from recall.care.measured import Tympanogram
from recall.desk.visits.cautions import cautions
from recall.desk.visits.findings_words import (
    background_lines,
    ear_lines,
    latest_ear_lines,
    letter_ear_lines,
    said_lines,
)
from recall.desk.visits.questions import questions

DAY = date(2026, 9, 1)
BORN = date(1990, 1, 1)
SEEN = Ear(drum_seen="full", effusion="present")


def told(case: Case, on: date = DAY) -> list[str]:
    return [caution.words for caution in cautions(case, on)]


def seen(*looks: tuple[date, Ear], **more: object) -> Case:
    visits = tuple(Visit(on=day, right=ear) for day, ear in looks)
    return Case(born=BORN, visits=visits, **more)  # type: ignore[arg-type]


def asked(visit: Visit, *before: Visit, note: str = "") -> list[str]:
    return [q.says for q in questions(Case(born=BORN, visits=before), visit, note)]


def test_a_risk_holds_until_the_day_on_which_it_is_over() -> None:
    def with_risk(until: str) -> Case:
        return Case(born=BORN, risks=(Risk(what="anticoagulant", until=until),))

    words = "Take extra care, both ears: takes medicine that thins the blood: bleeds easily."
    assert told(with_risk("2026-09-02")) == [words]
    assert told(with_risk("2026-09-01")) == []


def test_what_forbids_water_comes_before_what_asks_for_care() -> None:
    risks = ("diabetes", "previous_ear_surgery", "narrow_canal", "previous_cholesteatoma")
    assert told(Case(born=BORN, risks=(*risks, "diabetes"))) == [
        "Do not irrigate, both ears: ear surgery in the past.",
        "Do not irrigate, both ears: cholesteatoma in the past.",
        "Take extra care, both ears: diabetes: infection of the canal.",
        "Take extra care, both ears: narrow ear canal.",
    ]


PAST = "Do not irrigate, the right ear: a grommet in the past, not documented as out for 18 months"


@pytest.mark.parametrize(
    ("states", "is_told"),
    [
        (("in_place",), True),
        (("in_place", "gone"), False),
        (("gone", "in_place"), True),
        (("in_place", "none"), False),
    ],
    ids=str,
)
def test_the_last_look_says_whether_a_past_grommet_is_out(
    states: tuple[str, ...], is_told: bool
) -> None:
    looks = [(date(2020, 1 + n, 1), Ear(grommet=state)) for n, state in enumerate(states)]  # type: ignore[arg-type]
    case = seen(*looks, risks=(Risk(what="previous_grommet", ear="right"),))
    assert any(words.startswith(PAST) for words in told(case)) is is_told


def test_a_past_grommet_of_both_ears_must_be_out_of_both() -> None:
    gone = Ear(grommet="gone")
    risks = ("previous_grommet",)
    one = Case(born=BORN, visits=(Visit(on=date(2020, 1, 1), right=gone),), risks=risks)
    both = Case(born=BORN, visits=(Visit(on=date(2020, 1, 1), right=gone, left=gone),), risks=risks)
    assert len(told(one)) == 1 and told(one)[0].startswith("Do not irrigate, both ears: a grommet")
    assert told(both) == []


def test_what_was_seen_is_told_with_its_day() -> None:
    then = date(2026, 3, 4)
    case = seen((then, Ear(perforation="central", discharge="purulent", bulging=True)))
    assert told(case, then) == [
        "Do not irrigate, the right ear: perforation of the drum (4 March 2026).",
        "Do not irrigate, the right ear: discharge within 12 months (4 March 2026).",
        "Do not irrigate, the right ear: infection of the middle ear within 6 weeks "
        "(4 March 2026).",
    ]


def test_a_hole_that_was_open_last_year_and_whole_today_counts_from_when_it_was_open() -> None:
    hole, whole = Ear(perforation="central"), Ear(perforation="none")
    words = "Do not irrigate, the right ear: perforation healed within 12 months (2 October 2025)."
    assert told(seen((date(2025, 10, 2), hole), (DAY, whole))) == [words]
    assert told(seen((date(2025, 9, 1), hole), (DAY, whole))) == []


def test_a_grommet_in_the_canal_counts_however_long_ago_it_came_out() -> None:
    case = seen((date(2020, 1, 1), Ear(grommet="in_canal")))
    assert told(case) == ["Do not irrigate, the right ear: grommet out for less than 18 months."]
    put_in = seen((date(2020, 1, 1), Ear(grommet_on=date(2019, 12, 1))))
    assert told(put_in) == [
        "Do not irrigate, the right ear: grommet put in, and not documented as out."
    ]


def test_the_change_of_a_side_is_asked_with_both_sides_and_the_day() -> None:
    before = Visit(on=date(2026, 8, 2), right=SEEN)
    older = Visit(on=date(2026, 7, 2), left=SEEN, right=SEEN)
    (said,) = asked(Visit(on=DAY, left=SEEN), older, before)
    assert said.endswith(
        "was in the right ear on 2 August 2026 and is now in the left: are the sides right?"
    )


def test_later_visits_and_another_of_the_same_day_are_told_apart() -> None:
    later = [Visit(on=DAY + timedelta(days=n), right=SEEN) for n in (1, 2)]
    assert asked(Visit(on=DAY, right=SEEN), *later) == [
        "2 later visit(s) are recorded: all are planned again."
    ]
    assert asked(Visit(on=DAY, right=SEEN), Visit(on=DAY, right=SEEN)) == [
        "There is a visit on 1 September 2026 already: is this another one?"
    ]


def test_a_drum_called_clear_is_asked_about_by_its_ear() -> None:
    unseen = Visit(on=DAY, left=Ear(drum_seen="none", effusion="absent"))
    unsaid = Visit(on=DAY, right=Ear(effusion="absent"))
    assert asked(unseen) == ["The left drum was not seen, yet something on it is called clear."]
    assert asked(unsaid) == [
        "The right drum is not recorded as seen, yet something on it is called clear."
    ]


def test_words_of_a_note_are_asked_about_once_in_order() -> None:
    note = "Vertigo, then vertigo again; a numb cheek."
    assert asked(Visit(on=DAY, right=SEEN), note=note) == [
        f"The note speaks of {words}, which is not recorded: record it, or is it ruled out?"
        for words in ("dizziness", "numbness")
    ]


def test_findings_are_told_in_plain_words() -> None:
    ear = Ear(keratin=False, cavity=True, hearing_dB={"500": 15, "4000": "nr"})
    values = {line.partition(": ")[2] for line in ear_lines(ear)}
    assert values == {"no", "yes", "500 Hz 15, 4000 Hz no response"}
    assert ear_lines(None) == ()


@pytest.mark.parametrize(
    ("trace", "words"),
    [
        (
            Tympanogram(peak_daPa=-210, compliance_ml=0.4, volume_ml=1.1),
            "peak at -210 daPa, compliance 0.4 ml, canal volume 1.1 ml",
        ),
        (Tympanogram(flat=True), "flat"),
        (Tympanogram(type="C"), "type C"),
    ],
    ids=str,
)
def test_a_trace_is_told_by_what_was_measured(trace: Tympanogram, words: str) -> None:
    (line,) = ear_lines(Ear(tympanogram=trace))
    assert line.partition(": ")[2] == words


def test_normal_findings_stand_in_one_line_at_the_end() -> None:
    *lines, usual = letter_ear_lines(Ear(effusion="absent", tensa_grade=2, perforation="none"))
    assert len(lines) == 1
    assert usual.startswith("Normal or absent: ") and usual.count(";") == 1


def test_what_was_not_done_is_left_out_unless_it_matters_to_the_question() -> None:
    """Common practice, no source; found by a practitioner who read a referral to ENT."""
    undone = Ear(examined=True, wax_found="none", clearance="not_attempted", attic_grade=3,
                 hearing_screen="could_not_test")  # fmt: skip
    of_hearing, by_eye = letter_ear_lines(undone), letter_ear_lines(undone, of_hearing=False)

    assert "hearing screen: could not test" in of_hearing
    assert not [line for line in by_eye if "not test" in line or "not attempted" in line]
    assert not [line for line in by_eye if "examined" in line]
    left = letter_ear_lines(Ear(wax_found="occluding", clearance="not_attempted"))
    assert "clearance: not attempted" in left


def test_findings_older_than_the_newest_visit_say_so() -> None:
    first = Visit(on=date(2026, 3, 4), right=SEEN)
    newest = Visit(on=DAY, left=SEEN)
    case = Case(born=BORN, visits=(first, newest))
    assert latest_ear_lines(case, "right")[0] == (
        "Not examined on 1 September 2026; findings of 4 March 2026:"
    )
    assert latest_ear_lines(case, "left") == letter_ear_lines(SEEN)
    assert latest_ear_lines(Case(born=BORN), "left") == ()


def test_the_background_has_risks_what_others_told_and_the_last_five_visits() -> None:
    others = (
        ToldByOthers(on="2020-05", ear="left", source="a letter", surgery="myringoplasty"),
        ToldByOthers(on="2021-06-07", ear="right", source="the GP", effusion="present"),
        ToldByOthers(on="2022", ear="right", source="the GP", hearing_dB={"500": 30}),
    )
    days = [date(2026, 1, n) for n in range(1, 8)]
    case = Case(
        born=BORN,
        visits=tuple(Visit(on=day, right=SEEN) for day in days),
        risks=("diabetes", Risk(what="previous_ear_surgery", ear="left")),
        told_by_others=others,
    )
    lines = background_lines(case, case.visits[-1])
    assert lines == (
        "diabetes",
        "previous ear surgery, left ear",
        "left ear, told by a letter: myringoplasty (2020-05)",
        "right ear, told by the GP: effusion present (2021-06-07)",
        "right ear, told by the GP: hearing 500 Hz 30 (2022)",
        "seen here before on 2 January 2026, 3 January 2026, 4 January 2026, 5 January 2026, "
        "6 January 2026",
    )
    assert background_lines(case, None) == lines[:5]


def test_what_was_reported_says_ear_day_and_how_fast() -> None:
    def line(**more: object) -> str:
        (said,) = said_lines([Reported(what="sudden_hearing_loss", **more)], DAY)  # type: ignore[arg-type]
        return said

    assert said_lines(["night_pain"], DAY) == ("night pain reported",)
    assert line(ear="left", onset_days=1) == (
        "sudden hearing loss reported, left ear, came on over 1 day"
    )
    assert line(onset_days=2).endswith("came on over 2 days")
    assert line(since=Before(days=3)).endswith("since 29 August 2026")
    assert line(since=Before(weeks=2)).endswith("since about 18 August 2026")
    assert line(since="2026-05").endswith("since May 2026")
    assert line(since="2026-05-06", because="wax").endswith("since 6 May 2026: wax")
