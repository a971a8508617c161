"""What a visit really looked at, and what it documented as clear: two tables.

A due is answered only when everything in its `needs` was looked at in that ear. What is
not recorded was not looked at.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from recall.care.case import Track
from recall.care.course import drum_in_view, hearing_was_tested
from recall.care.ear import Ear
from recall.care.hearing import four_frequency_average

Look = Callable[[Ear], bool]
NORMAL_BELOW_DB = 20
"""Four-frequency mean below which hearing is normal: WHO, World report on hearing 2021."""


def _of_drum(*fields: str) -> Look:
    """Return a look that needs one of the fields, and the drum in view."""

    def look(ear: Ear) -> bool:
        return drum_in_view(ear) and any(getattr(ear, f) is not None for f in fields)

    return look


def _any(*fields: str) -> Look:
    def look(ear: Ear) -> bool:
        return any(getattr(ear, f) is not None for f in fields)

    return look


def _wax(ear: Ear) -> bool:
    """Wax that blocks cannot be there where the whole drum was seen."""
    return _any("wax_found", "wax_left", "clearance")(ear) or ear.drum_seen == "full"


def _attic(ear: Ear) -> bool:
    """An open cavity has no attic left to look into: to have seen the one is the other."""
    seen = ear.attic_seen is True or ear.attic_grade is not None or ear.cavity is True
    return drum_in_view(ear) and seen


def _drum(ear: Ear) -> bool:
    return ear.examined is not False and ear.drum_seen in ("full", "part")


def _trace(ear: Ear) -> bool:
    return ear.tympanogram is not None


LOOKS: Mapping[str, Look] = {
    "wax": _wax,
    "fluid": _of_drum("effusion"),
    "tensa": _of_drum("tensa_grade"),
    "attic": _attic,
    "hole": _of_drum("perforation"),
    "canal": _any("canal_skin"),
    "grommet": _any("grommet"),
    "cavity": _any("cavity", "cavity_quiet"),
    "hearing": hearing_was_tested,
    "trace": _trace,
    "drum": _drum,
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
    "tensa": "the pars tensa was not graded",
    "attic": "the attic was not seen or graded",
    "hole": "the perforation was not recorded with the drum in view",
    "canal": "the canal skin was not recorded",
    "grommet": "the grommet was not recorded",
    "cavity": "the cavity was not recorded",
    "hearing": "hearing was not tested",
    "trace": "no tympanogram was recorded",
    "drum": "the drum was not seen",
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


_CLEAR: Mapping[str, Look] = {
    "wax": _wax_clear,
    "fluid": lambda e: e.effusion == "absent",
    "tensa": lambda e: e.tensa_grade == 0,
    "attic": lambda e: e.attic_grade == 0,
    "hole": lambda e: e.perforation in ("none", "healed"),
    "canal": lambda e: e.canal_skin == "normal",
    "grommet": lambda e: e.grommet == "none",
    "hearing": _hearing_clear,
    "cavity": lambda e: e.cavity is False,
}
"""What counts as documented clear, by what was looked at; anything else never does."""


def documented_clear(track: Track, needs: tuple[str, ...], ear: Ear) -> bool:
    """Return whether a visit documented as clear all that a due is about.

    A view is clear once the drum is seen; the drum at large and surveillance never are,
    since nothing short of their own day answers them.
    """
    if track == "view":
        return _drum(ear)
    return all(n in _CLEAR and _CLEAR[n](ear) for n in needs)
