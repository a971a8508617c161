"""What a visit really looked at, and what it documented as clear: two tables.

A due is answered only when everything in its `needs` was looked at in that ear. What is
not recorded was not looked at; and a fact that is known from an ear's history answers
nothing, for it can be written down without a look.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from recall.care.case import Track
from recall.care.course import drum_in_full_view, drum_in_view, hearing_was_tested
from recall.care.ear import Ear
from recall.care.hearing import four_frequency_average

Look = Callable[[Ear], bool]
NORMAL_BELOW_DB = 20
"""Four-frequency mean below which hearing is normal: WHO, World report on hearing 2021."""


def _in_view(ear: Ear) -> bool:
    """Return whether the drum is recorded as seen, in full or in part."""
    return ear.examined is not False and ear.drum_seen in ("full", "part")


def _any(*fields: str) -> Look:
    def look(ear: Ear) -> bool:
        return any(getattr(ear, f) is not None for f in fields)

    return look


def _of_drum(field: str) -> Look:
    """Return a look that needs a field, and the drum recorded as seen."""

    def look(ear: Ear) -> bool:
        return _in_view(ear) and getattr(ear, field) is not None

    return look


def _cavity(ear: Ear) -> bool:
    """That an ear has a cavity is known from its history; how quiet it is takes a look.

    So does that there is none.
    """
    return ear.cavity_quiet is not None or (_in_view(ear) and ear.cavity is False)


def _attic(ear: Ear) -> bool:
    """An open cavity has no attic left: to have looked into the one is to have seen the other."""
    graded = _in_view(ear) and ear.attic_grade is not None
    return graded or _attic_in_view(ear)


def _attic_in_view(ear: Ear) -> bool:
    seen = ear.attic_seen is True or ear.cavity_quiet is not None
    return seen and drum_in_view(ear)


def _trace(ear: Ear) -> bool:
    return ear.tympanogram is not None


LOOKS: Mapping[str, Look] = {
    "wax": _any("wax_found", "wax_left", "clearance"),
    "fluid": _of_drum("effusion"),
    "tensa": _of_drum("tensa_grade"),
    "attic": _attic,
    "hole": _of_drum("perforation"),
    "canal": _any("canal_skin"),
    "grommet": _of_drum("grommet"),
    "cavity": _cavity,
    "hearing": hearing_was_tested,
    "trace": _trace,
    "drum": _in_view,
}
"""What counts as having looked, by name."""

NEEDS: Mapping[Track, tuple[str, ...]] = {
    "wax": ("wax",),
    "fluid": ("fluid",),
    "retraction": ("tensa",),
    "perforation": ("hole",),
    "canal_skin": ("canal",),
    "grommet": ("grommet",),
    "cavity": ("cavity",),
    "hearing": ("hearing",),
    "drum": ("drum",),
    "view": ("drum",),
    "surveillance": ("drum",),
}
"""What must be looked at to answer a due, where its rule says nothing else."""

WORDS: Mapping[str, str] = {
    "wax": "the wax was not recorded",
    "fluid": "fluid was not recorded with the drum in view",
    "tensa": "the pars tensa was not graded with the drum in view",
    "attic": "the attic was not seen or graded",
    "hole": "the perforation was not recorded with the drum in view",
    "canal": "the canal skin was not recorded",
    "grommet": "the grommet was not recorded with the drum in view",
    "cavity": "the cavity was not looked into",
    "hearing": "hearing was not tested",
    "trace": "no tympanogram was recorded",
    "drum": "the drum is not recorded as seen",
}
"""Why a due was not answered, in words."""


def missing(needs: tuple[str, ...], ear: Ear | None) -> tuple[str, ...]:
    """Return what a visit did not look at of what a due needs."""
    if ear is None:
        return needs
    return tuple(n for n in needs if not LOOKS[n](ear))


def _wax_clear(ear: Ear) -> bool:
    left = ear.wax_left or ear.wax_found
    return left in ("none", "some")


def _hearing_clear(ear: Ear) -> bool:
    if ear.hearing_dB is None:
        return ear.hearing_screen == "passed"
    average = four_frequency_average(ear.hearing_dB)
    return average is not None and average < NORMAL_BELOW_DB


def _clear_of(field: str, *values: object) -> Look:
    """Return whether a field is clear, on a drum recorded as seen in full."""

    def clear(ear: Ear) -> bool:
        return drum_in_full_view(ear) and getattr(ear, field) in values

    return clear


_CLEAR: Mapping[str, Look] = {
    "wax": _wax_clear,
    "fluid": _clear_of("effusion", "absent"),
    "tensa": _clear_of("tensa_grade", 0),
    "attic": lambda e: e.attic_seen is True and e.attic_grade == 0,
    "hole": _clear_of("perforation", "none", "healed"),
    "canal": lambda e: e.canal_skin == "normal",
    "grommet": _clear_of("grommet", "none"),
    "hearing": _hearing_clear,
    "cavity": _clear_of("cavity", False),
}
"""What counts as documented clear, by what was looked at; anything else never does."""

_WHOLE: Mapping[str, Look] = {
    "fluid": drum_in_full_view,
    "tensa": drum_in_full_view,
    "hole": drum_in_full_view,
    "grommet": drum_in_full_view,
    "drum": drum_in_full_view,
    "attic": _attic_in_view,
}
"""What was wholly in view, by what was looked at. A look that is not here is always whole."""
OF_THE_DRUM = frozenset(_WHOLE)
"""The looks that are about the drum, and need it recorded as seen."""
_ALWAYS_WHOLE: frozenset[Track] = frozenset({"view", "canal_skin"})
"""A view asks for no more than to see something; a canal can be looked into beside it."""


def documented_clear(track: Track, needs: tuple[str, ...], ear: Ear) -> bool:
    """Return whether a visit documented as clear all that a due is about.

    A view is clear once the whole drum is seen; the drum at large and surveillance never are,
    since nothing short of their own day answers them.
    """
    if track == "view":
        return drum_in_full_view(ear)
    return all(n in _CLEAR and _CLEAR[n](ear) for n in needs)


def in_part(track: Track, needs: tuple[str, ...], ear: Ear) -> bool:
    """Return whether a visit looked at only a part of what a due is about.

    Such a look answers the due and shows nothing to be clear, whatever was recorded of it: so
    a worse finding never leaves less to do than a better one. An attic that was seen and not
    graded is no more than that to a retraction.
    """
    if track in _ALWAYS_WHOLE:
        return False
    if track == "retraction" and "attic" in needs and ear.attic_grade is None:
        return ear.cavity_quiet is None
    return any(n in _WHOLE and not _WHOLE[n](ear) for n in needs)
