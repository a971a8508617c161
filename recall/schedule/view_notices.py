"""What a plan says of how the drum was seen: where a visit answered nothing, or not all."""

from __future__ import annotations

from collections.abc import Iterable
from operator import attrgetter

from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear, Side
from recall.schedule.answering import OF_THE_DRUM
from recall.schedule.plan import Due

_OF_THEMSELVES = ("attic_seen", "attic_grade", "grommet")
_FOUND: tuple[str, ...] = tuple(
    name for name, finding in CATALOGUE.items() if finding.of_drum and name not in _OF_THEMSELVES
)
"""Findings on the drum or behind it. The attic says for itself whether it was seen, and a
grommet whether it is in the drum."""
_found = attrgetter(*_FOUND)
_NOTHING = (None,) * len(_FOUND)


def view_not_recorded(side: Side, ear: Ear | None, open_dues: Iterable[Due]) -> str | None:
    """Return the notice for an ear of which nobody recorded whether the drum was seen."""
    if ear is None or ear.examined is False or ear.drum_seen is not None:
        return None
    wanted = (d.ear == side and not OF_THE_DRUM.isdisjoint(d.needs) for d in open_dues)
    if _found(ear) == _NOTHING and not any(wanted):
        return None
    return (
        f"Nobody recorded whether the {side} drum was seen, "
        "so nothing due about it is answered by this visit."
    )


def seen_in_part(due: Due) -> str:
    """Return the notice for a look that this visit did in part."""
    what = due.track.replace("_", " ")
    return (
        f"The {due.ear} ear was not seen well enough to call it clear ({what}): "
        "the same look is asked for again."
    )
