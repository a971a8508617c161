"""What a look found: the recorded findings that a healthy ear does not show.

For learning from a register and for the sheet to take home, never for a plan: rules alone say what
is done about a finding.
"""

from __future__ import annotations

from typing import Any, NamedTuple

from recall.care.case import Track
from recall.care.catalogue import CATALOGUE
from recall.care.course import LOSS_FROM_DB
from recall.care.ear import Ear
from recall.care.findings.entry import Finding
from recall.care.hearing import four_frequency_average
from recall.schedule.answering import NEEDS

_ELSEWHERE = frozenset({"wax", "canal", "hearing", "trace"})
"""Looks that are not a look at the drum."""
_TRACK_OF: dict[str, Track] = {needs[0]: track for track, needs in NEEDS.items()} | {
    "attic": "retraction",
    "trace": "fluid",
    "drum": "drum",
}
"""Which track a finding of a look belongs to."""


class Found(NamedTuple):
    """One finding that was recorded, and how bad it is beside its own milder values."""

    name: str
    value: Any
    rank: int
    """Its place on its scale; 1 where it has none."""
    look: str
    track: Track

    @property
    def words(self) -> str:
        """Return it as it is said: `effusion present`, `scutum erosion`, `loss of 35 dB`."""
        if self.name == "hearing_dB":
            return f"loss of {self.value:g} dB"
        name = self.name.replace("_", " ")
        return name if self.value is True else f"{name} {str(self.value).replace('_', ' ')}"


def findings_of(ear: Ear) -> tuple[Found, ...]:
    """Return everything recorded of an ear that a healthy one does not show.

    >>> [f.words for f in findings_of(Ear(effusion="present", tensa_grade=0, red=True))]
    ['effusion present', 'red']
    """
    found = [_found(name, entry, getattr(ear, name)) for name, entry in CATALOGUE.items()]
    return (*filter(None, found), *_loss(ear))


def _found(name: str, entry: Finding, value: Any) -> Found | None:
    if value is None or not entry.kind or not entry.values or entry.circumstance:
        return None
    if entry.is_normal(value) or (entry.look and value in entry.shows_clear):
        return None
    look = entry.look or "drum"
    rank = entry.values.index(value) if entry.kind == "scale" else 1
    return Found(name, value, rank, look, _TRACK_OF[look])


def _loss(ear: Ear) -> tuple[Found, ...]:
    average = four_frequency_average(ear.hearing_dB) if ear.hearing_dB else None
    if average is None or average < LOSS_FROM_DB:
        return ()
    return (Found("hearing_dB", average, 1, "hearing", "hearing"),)


def found_by(needs: tuple[str, ...], ear: Ear) -> tuple[Found, ...]:
    """Return what an ear shows of all that a due asked to look at.

    Whoever asked for the drum asked for everything on it and behind it.

    >>> [f.words for f in found_by(("fluid",), Ear(effusion="present", wax_found="occluding"))]
    ['effusion present']
    """
    wanted = set(needs)
    whole = "drum" in wanted
    return tuple(
        f for f in findings_of(ear) if f.look in wanted or (whole and f.look not in _ELSEWHERE)
    )
