"""The words that a rule's conditions may use, each with its kind; those of an ear are its findings.

scale   ordered values or numbers; a rule can only ask for a value "or worse"
flag    recorded true; a rule can only ask for `true`, or for any of several flags
names   context: any of the named values, never the normal one
range   context: ages, clocks, counts

Nothing can be conditioned on "normal" or "not recorded": a rule for the worse finding
simply wins. That is what makes a plan safe to read: recording a worse value can only
bring a date forward.
"""

from __future__ import annotations

from typing import Literal, get_args

from recall.care.case import ReportWord, RiskWord
from recall.care.catalogue import CATALOGUE
from recall.protocol.context import context_word

Kind = Literal["scale", "flag", "names", "range"]

ORDERS: dict[str, tuple[str, ...]] = {
    name: finding.steps or tuple(str(value) for value in finding.values)
    for name, finding in CATALOGUE.items()
    if finding.kind == "scale"
}
"""Scales with named values, mildest first."""

MEASURED = (
    "hearing_loss", "better_ear_loss", "high_tone_loss", "worst_tone", "asymmetry", "air_bone_gap",
)  # fmt: skip
"""Scales in dB, worked out by the classifiers of `care.hearing`."""

NAMES: dict[str, tuple[str, ...]] = {
    name: finding.worse for name, finding in CATALOGUE.items() if finding.kind == "names"
}
"""Context words of an ear. The normal value of each is left out on purpose."""

FLAGS: tuple[str, ...] = tuple(n for n, finding in CATALOGUE.items() if finding.kind == "flag")
"""Flags that are fields of an ear."""


def _signs() -> dict[str, tuple[tuple[str, object], ...]]:
    found: dict[str, list[tuple[str, object]]] = {}
    for name, finding in CATALOGUE.items():
        for sign, values in finding.signs.items():
            found.setdefault(sign, []).extend((name, value) for value in values)
    return {sign: tuple(several) for sign, several in found.items()}


SIGNS: dict[str, tuple[tuple[str, object], ...]] = _signs()
"""Flags that any of some recorded findings makes: each is listed with its value."""

SIGNS_ALONE: tuple[str, ...] = tuple(
    sign
    for sign, ((name, value), *more) in SIGNS.items()
    if not more and not CATALOGUE[name].kind and value in CATALOGUE[name].worse
)
"""Signs by which alone a rule can ask for a value that is not the normal one."""

TRACE_FLAGS: dict[str, str] = {
    "trace_of_a_hole": "flat_hole",
    "trace_of_a_blocked_probe": "flat_blocked",
    "trace_of_fluid": "flat_fluid",
}
"""Flags read off a flat trace with its volume, by the pattern of `care.tympanogram`."""

TESTED_FLAGS: dict[str, str] = {
    "hears_well": "hearing after recorded as better, or tested well, and nothing against it",
    "tested_well": "a screen passed, or a mean under 25 dB without a difference of 15 dB",
}
"""Flags that `schedule.explained` reads off one ear's hearing at a visit, and what they say."""

FOUND_FLAGS: dict[str, str] = {
    "runs_from_canal": "clear or purulent discharge, an inflamed or fungal canal that is treated, "
    "and the whole drum seen with nothing found on it or behind it",
    "wax_lies_in": "wax left in part or blocking; or found so, or tried, and not recorded as out",
}
"""Flags that are read off several findings of one ear at once, and what they say."""

REPORTS: tuple[str, ...] = get_args(ReportWord)
RISKS: tuple[str, ...] = get_args(RiskWord)
RISKS_OF_BOTH_EARS: frozenset[str] = frozenset({"previous_cholesteatoma"})
"""Risks that hold for the other ear too: it is abnormal in nearly half of these children."""
SPOKEN = (("person", "risk"), ("report", "said"), ("report", "also"), ("report", "lately"))
"""Flag lines with a list: any of the words named. `also` is a second line beside `said`; `lately`
is what was told without a day, or as begun in the past four weeks."""


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
        flags = (FLAGS, SIGNS, TRACE_FLAGS, TESTED_FLAGS, FOUND_FLAGS)
        return "flag" if any(name in known for known in flags) else None
    if (namespace, name) in SPOKEN:
        return "flag"
    return "range" if context_word(namespace, name) else None
