"""What a window may be counted from."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from recall.protocol.context import Circumstance
from recall.protocol.onset import Onset


def _sudden_loss_began(c: Circumstance) -> date:
    return c.reports.get("sudden_hearing_loss", Onset()).since or c.on


ANCHORS: dict[str, Callable[[Circumstance], date | None]] = {
    "visit": lambda c: c.on,
    "fluid_first_documented": lambda c: c.course.fluid_since or c.on,
    "last_hearing_test": lambda c: c.course.hearing_on,
    "grommet_inserted": lambda c: c.course.grommet_on,
    "hearing_aid_fitted": lambda c: c.course.aid_fitted_on,
    "loss_treated": lambda c: c.loss_treated_on,
    "hole_first_documented": lambda c: c.course.perforation_since or c.on,
    "sudden_loss_began": _sudden_loss_began,
}
"""What a window may be counted from."""
LAST_DAY_STANDS = frozenset({"sudden_loss_began"})
"""Anchors from which a source counts its last day: it is never moved to be counted from the visit,
before it has gone; then it is, and so it is where the day is not known."""
