"""An ear that runs: whether its canal explains it."""

from __future__ import annotations

from operator import attrgetter

from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear
from recall.care.one_look import drum_in_full_view

_BESIDE = frozenset({"discharge", "canal_skin", "canal_narrow", "exostoses"})
"""Findings that may stand beside it, and any of wax. Any other is another reason to run, or to look
again; what a trace says of a hole is kept by the course of the ear."""
_ELSE = {
    name: frozenset(finding.worse) or frozenset({True})
    for name, finding in CATALOGUE.items()
    if name not in _BESIDE and finding.look not in ("wax", "trace")
    if not finding.circumstance and finding.kind
}
_found = attrgetter(*_ELSE)


def runs_from_the_canal(ear: Ear) -> bool:
    """Return whether an infected canal that is treated explains what runs from an ear.

    Only where the whole drum was seen and nothing else is recorded of it or of the canal, and
    never of blood: a hole, a grommet or an infection of the middle ear is another reason to run.
    """
    return (
        ear.discharge in ("clear", "purulent")
        and ear.canal_skin in ("inflamed", "fungal")
        and ear.treated is True
        and drum_in_full_view(ear)
        and not any(v in worse for v, worse in zip(_found(ear), _ELSE.values(), strict=True))
    )
