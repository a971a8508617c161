"""The words that a rule's conditions may use, each declared once with its kind.

scale   ordered values or numbers; a rule can only ask for a value "or worse"
flag    recorded true; a rule can only ask for `true`, or for any of several flags
names   context: any of the named values, never the normal one
range   context: ages, clocks, counts

Nothing can be conditioned on "normal" or "not recorded": a rule for the worse finding
simply wins. That is what makes a plan safe to read: recording a worse value can only
bring a date forward.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Literal, get_args

import msgspec

from recall.care.case import ReportWord, RiskWord
from recall.care.course import Course

Kind = Literal["scale", "flag", "names", "range"]
Namespace = Literal["ear", "other", "person", "report", "course"]

ORDERS: dict[str, tuple[str, ...]] = {
    "wax_found": ("none", "some", "partial", "occluding"),
    "wax_left": ("none", "some", "partial", "occluding"),
    "drum_seen": ("full", "part", "none"),
    "effusion": ("absent", "suspected", "present"),
    "hearing_after": ("better", "same", "worse"),
    "tensa_grade": ("0", "1", "2", "3", "4"),
    "attic_grade": ("0", "1", "2", "3", "4"),
    "tympanogram": ("A", "C1", "C2", "flat"),
}
"""Scales with named values, mildest first."""

MEASURED = ("hearing_loss", "better_ear_loss", "asymmetry", "air_bone_gap")
"""Scales in dB, worked out by the classifiers of `care.hearing`."""

NAMES: dict[str, tuple[str, ...]] = {
    "mass_behind_drum": ("white", "red"),
    "perforation": ("central", "marginal", "attic", "healed"),
    "perforation_cause": ("trauma", "infection", "unknown"),
    "discharge": ("clear", "purulent", "blood"),
    "canal_skin": ("inflamed", "fungal"),
    "foreign_body": ("button_battery", "unidentified", "other"),
    "grommet": ("in_place", "blocked", "in_canal", "gone"),
    "hearing_screen": ("not_passed", "could_not_test"),
    "not_examined": ("refused", "not_attempted"),
}
"""Context words of an ear. The normal value of each is left out on purpose."""

FLAGS: tuple[str, ...] = (
    "red",
    "bulging",
    "bullae",
    "scutum_erosion",
    "attic_crust",
    "granulation",
    "polyp",
    "keratin",
    "blood_behind_drum",
    "perforation_new",
    "canal_swollen_shut",
    "canal_narrow",
    "exostoses",
    "cellulitis",
    "mastoid_swelling",
    "pinna_lesion",
    "treated",
    "tympanosclerosis",
    "grommet_long_term",
    "cavity",
    "cavity_quiet",
)
"""Flags that are fields of an ear."""

DERIVED_FLAGS: dict[str, tuple[str, object]] = {
    "base_unseen": ("pocket_base_seen", False),
    "attic_unseen": ("attic_seen", False),
    "tensa_fixed": ("tensa_mobile", False),
    "clearance_failed": ("clearance", "failed"),
    "could_not_examine": ("examined", False),
}
"""Flags that are one recorded value of a field which is not a flag by itself."""

TRACE_FLAGS: dict[str, str] = {
    "trace_of_a_hole": "flat_hole",
    "trace_of_a_blocked_probe": "flat_blocked",
    "trace_of_fluid": "flat_fluid",
}
"""Flags read off a flat trace with its volume, by the pattern of `care.tympanogram`."""

REPORTS: tuple[str, ...] = get_args(ReportWord)
RISKS: tuple[str, ...] = get_args(RiskWord)


class Circumstance:
    """What the context words of one ear at one visit are read from."""

    __slots__ = ("age", "course", "loss_treated_on", "on", "other", "reports")

    def __init__(
        self,
        on: date,
        age: int,
        course: Course,
        other: Course,
        reports: dict[str, tuple[date | None, int | None]],
        loss_treated_on: date | None,
    ) -> None:
        self.on = on
        self.age = age
        self.course = course
        self.other = other
        self.reports = reports
        """Each word reported for this ear: since when, and over how many days it came on."""
        self.loss_treated_on = loss_treated_on


Value = float | tuple[date, date] | None
"""A number, or the start and end of a length of time, or None where it has not happened."""
Getter = Callable[[Circumstance], Value]


class ContextWord(msgspec.Struct, frozen=True):
    """One word of the history: how to read it, and what it says."""

    get: Getter
    says: str
    clock: bool = False


def _clock(name: str) -> Getter:
    def get(c: Circumstance) -> Value:
        start: date | None = getattr(c.course, name)
        return (start, c.on) if start is not None else None

    return get


def _number(name: str) -> Getter:
    def get(c: Circumstance) -> Value:
        value: float | None = getattr(c.course, name)
        return value

    return get


def _fluid_known(c: Circumstance) -> Value:
    return (c.course.fluid_since or c.on, c.on)


def _fluid_both(c: Circumstance) -> Value:
    mine, others = c.course.fluid_since, c.other.fluid_since
    return (max(mine, others), c.on) if mine and others else None


def _tested_in_fluid(c: Circumstance) -> Value:
    since, tested = c.course.fluid_since, c.course.hearing_on
    return (since, tested) if since and tested and tested >= since else None


def _loss_treated(c: Circumstance) -> Value:
    return (c.loss_treated_on, c.on) if c.loss_treated_on else None


COURSE: dict[str, ContextWord] = {
    "fluid_known": ContextWord(
        _fluid_known, "time since fluid was first documented in this episode (0 if not yet)", True
    ),
    "fluid_visits": ContextWord(
        _number("fluid_visits"), "visits in this episode at which fluid was suspected or present"
    ),
    "fluid_both_known": ContextWord(
        _fluid_both, "time for which fluid has been documented in both ears at once", True
    ),
    "hearing_tested": ContextWord(_clock("hearing_on"), "time since the last hearing test", True),
    "tested_in_fluid": ContextWord(
        _tested_in_fluid, "how old the fluid was at the last hearing test", True
    ),
    "hearing_drop": ContextWord(
        _number("hearing_drop"), "today's four-frequency mean less the one before, in dB"
    ),
    "gap_growth": ContextWord(
        _number("gap_growth"), "today's air-bone gap less the one before (or 0), in dB"
    ),
    "tensa_step": ContextWord(
        lambda c: c.course.tensa.step, "today's tensa grade less the one before"
    ),
    "attic_step": ContextWord(
        lambda c: c.course.attic.step, "today's attic grade less the one before"
    ),
    "tensa_worse_run": ContextWord(
        lambda c: c.course.tensa.worse_run, "worsenings of the tensa grade in a row"
    ),
    "attic_worse_run": ContextWord(
        lambda c: c.course.attic.worse_run, "worsenings of the attic grade in a row"
    ),
    "tensa_three_before": ContextWord(
        lambda c: c.course.tensa.at_three, "earlier visits graded tensa III or worse"
    ),
    "failed_clearances": ContextWord(
        _number("failed_clearances"), "failed clearances in a row, today's included"
    ),
    "wax_visits_in_a_year": ContextWord(
        lambda c: c.course.wax_visits_within_a_year(c.on),
        "visits of the past 12 months at which wax was partial or occluding",
    ),
    "unseen_visits": ContextWord(
        _number("unseen_visits"), "visits in a row at which the drum was not seen"
    ),
    "pus_hid_visits": ContextWord(
        _number("pus_hid_visits"), "visits in a row at which pus hid the drum"
    ),
    "grommet_in": ContextWord(_clock("grommet_on"), "time since the grommet was inserted", True),
    "grommet_visits": ContextWord(
        _number("grommet_visits"),
        "visits at which this grommet was seen in place, today's included",
    ),
    "blocked_visits": ContextWord(
        _number("blocked_visits"), "visits in a row at which the grommet was blocked"
    ),
    "perforation_known": ContextWord(
        _clock("perforation_since"), "time since the hole was first documented", True
    ),
    "perforation_visits": ContextWord(
        _number("perforation_visits"), "earlier visits at which this hole was seen"
    ),
    "discharge_known": ContextWord(
        _clock("discharge_since"), "time for which the ear has discharged", True
    ),
    "skin_known": ContextWord(
        _clock("skin_since"), "time for which the canal skin has been inflamed or fungal", True
    ),
    "fungal_known": ContextWord(
        _clock("fungal_since"), "time for which the canal has been fungal", True
    ),
    "aid_fitted": ContextWord(
        _clock("aid_fitted_on"), "time since the hearing aid was fitted", True
    ),
    "loss_treated": ContextWord(_loss_treated, "time since treatment of a sudden loss ended", True),
}
"""Context words of an ear's history."""

ANCHORS: dict[str, Callable[[Circumstance], date | None]] = {
    "visit": lambda c: c.on,
    "fluid_first_documented": lambda c: c.course.fluid_since or c.on,
    "last_hearing_test": lambda c: c.course.hearing_on,
    "grommet_inserted": lambda c: c.course.grommet_on,
    "hearing_aid_fitted": lambda c: c.course.aid_fitted_on,
    "loss_treated": lambda c: c.loss_treated_on,
    "hole_first_documented": lambda c: c.course.perforation_since or c.on,
}
"""What a window may be counted from."""

PERSON_RANGES = {"age": "age in whole years on the day of the visit"}


def report_clock(word: str) -> Getter:
    """Return how to read the time since a reported word began."""

    def get(c: Circumstance) -> Value:
        since = c.reports.get(word, (None, None))[0]
        return (since, c.on) if since is not None else None

    return get


def report_onset(word: str) -> Getter:
    """Return how to read over how many days a reported word came on."""
    return lambda c: c.reports.get(word, (None, None))[1]


def context_word(namespace: str, name: str) -> ContextWord | None:
    """Return the context word of that name, or None where there is no such word."""
    if namespace == "course":
        return COURSE.get(name)
    if namespace == "person" and name == "age":
        return ContextWord(lambda c: c.age, PERSON_RANGES["age"])
    if namespace == "report":
        if name.endswith("_for") and name.removesuffix("_for") in REPORTS:
            return ContextWord(report_clock(name.removesuffix("_for")), "time since it began", True)
        if name.endswith("_onset") and name.removesuffix("_onset") in REPORTS:
            return ContextWord(report_onset(name.removesuffix("_onset")), "days it took to come on")
    return None


def kind_of(namespace: str, name: str) -> Kind | None:
    """Return the kind of a word, or None where no such word is declared.

    >>> kind_of("ear", "effusion"), kind_of("course", "fluid_known"), kind_of("ear", "colour")
    ('scale', 'range', None)
    """
    if namespace in ("ear", "other"):
        if name in ORDERS or name in MEASURED:
            return "scale"
        if name in NAMES:
            return "names"
        return "flag" if name in FLAGS or name in DERIVED_FLAGS or name in TRACE_FLAGS else None
    if (namespace, name) in (("person", "risk"), ("report", "said")):
        return "flag"
    return "range" if context_word(namespace, name) else None
