"""What an ear's history comes to after some looks: each clock, count and step, by its name."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import msgspec
import pytest

from recall.care.case import ToldByOthers
from recall.care.course import Course
from recall.care.ear import Ear
from recall.care.episodes import within_a_year

FIRST = date(2026, 1, 5)
SECOND, THIRD = FIRST + timedelta(weeks=4), FIRST + timedelta(weeks=8)
DAYS = (FIRST, SECOND, THIRD)
Found = dict[str, Any]
SEEN = {"drum_seen": "full"}


def tones(level: int) -> dict[str, int]:
    return dict.fromkeys(("500", "1000", "2000", "4000"), level)


def after(*looks: Found) -> Course:
    """Return the course after looks four weeks apart."""
    course = Course()
    for found, on in zip(looks, DAYS, strict=False):
        course.see(msgspec.convert(found, Ear), on, None)
    return course


def holds(course: Course, expected: Found) -> None:
    assert {name: getattr(course, name) for name in expected} == expected


@pytest.mark.parametrize(
    ("looks", "expected"),
    [
        # Fluid: visits of the episode at which it was there, from the first look on.
        (
            [{**SEEN, "effusion": "suspected"}, {**SEEN, "effusion": "present"}],
            {"fluid_visits": 2, "fluid_since": SECOND, "fluid_found_since": FIRST},
        ),
        (
            [{**SEEN, "effusion": "present"}, {**SEEN, "effusion": "present"}],
            {"fluid_visits": 2, "fluid_since": FIRST, "fluid_found_since": FIRST},
        ),
        (
            [{**SEEN, "effusion": "present"}, {**SEEN, "effusion": "absent"}],
            {"fluid_visits": 0, "fluid_since": None, "fluid_found_since": None},
        ),
        # A hole: earlier visits at which it was open, counted anew once it had closed.
        ([{**SEEN, "perforation": "central"}], {"perforation_visits": 0}),
        ([{**SEEN, "perforation": "central"}] * 3, {"perforation_visits": 2}),
        (
            [{**SEEN, "perforation": "central"}] * 2 + [{**SEEN, "perforation": "healed"}],
            {"perforation_visits": 0, "perforation_since": None, "new_hole_since": None},
        ),
        (
            [{**SEEN, "perforation": "central", "perforation_new": False}],
            {"perforation_since": FIRST, "new_hole_since": None},
        ),
        # Hearing: what was measured today, and how it differs from the test before.
        ([{"hearing_dB": tones(30)}, SEEN], {"mean_today": None, "hearing_last": 30}),
        (
            [{"hearing_dB": tones(30)}, {"hearing_dB": tones(45)}],
            {"mean_today": 45, "hearing_drop": 15, "loss_since": FIRST, "hearing_on": SECOND},
        ),
        ([{"hearing_dB": tones(30)}, {"hearing_dB": tones(45)}, SEEN], {"hearing_drop": None}),
        ([{"hearing_dB": tones(19)}], {"loss_since": None}),
        # WHO, World report on hearing 2021: a loss begins at 20 dB.
        ([{"hearing_dB": tones(20)}], {"loss_since": FIRST}),
        ([{"hearing_dB": tones(30)}, {"hearing_dB": tones(19)}], {"loss_since": None}),
        ([{"hearing_dB": {"500": 30}}], {"mean_today": None, "hearing_on": None}),
        (
            [{"hearing_dB": tones(40), "bone_dB": tones(25)}],
            {"gap_today": 15, "gap_growth": 15, "gap_last": 15},
        ),
        (
            [
                {"hearing_dB": tones(40), "bone_dB": tones(25)},
                {"hearing_dB": tones(45), "bone_dB": tones(10)},
            ],
            {"gap_today": 35, "gap_growth": 20},
        ),
        (
            [{"hearing_dB": tones(40), "bone_dB": tones(25)}, SEEN],
            {"gap_today": None, "gap_growth": None, "gap_last": 15},
        ),
        # Screens in a row without a pass; a measured mean ends them like a pass.
        ([{"hearing_screen": "not_passed"}] * 2, {"screens_failed": 2}),
        ([{"hearing_screen": "could_not_test"}] * 2, {"screens_failed": 2, "hearing_on": None}),
        ([{"hearing_screen": "not_passed"}, {"hearing_screen": "passed"}], {"screens_failed": 0}),
        ([{"hearing_screen": "not_passed"}, {"hearing_dB": tones(10)}], {"screens_failed": 0}),
        ([{"hearing_screen": "not_passed"}, SEEN], {"screens_failed": 1}),
        # Failed clearances, by the tries of each; an object is not wax.
        ([{"clearance": "failed"}] * 2, {"failed_clearances": 2}),
        ([{"clearance": "failed", "clearance_tries": 3}], {"failed_clearances": 3}),
        ([{"clearance": "failed", "foreign_body": "other"}], {"failed_clearances": 0}),
        (
            [{"clearance": "failed", "foreign_body": "other", "wax_found": "some"}],
            {"failed_clearances": 1},
        ),
        ([{"clearance": "failed"}, {"clearance": "cleared"}], {"failed_clearances": 0}),
        ([{"clearance": "failed"}, {"wax_left": "some"}], {"failed_clearances": 0}),
        ([{"clearance": "failed"}, {"wax_left": "partial"}], {"failed_clearances": 1}),
        # Visits in a row without a view, and those at which pus was why.
        ([{"drum_seen": "none"}] * 2, {"unseen_visits": 2, "pus_hid_visits": 0}),
        (
            [{"drum_seen": "none", "discharge": "purulent"}] * 2,
            {"unseen_visits": 2, "pus_hid_visits": 2},
        ),
        (
            [{"drum_seen": "none", "discharge": "purulent"}, {"drum_seen": "none"}],
            {"unseen_visits": 2, "pus_hid_visits": 0},
        ),
        ([{"drum_seen": "none"}, {"drum_seen": "part"}], {"unseen_visits": 0}),
        (
            [
                {"drum_seen": "none", "discharge": "purulent"},
                {"drum_seen": "part", "discharge": "purulent"},
            ],
            {"unseen_visits": 0, "pus_hid_visits": 0},
        ),
        (
            [{"drum_seen": "none"}, {"examined": False, "not_examined": "not_attempted"}],
            {"unseen_visits": 1},
        ),
        ([{"examined": False, "not_examined": "refused"}] * 2, {"unseen_visits": 2}),
        # A grommet: blocked visits in a row, since when it is in the drum, since when out.
        (
            [{**SEEN, "grommet": "blocked"}] * 2,
            {"blocked_visits": 2, "grommet_seen_since": FIRST, "grommet_looked_on": SECOND},
        ),
        ([{**SEEN, "grommet": "blocked"}, {**SEEN, "grommet": "in_place"}], {"blocked_visits": 0}),
        (
            [{**SEEN, "grommet": "in_canal"}, {**SEEN, "grommet": "gone"}],
            {"grommet_out_since": FIRST, "grommet_seen_since": None},
        ),
        (
            [{**SEEN, "grommet": "in_canal"}, {**SEEN, "grommet": "in_place"}],
            {"grommet_out_since": None, "grommet_seen_since": SECOND},
        ),
        (
            [{**SEEN, "grommet": "in_place", "grommet_on": "2025-12-01"}, {"grommet": "none"}],
            {"grommet_on": date(2025, 12, 1), "grommet_looked_on": FIRST},
        ),
        (
            [
                {**SEEN, "grommet": "in_place", "grommet_on": "2025-12-01"},
                {**SEEN, "grommet": "none"},
            ],
            {"grommet_on": None, "grommet_looked_on": SECOND},
        ),
        (
            [
                {**SEEN, "grommet": "in_place", "grommet_on": "2025-12-01"},
                {**SEEN, "grommet": "in_place"},
            ],
            {"grommet_on": date(2025, 12, 1), "grommet_seen_since": FIRST},
        ),
        (
            [{**SEEN, "grommet": "in_place"}, {"grommet_on": "2026-01-20"}],
            {"grommet_on": date(2026, 1, 20), "grommet_seen_since": None},
        ),
        (
            [{**SEEN, "grommet": "in_place"}, {"grommet_on": "2026-01-05"}],
            {"grommet_seen_since": FIRST},
        ),
        # Discharge: from the earliest day that was told or seen, until it is recorded as none.
        ([{"discharge": "purulent"}] * 2, {"discharge_since": FIRST}),
        (
            [{"discharge": "purulent"}, {"discharge_since": "2025-12-24"}],
            {"discharge_since": date(2025, 12, 24)},
        ),
        ([{"discharge": "purulent"}, {"discharge": "none"}], {"discharge_since": None}),
        # The skin of the canal, and fungus in it.
        (
            [{"canal_skin": "inflamed"}, {"canal_skin": "fungal"}, {"canal_skin": "fungal"}],
            {"skin_since": FIRST, "fungal_since": SECOND},
        ),
        (
            [{"canal_skin": "fungal"}, {"canal_skin": "inflamed"}],
            {"skin_since": FIRST, "fungal_since": None},
        ),
        (
            [{"canal_skin": "fungal"}, {"canal_skin": "normal"}],
            {"skin_since": None, "fungal_since": None},
        ),
        ([{"canal_skin": "fungal"}, SEEN], {"skin_since": FIRST, "fungal_since": FIRST}),
        ([{"hearing_aid_fitted_on": "2025-12-01"}, SEEN], {"aid_fitted_on": date(2025, 12, 1)}),
    ],
)
def test_an_ear_s_history_after_some_looks(looks: list[Found], expected: Found) -> None:
    holds(after(*looks), expected)


@pytest.mark.parametrize(
    ("grades", "expected"),
    [
        ([1], {"last": 1, "step": None, "worse_run": 0, "at_three": 0}),
        ([1, 2], {"last": 2, "step": 1, "worse_run": 1, "at_three": 0}),
        ([1, 2, 4], {"last": 4, "step": 2, "worse_run": 2, "at_three": 0}),
        ([1, 2, 2], {"step": 0, "worse_run": 0}),
        ([2, 3, 3], {"step": 0, "at_three": 1}),
        ([3, 3, 3], {"step": 0, "at_three": 2}),
        ([3, 2, 2], {"step": 0, "at_three": 1}),
        ([1, None, 3], {"last": 3, "step": 2, "worse_run": 1}),
        ([1, 3, None], {"last": 3, "step": None, "worse_run": 1}),
    ],
)
def test_a_grade_s_steps_and_runs(grades: list[int | None], expected: Found) -> None:
    looks = [{**SEEN, "tensa_grade": g} if g is not None else SEEN for g in grades]
    tensa = after(*looks).tensa

    assert {name: getattr(tensa, name) for name in expected} == expected


def told(**more: Any) -> ToldByOthers:
    given = {"on": "2026-03-02", "ear": "right", "source": "hospital letter", **more}
    return msgspec.convert(given, ToldByOthers)


@pytest.mark.parametrize(
    ("letters", "expected"),
    [
        ([(FIRST, told(effusion="present"))], {"fluid_since": FIRST, "told": True}),
        ([(FIRST, told(effusion="suspected"))], {"fluid_since": None, "told": True}),
        ([(FIRST, told(surgery="grommets"))], {"fluid_since": None, "hearing_on": None}),
        (
            [(FIRST, told(effusion="present")), (SECOND, told(effusion="present"))],
            {"fluid_since": FIRST},
        ),
        (
            [(FIRST, told(effusion="present")), (SECOND, told(effusion="absent"))],
            {"fluid_since": None},
        ),
        (
            [(FIRST, told(hearing_dB=tones(35)))],
            {"hearing_on": FIRST, "hearing_last": 35, "loss_since": FIRST},
        ),
        (
            [(FIRST, told(hearing_dB={"500": 35}))],
            {"hearing_on": None, "hearing_last": None, "loss_since": None},
        ),
        ([(FIRST, told(grommet_on="2026-01-02"))], {"grommet_on": date(2026, 1, 2)}),
    ],
)
def test_what_others_documented(letters: list[tuple[date, ToldByOthers]], expected: Found) -> None:
    course = Course()
    for on, letter in letters:
        course.hear(letter, on)

    holds(course, expected)


def test_every_count_begins_at_none() -> None:
    course = Course()

    counts = ("fluid_visits", "failed_clearances", "screens_failed", "unseen_visits")
    counts += ("pus_hid_visits", "blocked_visits", "perforation_visits")
    holds(course, dict.fromkeys(counts, 0))
    assert within_a_year(course.wax_blocked_on, FIRST) == 0
    for grades in (course.tensa, course.attic):
        assert (grades.worse_run, grades.at_three, grades.last, grades.step) == (0, 0, None, None)


def test_nothing_is_told_by_others_until_it_is() -> None:
    assert not after({**SEEN, "effusion": "present"}).told


def test_an_ear_not_looked_at_today_keeps_its_history_and_nothing_of_today() -> None:
    course = after(
        {"hearing_dB": tones(30), "bone_dB": tones(10), **SEEN, "tensa_grade": 1, "attic_grade": 0},
        {"hearing_dB": tones(40), "bone_dB": tones(10), **SEEN, "tensa_grade": 2, "attic_grade": 1},
    )

    course.forget_today()

    today = {"mean_today": None, "gap_today": None, "hearing_drop": None, "gap_growth": None}
    holds(course, {**today, "hearing_last": 40, "gap_last": 30})
    assert (course.tensa.step, course.tensa.last, course.tensa.worse_run) == (None, 2, 1)
    assert (course.attic.step, course.attic.last, course.attic.worse_run) == (None, 1, 1)
