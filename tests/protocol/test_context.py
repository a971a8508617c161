"""What the context words read: each from one ear's course, written out by hand."""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.course import Course
from recall.care.grades import Grades
from recall.protocol.anchors import ANCHORS
from recall.protocol.context import COURSE, Circumstance, context_word
from recall.protocol.onset import Onset

ON = date(2026, 9, 1)
MAY, JUNE, JULY = date(2026, 5, 1), date(2026, 6, 1), date(2026, 7, 1)


def at(
    course: Course | None = None,
    other: Course | None = None,
    reports: dict[str, Onset] | None = None,
    treated: date | None = None,
) -> Circumstance:
    return Circumstance(ON, 34, course or Course(), other or Course(), reports or {}, treated)


@pytest.mark.parametrize(
    ("word", "there", "value"),
    [
        ("fluid_known", at(), (ON, ON)),
        ("fluid_known", at(Course(fluid_since=MAY)), (MAY, ON)),
        ("fluid_on_record", at(), None),
        ("fluid_on_record", at(Course(fluid_since=MAY)), (MAY, ON)),
        ("fluid_both_known", at(Course(fluid_since=MAY)), None),
        ("fluid_both_known", at(None, Course(fluid_since=MAY)), None),
        ("fluid_both_known", at(Course(fluid_since=MAY), Course(fluid_since=JUNE)), (JUNE, ON)),
        ("fluid_both_known", at(Course(fluid_since=JUNE), Course(fluid_since=MAY)), (JUNE, ON)),
        ("tested_in_fluid", at(Course(fluid_since=MAY)), None),
        ("tested_in_fluid", at(Course(fluid_since=MAY, hearing_on=JUNE)), (MAY, JUNE)),
        ("tested_in_fluid", at(Course(fluid_since=JUNE, hearing_on=JUNE)), (JUNE, JUNE)),
        ("tested_in_fluid", at(Course(fluid_since=JUNE, hearing_on=MAY)), None),
        ("tested_in_fluid", at(Course(hearing_on=ON)), (ON, ON)),
        ("tested_in_fluid", at(Course(hearing_on=JUNE)), None),
        ("tested_with_grommet", at(Course(hearing_on=JUNE)), None),
        ("tested_with_grommet", at(Course(grommet_on=MAY, hearing_on=JUNE)), (MAY, JUNE)),
        ("tested_with_grommet", at(Course(grommet_on=JUNE, hearing_on=MAY)), None),
        ("grommet_checked", at(Course(grommet_on=MAY, grommet_looked_on=JULY)), (MAY, JULY)),
        ("grommet_checked", at(Course(grommet_on=MAY)), None),
        ("loss_treated", at(), None),
        ("loss_treated", at(treated=JULY), (JULY, ON)),
        ("tested_after_treatment", at(Course(hearing_on=JULY), treated=JUNE), (JUNE, JULY)),
        ("tested_after_treatment", at(Course(hearing_on=MAY), treated=JUNE), None),
        ("last_loss", at(Course(hearing_last=30.0)), 30.0),
        ("last_better_loss", at(Course(hearing_last=30.0)), None),
        ("last_better_loss", at(None, Course(hearing_last=30.0)), None),
        ("last_better_loss", at(Course(hearing_last=30.0), Course(hearing_last=0.0)), 0.0),
        ("last_better_loss", at(Course(hearing_last=20.0), Course(hearing_last=30.0)), 20.0),
        ("tensa_worse_run", at(Course(tensa=Grades(worse_run=2))), 2),
        ("attic_worse_run", at(Course(attic=Grades(worse_run=3))), 3),
        ("wax_visits_in_a_year", at(Course(wax_blocked_on=(MAY, JUNE))), 2),
    ],
)
def test_a_context_word_reads_the_course(word: str, there: Circumstance, value: object) -> None:
    assert COURSE[word].get(there) == value


@pytest.mark.parametrize(
    ("anchor", "there", "day"),
    [
        ("visit", at(Course(fluid_since=MAY)), ON),
        ("fluid_first_documented", at(), ON),
        ("fluid_first_documented", at(Course(fluid_since=MAY)), MAY),
        ("last_hearing_test", at(), None),
        ("last_hearing_test", at(Course(hearing_on=JUNE)), JUNE),
        ("grommet_inserted", at(Course(grommet_on=JUNE)), JUNE),
        ("hearing_aid_fitted", at(Course(aid_fitted_on=JUNE)), JUNE),
        ("loss_treated", at(treated=JULY), JULY),
        ("hole_first_documented", at(), ON),
        ("hole_first_documented", at(Course(perforation_since=MAY)), MAY),
    ],
)
def test_a_window_is_counted_from_its_anchor(
    anchor: str, there: Circumstance, day: date | None
) -> None:
    assert ANCHORS[anchor](there) == day


LONG_AGO = Onset(MAY, JULY, 2, 2)
LATELY = Onset(JUNE, JUNE, 5, 5)
OPEN = Onset()


@pytest.mark.parametrize(
    ("one", "other", "strictest"),
    [
        (LONG_AGO, LATELY, Onset(MAY, JULY, 2, 2)),
        (LATELY, LONG_AGO, Onset(MAY, JULY, 2, 2)),
        (LONG_AGO, OPEN, Onset(MAY, None, 2, None)),
        (OPEN, LONG_AGO, Onset(MAY, None, 2, None)),
        (LONG_AGO, Onset(None, None, 1, 1), Onset(MAY, None, 1, 1)),
        (LONG_AGO, Onset(JUNE, JUNE), Onset(MAY, JULY, 2, None)),
        (OPEN, OPEN, OPEN),
    ],
)
def test_of_two_reports_each_part_that_asks_for_more_counts(
    one: Onset, other: Onset, strictest: Onset
) -> None:
    """Earliest begun, sure only of the later day, quickest onset; unsure where either is."""
    assert one.strictest(other) == strictest


@pytest.mark.parametrize(
    ("name", "value", "clock"),
    [
        ("pain_for", (MAY, ON), True),
        ("pain_for_at_least", (JULY, ON), True),
        ("pain_onset", 2, False),
        ("pain_onset_at_least", 3, False),
    ],
)
def test_what_was_reported_is_read_by_how_its_word_ends(
    name: str, value: object, clock: bool
) -> None:
    told = at(reports={"pain": Onset(MAY, JULY, 2, 3)})
    word = context_word("report", name)

    assert word is not None
    assert (word.get(told), word.clock) == (value, clock)
    assert word.get(at()) is None


@pytest.mark.parametrize(
    ("namespace", "name"),
    [
        ("report", "pain"),
        ("report", "_for"),
        ("report", "joy_for"),
        ("person", "height"),
        ("course", "age"),
        ("report", "age"),
        ("ear", "fluid_known"),
    ],
)
def test_there_is_no_other_context_word(namespace: str, name: str) -> None:
    assert context_word(namespace, name) is None


def test_age_is_read_as_it_is() -> None:
    word = context_word("person", "age")

    assert word is not None
    assert (word.get(at()), word.clock) == (34, False)
