"""The context words: what a rule may read from an ear's history, from age and from reports.

They hold ranges; what a window may be counted from stands in `anchors.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from datetime import date
from operator import attrgetter
from typing import Any, get_args

import msgspec

from recall.care.case import ReportWord
from recall.care.course import Course
from recall.care.episodes import began_on, episodes, within_a_year
from recall.care.other_ear import apart
from recall.protocol.onset import Onset

_REPORTS: tuple[str, ...] = get_args(ReportWord)


class Circumstance(msgspec.Struct, frozen=True):
    """What the context words of one ear at one visit are read from."""

    on: date
    age: int
    course: Course
    other: Course
    reports: dict[str, Onset]
    """What was told of each word reported for this ear."""
    loss_treated_on: date | None


Value = float | tuple[date, date] | None
"""A number, or the start and end of a length of time, or None where it has not happened."""
Getter = Callable[[Circumstance], Value]


class ContextWord(msgspec.Struct, frozen=True):
    """One word of the history: how to read it, and what it says."""

    get: Getter
    says: str
    clock: bool = False
    gate: str = ""
    """What of a circumstance must be there for the word to say more than of an empty history."""


class _Clock:
    """Reads the time since a day of the course."""

    __slots__ = ("start",)

    def __init__(self, name: str) -> None:
        self.start: Callable[[Circumstance], date | None] = attrgetter(f"course.{name}")

    def __call__(self, c: Circumstance) -> Value:
        start = self.start(c)
        return (start, c.on) if start is not None else None


def _clock(name: str, says: str) -> ContextWord:
    return ContextWord(_Clock(name), says, True, f"course.{name}")


def _number(name: str, says: str) -> ContextWord:
    return ContextWord(attrgetter(f"course.{name}"), says, False, f"course.{name}")


def start_of(word: ContextWord) -> Callable[[Circumstance], date | None] | None:
    """Return how to read the day that a word counts from, where it is a day of the course."""
    return word.get.start if isinstance(word.get, _Clock) else None


def _episodes(name: str, months: int) -> Getter:
    def get(c: Circumstance) -> Value:
        return episodes(getattr(c.course, name), c.on, months)

    return get


def _fluid_known(c: Circumstance) -> Value:
    return (c.course.fluid_since or c.on, c.on)


def _care_given(c: Circumstance) -> Value:
    last = max(filter(None, (c.course.cleared_on, c.other.cleared_on)), default=None)
    return (last, c.on) if last else None


def _fluid_both(c: Circumstance) -> Value:
    mine, others = c.course.fluid_since, c.other.fluid_since
    return (max(mine, others), c.on) if mine and others else None


def _tested_in_fluid(c: Circumstance) -> Value:
    """A test at any look that found or suspected fluid was done in it; today's, at the latest."""
    found = c.course.fluid_since, c.course.fluid_found_since
    return _between(min(filter(None, found), default=c.on), c.course.hearing_on)


def _acute_known(c: Circumstance) -> Value:
    first = began_on(c.course.acute_on)
    return (first, c.on) if first is not None else None


def _loss_treated(c: Circumstance) -> Value:
    return (c.loss_treated_on, c.on) if c.loss_treated_on else None


def _between(start: date | None, end: date | None) -> Value:
    """Return the time from one day to another, or None where the second has not come yet."""
    return (start, end) if start and end and end >= start else None


def _tested_with_grommet(c: Circumstance) -> Value:
    return _between(c.course.grommet_on, c.course.hearing_on)


def _grommet_checked(c: Circumstance) -> Value:
    return _between(c.course.grommet_on, c.course.grommet_looked_on)


def _tested_after_treatment(c: Circumstance) -> Value:
    return _between(c.loss_treated_on, c.course.hearing_on)


def _last_better_loss(c: Circumstance) -> Value:
    mine, others = c.course.hearing_last, c.other.hearing_last
    return min(mine, others) if mine is not None and others is not None else None


COURSE: dict[str, ContextWord] = {
    "fluid_known": ContextWord(
        _fluid_known,
        "time since fluid was first documented in this episode (0 if not yet)",
        True,
        "course.fluid_since",
    ),
    "fluid_on_record": _clock(
        "fluid_since", "time since fluid was first documented, here or elsewhere"
    ),
    "fluid_visits": _number(
        "fluid_visits", "visits in this episode at which fluid was suspected or present"
    ),
    "fluid_both_known": ContextWord(
        _fluid_both,
        "time for which fluid has been documented in both ears at once",
        True,
        "course.fluid_since",
    ),
    "hearing_tested": _clock("hearing_on", "time since the last hearing test"),
    "hearing_measured": _clock(
        "measured_on",
        "time since the levels of the ear were last measured, other than within a week of suction",
    ),
    "tested_in_fluid": ContextWord(
        _tested_in_fluid,
        "how old the fluid was at the last hearing test",
        True,
        "course.hearing_on",
    ),
    "last_loss": _number("hearing_last", "the ear's four-frequency mean at its last test, in dB"),
    "last_high_tones": _number(
        "high_tones_last", "the mean of the ear's high tones at its last audiogram, in dB"
    ),
    "last_better_loss": ContextWord(
        _last_better_loss,
        "the better ear's four-frequency mean at the last tests, in dB",
        gate="course.hearing_last",
    ),
    "loss_known": _clock("loss_since", "time since a loss was first measured and not normal since"),
    "hearing_drop": _number(
        "hearing_drop", "today's four-frequency mean less the one before, in dB"
    ),
    "settled_drop": _number(
        "settled_drop",
        "today's four-frequency mean less the last one that no suction within a week had lowered, "
        "in dB",
    ),
    "apart": ContextWord(
        lambda c: apart(c.course, c.other, c.on),
        "of an ear tested alone: its four-frequency mean less the other ear's of the past 90 days",
        gate="course.mean_today",
    ),
    "gap_growth": _number("gap_growth", "today's air-bone gap less the one before (or 0), in dB"),
    "tensa_step": _number("tensa.step", "today's tensa grade less the one before"),
    "attic_step": _number("attic.step", "today's attic grade less the one before"),
    "tensa_worse_run": _number("tensa.worse_run", "worsenings of the tensa grade in a row"),
    "attic_worse_run": _number("attic.worse_run", "worsenings of the attic grade in a row"),
    "tensa_three_before": _number("tensa.at_three", "earlier visits graded tensa III or worse"),
    "tensa_stable": _number(
        "tensa.stable",
        "looks in a row with the tensa grade no worse, hearing tested at each and no worse",
    ),
    "attic_stable": _number(
        "attic.stable",
        "looks in a row with the attic grade no worse, hearing tested at each and no worse",
    ),
    "failed_clearances": _number(
        "failed_clearances", "failed clearances in a row, today's included"
    ),
    "care_given": ContextWord(
        _care_given, "time since either ear was last cleared, or was tried to be", True
    ),
    "suction_used": _clock(
        "suction_on",
        "time since suction was last used in the ear; clearing of which nobody recorded how "
        "counts as suction",
    ),
    "failed_visits": _number("failed_visits", "visits in a row that left the ear blocked by wax"),
    "left_visits": _number(
        "left_visits",
        "visits in a row, none half a year after the last, that left wax in the way, even in part",
    ),
    "blockages_in_a_year": ContextWord(
        lambda c: within_a_year(c.course.blockages_on, c.on),
        "times in the past 12 months that wax was partial or occluding, not left by a visit before",
        gate="course.blockages_on",
    ),
    "wax_visits_in_a_year": ContextWord(
        lambda c: within_a_year(c.course.wax_blocked_on, c.on),
        "visits of the past 12 months at which wax was partial or occluding",
        gate="course.wax_blocked_on",
    ),
    "screens_failed": _number(
        "screens_failed", "hearing screens in a row that were not passed or could not be done"
    ),
    "object_visits": _number(
        "object_visits",
        "visits in a row, none half a year after the last, that left an object in the canal",
    ),
    "unseen_visits": _number("unseen_visits", "visits in a row at which the drum was not seen"),
    "pus_hid_visits": _number("pus_hid_visits", "visits in a row at which pus hid the drum"),
    "grommet_in": _clock("grommet_on", "time since the grommet was inserted"),
    "grommet_seen": _clock(
        "grommet_seen_since", "time since the grommet was first seen in the drum"
    ),
    "blocked_visits": _number("blocked_visits", "visits in a row at which the grommet was blocked"),
    "grommet_checked": ContextWord(
        _grommet_checked,
        "how long the grommet had been in when it was last looked at",
        True,
        "course.grommet_on",
    ),
    "tested_with_grommet": ContextWord(
        _tested_with_grommet,
        "how long the grommet had been in at the last hearing test",
        True,
        "course.grommet_on",
    ),
    "grommet_out": _clock(
        "grommet_out_since", "time since the grommet was first found out of the drum"
    ),
    "new_hole_known": _clock(
        "new_hole_since",
        "time since the hole was first documented, unless it was recorded as an old one then",
    ),
    "perforation_known": _clock("perforation_since", "time since the hole was first documented"),
    "perforation_visits": _number(
        "perforation_visits", "earlier visits at which this hole was seen"
    ),
    "hole_quiet": _number(
        "hole_quiet",
        "looks in a row, half a year or more apart, with the hole dry and hearing no worse",
    ),
    "discharge_known": _clock("discharge_since", "time for which the ear has discharged"),
    "skin_known": _clock("skin_since", "time for which the canal skin has been inflamed or fungal"),
    **{
        f"{what}_episodes_in_{months}_months": ContextWord(
            _episodes(days, months),
            f"episodes of {says} found here in the past {months} months, today's included",
            gate=f"course.{days}",
        )
        for what, days, says in (
            ("canal", "canal_ill_on", "an infected canal"),
            ("acute", "acute_on", "acute infection of the middle ear"),
        )
        for months in (6, 12)
    },
    "acute_known": ContextWord(
        _acute_known,
        "time since this acute infection of the middle ear was first found here",
        True,
        "course.acute_on",
    ),
    "fungal_known": _clock("fungal_since", "time for which the canal has been fungal"),
    "aid_fitted": _clock("aid_fitted_on", "time since the hearing aid was fitted"),
    "concern_told": _clock(
        "concern_on", "time since a concern about hearing was last told for this ear"
    ),
    "difficulty_told": _clock(
        "difficulty_on",
        "time since a concern about hearing, or that it got worse, was last told for this ear",
    ),
    "concern_waits": _clock(
        "concern_waits_on",
        "time since a concern about hearing was told while wax stayed in the ear, until hearing "
        "is better or tested",
    ),
    "not_whole": _clock(
        "not_whole_since",
        "time since a hole, a grommet, a cavity or an operation was first on record for the ear",
    ),
    "trace_of_hole": _clock(
        "trace_of_hole_on",
        "time since a trace was last read as one of a hole, until the drum is seen whole",
    ),
    "against_drops": _clock(
        "against_drops_on",
        "time since a visit last found something for which an ear is given no drops",
    ),
    "loss_treated": ContextWord(
        _loss_treated, "time since treatment of a sudden loss ended", True, "loss_treated_on"
    ),
    "tested_after_treatment": ContextWord(
        _tested_after_treatment,
        "time from the end of treatment of a sudden loss to the last hearing test",
        True,
        "loss_treated_on",
    ),
}
"""Context words of an ear's history."""


PERSON_RANGES = {"age": "age in whole years on the day of the visit"}

ANY_OF: dict[str, tuple[str, ...]] = {"any_pain": ("pain", "night_pain", "severe_pain")}
"""Words for the time since any of several reported words began."""


def report_clock(word: str) -> Getter:
    """Return how to read the time since a reported word, or any of several, began."""
    words = ANY_OF.get(word, (word,))

    def get(c: Circumstance) -> Value:
        told = [c.reports[w].since for w in words if w in c.reports]
        since = min(filter(None, told), default=None)
        return (since, c.on) if since is not None else None

    return get


def report_sure_clock(word: str) -> Getter:
    """Return how to read the time that has passed at least since a reported word began."""

    def get(c: Circumstance) -> Value:
        since = c.reports.get(word, Onset()).surely_since
        return (since, c.on) if since is not None else None

    return get


def report_onset(word: str) -> Getter:
    """Return how to read over how many days a reported word came on."""
    return lambda c: c.reports.get(word, Onset()).onset_days


def report_sure_onset(word: str) -> Getter:
    """Return how to read over how many days, by every report of it, a word came on."""
    return lambda c: c.reports.get(word, Onset()).sure_onset_days


_OF_REPORTS: dict[str, tuple[Callable[[str], Getter], str, bool]] = {
    "_for": (report_clock, "time since it began", True),
    "_for_at_least": (report_sure_clock, "time since the latest day it can have begun on", True),
    "_onset": (report_onset, "days it took to come on", False),
    "_onset_at_least": (report_sure_onset, "days it took to come on, by every report", False),
}
"""What can be asked of every reported word, by what is written behind it."""


def words_told(when: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    """Yield the reported words that a condition speaks of, by themselves or by their clocks."""
    for name, value in when.get("report", {}).items():
        if name in ("said", "also", "lately"):
            yield from value
            continue
        word = max((name.removesuffix(end) for end in _OF_REPORTS if name.endswith(end)), key=len)
        yield from ANY_OF.get(word, (word,))


def context_word(namespace: str, name: str) -> ContextWord | None:
    """Return the context word of that name, or None where there is no such word."""
    if namespace == "course":
        return COURSE.get(name)
    if namespace == "person" and name == "age":
        return ContextWord(lambda c: c.age, PERSON_RANGES["age"])
    if namespace == "report":
        for ending, (getter, says, clock) in _OF_REPORTS.items():
            word = name.removesuffix(ending)
            if word != name and (word in _REPORTS or (word in ANY_OF and ending == "_for")):
                return ContextWord(getter(word), says, clock, "reports")
    return None
