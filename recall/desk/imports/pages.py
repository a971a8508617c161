"""One page of a file goes into the register: for good, or in a rehearsal that is rolled back."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy.orm import Session

from recall.desk.core.replanning import Replanned, mark
from recall.desk.core.session import Desk
from recall.desk.imports.asks import open_asks, plan, planned, tell_changes
from recall.desk.imports.file_digests import Batch, Fresh, Loss
from recall.desk.imports.lost_letters import lost_letters
from recall.desk.imports.milder_by_file import keep_milder_of_file
from recall.desk.imports.reading import Found
from recall.desk.imports.taking_away import columns_before
from recall.exchange.problem import Problem, Wrong
from recall.records.journal import history
from recall.records.journal.history import Change

NOBODY = Replanned(0, 0, 0)


@dataclass(frozen=True)
class Page:
    """Rows that land together, and what was seen to go with them."""

    rows: Sequence[Fresh[Any]]
    touches: bool
    """Whether they could change anything that is known."""
    losses: tuple[Loss, ...] = ()

    def split(self, most: int) -> tuple[Page, Page | None]:
        """Return what lands at once, of whole people, and the rest; only what is new is split."""
        cut = most
        while 0 < cut < len(self.rows) and _whose(self.rows[cut]) == _whose(self.rows[cut - 1]):
            cut += 1
        if self.touches or self.losses or cut >= len(self.rows):
            return self, None
        return Page(self.rows[:cut], touches=False), Page(self.rows[cut:], touches=False)


def _whose(fresh: Fresh[Any]) -> str:
    whose: str = getattr(fresh.row, "person", fresh.key)
    return whose


@dataclass
class Taken:
    """What a page made of the register."""

    refused: list[tuple[Fresh[Any], Wrong]] = field(default_factory=list)
    added: int = 0
    changed: int = 0
    unchanged: int = 0
    answered: int = 0
    losses: list[Loss] = field(default_factory=list)
    kept: list[Problem] = field(default_factory=list)
    named: set[int] = field(default_factory=set)
    to_plan: set[int] = field(default_factory=set)
    told: list[str] = field(default_factory=list)
    planned: Replanned = NOBODY
    """What planning came to of those whom it touches."""


def take_page(
    desk: Desk,
    session: Session,
    found: Found[Any],
    run: int,
    page: Page,
    *,
    waits: bool = False,
) -> Taken:
    """Write a page; where it touches what is known, plan its people before and after.

    `waits` where whoever is new is to be planned only when the whole run is done.
    """
    importer = found.importer
    batch = _batch(desk, session, found, run)
    about = importer.about(session, page.rows) if page.touches else set()
    before = planned(desk, session, about) if about else None
    if importer.kind == "people":
        batch.lost += found.near.losses(page.rows)
        batch.lost += lost_letters(page.rows, found.near.known)
    refused = [*importer.write(session, batch, page.rows)]
    if batch.said_before:
        batch.history.append(Change("replaced", "import_run", run, was=batch.said_before))
    history.append_all(session, desk.by.id, desk.now, batch.history)
    if not waits:
        mark(session, batch.to_plan)
    came = NOBODY
    if before is not None:
        came = plan(desk, session, sorted(batch.to_plan))
        after = open_asks(session, about)
        tell_changes(session, batch, before, after)
        keep_milder_of_file(desk, session, run, batch.rewritten, (before, after))
    counted = batch.added, batch.changed, batch.unchanged, batch.answered
    about_whom = batch.named, batch.to_plan
    return Taken(refused, *counted, batch.lost, batch.kept, *about_whom, batch.told, came)


def _batch(desk: Desk, session: Session, found: Found[Any], run: int) -> Batch:
    """Return what a run gathers, with the columns of its file and of the ones before it."""
    reading = found.reading
    batch = Batch(desk, run)
    batch.columns = frozenset(place.column.name for place in reading.places)
    every = (c.name for c in reading.kind.columns)
    batch.ever = columns_before(session, found.importer.kind, every, but=run)
    return batch
