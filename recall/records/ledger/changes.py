"""Changes to one person's rows that were worked out and not yet written."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import msgspec

Values = dict[str, Any]


@dataclass(eq=False)
class Row:
    """A row's number, filled in once a new row is written."""

    id: int | None = None


class Noted(msgspec.Struct, frozen=True):
    """A change for the history, about a row that may not have its number yet."""

    what: str
    entity: str
    row: Row
    was: Any = None
    now: Any = None


@dataclass(frozen=True)
class Changes:
    """What to write for one person, in the order of the fields."""

    person_id: int
    new_dues: list[tuple[Row, Values]] = field(default_factory=list)
    due_states: list[tuple[int, bool]] = field(default_factory=list)
    """Dues whose `is_open` turns."""
    due_events: list[tuple[Row, Values]] = field(default_factory=list)
    new_follow_ups: list[tuple[Row, Values]] = field(default_factory=list)
    follow_ups: list[tuple[int, Values]] = field(default_factory=list)
    left: list[int] = field(default_factory=list)
    """Dues that leave the follow-up that holds them."""
    links: list[tuple[Row, Row]] = field(default_factory=list)
    """Follow-up and due."""
    new_referrals: list[tuple[Row, Values]] = field(default_factory=list)
    referrals: list[tuple[int, Values]] = field(default_factory=list)
    unclosed: list[int] = field(default_factory=list)
    """Referrals that are asked for again: that they were closed, or not asked for, is voided."""
    referral_events: list[tuple[Row, Values]] = field(default_factory=list)
    history: list[Noted] = field(default_factory=list)

    def note(self, what: str, entity: str, row: Row, **more: Any) -> None:
        """Add a line for the history."""
        self.history.append(Noted(what, entity, row, **more))
