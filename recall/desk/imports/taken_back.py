"""What taking a run back comes to."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field

from recall.records.journal.history import Change


@dataclass
class TakenBack:
    """What taking a run back comes to."""

    run: int
    file_name: str
    voided: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    restored: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    stays: list[str] = field(default_factory=list)
    """What stays, since somebody has touched it."""
    refs: set[str] = field(default_factory=set)
    """The keys of what stays."""
    touched: set[int] = field(default_factory=set)
    """People whose plan is to be worked out again."""
    changes: list[Change] = field(default_factory=list)

    def note(self, what: str, entity: str, number: int, person: int | None) -> None:
        """Add a line for the history."""
        now = {"taken_back": self.run}
        self.changes.append(Change(what, entity, number, now=now, person_id=person))
