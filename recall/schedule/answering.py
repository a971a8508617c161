"""What a visit really looked at, and what it documented as clear: two tables.

Which findings are part of a look, and which values show it clear, stands in their entries.

A due is answered only when everything in its `needs` was looked at in that ear. What is
not recorded was not looked at; and a fact that is known from an ear's history answers
nothing, for it can be written down without a look.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from operator import attrgetter

from recall.care.case import Track
from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear
from recall.care.hearing import four_frequency_average
from recall.care.one_look import (
    clears_an_object,
    drum_in_full_view,
    drum_in_view,
    hearing_was_tested,
)

Look = Callable[[Ear], bool]
NORMAL_BELOW_DB = 20
"""Four-frequency mean below which hearing is normal: WHO, World report on hearing 2021."""


def _in_view(ear: Ear) -> bool:
    """Return whether the drum is recorded as seen, in full or in part."""
    return ear.examined is not False and ear.drum_seen in ("full", "part")


def _fields(look: str) -> tuple[str, ...]:
    """Return the findings that are part of a look; the first is what it is about."""
    return tuple(name for name, finding in CATALOGUE.items() if finding.look == look)


def _recorded(look: str) -> Look:
    """Return a look for which any of its findings was recorded."""
    first, *others = _fields(look)
    about = attrgetter(first)
    if not others:
        return lambda ear: about(ear) is not None
    found, nothing = attrgetter(first, *others), (None,) * (1 + len(others))
    return lambda ear: found(ear) != nothing


def _of_drum(look: str) -> Look:
    """Return the same, with the drum recorded as seen."""
    recorded = _recorded(look)

    def looked(ear: Ear) -> bool:
        return _in_view(ear) and recorded(ear)

    return looked


_wax_recorded = _recorded("wax")


def _wax(ear: Ear) -> bool:
    """That an object was cleared is no look at the wax."""
    if clears_an_object(ear):
        return ear.wax_found is not None
    return _wax_recorded(ear)


def _cavity(ear: Ear) -> bool:
    """That an ear has a cavity is known from its history; how quiet it is takes a look.

    So does that there is none.
    """
    return ear.cavity_quiet is not None or (_in_view(ear) and ear.cavity is False)


_attic_graded = _of_drum("attic")


def _attic(ear: Ear) -> bool:
    """An open cavity has no attic left: to have looked into the one is to have seen the other."""
    return _attic_graded(ear) or _attic_in_view(ear)


def _attic_in_view(ear: Ear) -> bool:
    seen = ear.attic_seen is True or ear.cavity_quiet is not None
    return seen and drum_in_view(ear)


LOOKS: Mapping[str, Look] = {
    "wax": _wax,
    "fluid": _of_drum("fluid"),
    "tensa": _of_drum("tensa"),
    "attic": _attic,
    "hole": _of_drum("hole"),
    "canal": _recorded("canal"),
    "grommet": _of_drum("grommet"),
    "cavity": _cavity,
    "hearing": hearing_was_tested,
    "trace": _recorded("trace"),
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
    if len(needs) == 1:
        return () if LOOKS[needs[0]](ear) else needs
    return tuple([n for n in needs if not LOOKS[n](ear)])


def _wax_clear(ear: Ear) -> bool:
    left = ear.wax_left or ear.wax_found
    return left in CATALOGUE["wax_left"].shows_clear


def _hearing_clear(ear: Ear) -> bool:
    if ear.hearing_dB is None:
        return ear.hearing_screen == "passed"
    average = four_frequency_average(ear.hearing_dB)
    return average is not None and average < NORMAL_BELOW_DB


def _shown_clear(look: str) -> Look:
    """Return whether what a look is about was recorded as clear, and nothing beside it otherwise.

    A worse finding then never resolves more than a better one.
    """
    first, *others = ((name, CATALOGUE[name].shows_clear) for name in _fields(look))

    def clear(ear: Ear) -> bool:
        if getattr(ear, first[0]) not in first[1]:
            return False
        return not others or all(getattr(ear, name) in (None, *values) for name, values in others)

    return clear


def _clear_drum(look: str) -> Look:
    """Return the same, on a drum recorded as seen in full."""
    shown = _shown_clear(look)

    def clear(ear: Ear) -> bool:
        return drum_in_full_view(ear) and shown(ear)

    return clear


_attic_shown_clear = _shown_clear("attic")


def _attic_clear(ear: Ear) -> bool:
    return ear.attic_seen is True and _attic_shown_clear(ear)


_CLEAR: Mapping[str, Look] = {
    "wax": _wax_clear,
    "fluid": _clear_drum("fluid"),
    "tensa": _clear_drum("tensa"),
    "attic": _attic_clear,
    "hole": _clear_drum("hole"),
    "canal": _shown_clear("canal"),
    "grommet": _clear_drum("grommet"),
    "hearing": _hearing_clear,
    "cavity": _clear_drum("cavity"),
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
