"""One number of the month's report."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Line:
    """One number of the report."""

    part: str
    what: str
    by: str
    count: int
    of: int | None = None
    """Out of how many, where it is a share."""
    people: int | None = None
    """How many people it is about, where asks are counted."""
