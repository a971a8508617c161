"""What was proposed lands: at once, or for a long file page by page, each a short write.

Each page works out again, in its own transaction, what it takes away. Where that is not what was
shown, the page stays out; a run that stops half way is marked, and the same file goes on with it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sqlalchemy import update
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.portions import Portion
from recall.desk.core.replanning import Replanned
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.imports.pages import NOBODY, Page, Taken, take_page
from recall.desk.imports.proposing import NEW_AT_ONCE, Proposal
from recall.desk.imports.reading import Progress
from recall.desk.imports.runs import (
    UNFINISHED,
    WITH_PLANS,
    brought,
    digest_of,
    finish,
    new_run,
    unfinished,
)
from recall.desk.imports.taking_away import refuse_unless
from recall.desk.people.duplicates import PossibleDuplicate, possible_duplicates
from recall.errors import Conflict, InputError
from recall.exchange.problem import Problem
from recall.exchange.rejects import Rejects
from recall.records import tables
from recall.records.tables.statements import table_of

NO_ROOM = "Nothing has landed: the rows sent back could not be written"


@dataclass(frozen=True)
class ImportSummary:
    """What became of a file."""

    kind: str
    run: int | None = None
    """The number by which all of it can be taken back; none where nothing landed."""
    added: int = 0
    changed: int = 0
    unchanged: int = 0
    rejected: int = 0
    rejects_path: Path | None = None
    kept_aside: tuple[Problem, ...] = ()
    """Values that could not be used, of rows that landed all the same."""
    possible_duplicates: tuple[PossibleDuplicate, ...] = ()
    told: tuple[str, ...] = ()
    """What was recognised: known already, moved, or gone at the source."""
    ignored: tuple[str, ...] = ()
    """Headings that nothing is read from."""
    planned: Replanned = NOBODY
    """What planning came to of those whom it touched: they are planned as it lands."""


@dataclass
class _Landing:
    """A run on its way in."""

    desk: Desk
    proposal: Proposal[Any]
    rejects_path: Path | None
    run: int | None = None
    written: Path | None = None
    """Where the rows that go back are."""
    sums: Taken = field(default_factory=Taken)
    goes_on: bool = False
    """Whether it goes on with one that was stopped."""

    def counts(self, **more: Any) -> dict[str, Any]:
        """Return what is written down of the run."""
        found = self.proposal.found
        columns = sorted(place.column.name for place in found.reading.places)
        return {
            "added": self.sums.added,
            "changed": self.sums.changed,
            "rejected": len(found.refused),
            "unchanged": self.proposal.found.unchanged + self.sums.unchanged,
            "taken_away": len(self.sums.losses),
            "columns": columns,
            **more,
        }


@needs(Right.TAKE_IN_FILES)
def land(
    desk: Desk,
    proposal: Proposal[Any],
    takes_away: int | None = None,
    progress: Progress | None = None,
    *,
    rejects_path: Path | None = None,
) -> ImportSummary:
    """Let a proposed file land; what it takes away needs the number that was shown.

    Raises:
        Refused: it would take away something that was not said; nothing has landed.
        Conflict: it would take away something else by now.
        InputError: the rows that go back could not be written; nothing has landed.
        StorageError: the register cannot be written.
    """
    refuse_unless(proposal.losses, takes_away)
    landing = _Landing(desk, proposal, rejects_path)
    if len(proposal.pages) > 1:
        _page_by_page(landing, progress)
    elif proposal.pages or proposal.found.refused:
        with desk.store.write() as session:
            _begin(landing, session)
            for page in proposal.pages:
                _take(landing, session, page)
            _finish(landing, session, _brought(landing, session))
            _send_back(landing)
    return _summary(landing)


def _page_by_page(landing: _Landing, progress: Progress | None) -> None:
    desk, pages = landing.desk, landing.proposal.pages
    with desk.store.write() as session:
        _begin(landing, session, goes_on=True)
    try:
        _send_back(landing)
    except InputError:
        with desk.store.write() as session:
            _void(landing, session)
        raise
    done, total = 0, sum(len(page.rows) for page in pages)
    portion = Portion(NEW_AT_ONCE)
    for whole in pages:
        rest: Page | None = whole
        while rest:
            with portion.one() as most:
                page, rest = rest.split(most)
                with desk.store.write() as session:
                    _take(landing, session, page, waits=True)
            desk.store.let_others_in()
            done += len(page.rows)
            if progress:
                progress(done, total)
    with desk.store.read() as session:
        people = _brought(landing, session)
    with desk.store.write() as session:
        _finish(landing, session, people)


def _begin(landing: _Landing, session: Session, *, goes_on: bool = False) -> None:
    """Write the run down, or go on with the one of the same file that was stopped."""
    desk, path, kind = landing.desk, landing.proposal.path, landing.proposal.kind
    if goes_on and (before := unfinished(session, kind)):
        digest = digest_of(path)
        stopped = [n for n, was in before.items() if was == digest]
        landing.run = stopped[0] if stopped else None
        landing.goes_on = landing.run is not None
    if landing.run is None:
        landing.run = new_run(desk, session, path, kind, landing.counts(**{UNFINISHED: True}))


def _take(landing: _Landing, session: Session, page: Page, *, waits: bool = False) -> None:
    """Let a page land, if it takes away what was shown and nothing else."""
    found, run = landing.proposal.found, landing.run
    assert run is not None, "a run is begun before its pages"
    taken = take_page(landing.desk, session, found, run, page, waits=waits)
    if Counter(taken.losses) != Counter(page.losses) or taken.refused:
        raise Conflict(
            f"Somebody changed the register since this file was looked at: "
            f"{landing.sums.added + landing.sums.changed:,} rows have landed, and no more.",
            hint="Take the file in again, and look at what it would take away by now.",
        )
    sums = landing.sums
    sums.added += taken.added
    sums.changed += taken.changed
    sums.unchanged += taken.unchanged
    sums.losses += taken.losses
    sums.kept += taken.kept
    sums.told += taken.told
    sums.named |= taken.named
    sums.to_plan |= taken.to_plan
    sums.planned = taken.planned.with_those_of(sums.planned)


def _brought(landing: _Landing, session: Session) -> Collection[int]:
    """Return whose plan depends on it: asked of the register where any run was stopped."""
    run, kind = landing.run, landing.proposal.kind
    assert run is not None, "a run is begun before it is finished"
    if landing.goes_on or unfinished(session, kind).keys() - {run}:
        return brought(session, kind, run)
    return sorted(landing.sums.to_plan) if kind in WITH_PLANS else ()


def _finish(landing: _Landing, session: Session, people: Collection[int]) -> None:
    assert landing.run is not None, "a run is begun before it is finished"
    finish(session, landing.proposal.kind, landing.run, landing.counts(), people)


def _void(landing: _Landing, session: Session) -> None:
    table, desk = table_of(tables.ImportRun), landing.desk
    void = {"void_at": desk.now, "void_by_id": desk.by.id, "void_why": "Nothing of it landed."}
    session.execute(update(table).where(table.c.id == landing.run).values(**void))


def _send_back(landing: _Landing) -> None:
    """Write the rows that go back, before anything is kept of those that land.

    Raises:
        InputError: there is no room, or something stands there.
    """
    found = landing.proposal.found
    if not found.refused:
        return
    path = landing.rejects_path or rejects_beside(found.path, landing.run or 0)
    reading = found.reading
    named = landing.rejects_path is None
    try:
        with Rejects(path, reading.headings, reading.table.delimiter, named_here=named) as rejects:
            for read in sorted(found.refused, key=lambda read: read.line):
                rejects.add(read)
    except OSError as error:
        raise InputError(
            f"{NO_ROOM} to {path}: {error.strerror or error}.",
            hint="Make room, or name another place: --rejects FILE.",
        ) from None
    landing.written = path


def rejects_beside(path: Path, run: int) -> Path:
    """Return where a run's rejects go: beside its file, by its number, over nothing.

    >>> rejects_beside(Path("people.csv"), 3).name
    'people.rejects-3.csv'
    >>> rejects_beside(Path("people.rejects-3.csv"), 4).name
    'people.rejects-4.csv'
    """
    stem = path.stem.partition(".rejects")[0]
    wanted = path.with_name(f"{stem}.rejects-{run}.csv")
    again = 1
    while wanted.exists():
        again += 1
        wanted = path.with_name(f"{stem}.rejects-{run}-{again}.csv")
    return wanted


def _summary(landing: _Landing) -> ImportSummary:
    proposal, sums = landing.proposal, landing.sums
    found, duplicates = proposal.found, tuple[PossibleDuplicate, ...]()
    if sums.named:
        with landing.desk.store.read() as session:
            duplicates = possible_duplicates(session, sums.named)
    return ImportSummary(
        kind=proposal.kind,
        run=landing.run,
        added=sums.added,
        changed=sums.changed,
        unchanged=found.unchanged + sums.unchanged,
        rejected=len(found.refused),
        rejects_path=landing.written,
        kept_aside=(*found.kept, *sums.kept),
        possible_duplicates=duplicates,
        told=tuple(dict.fromkeys((*proposal.told, *sums.told))),
        ignored=found.reading.ignored,
        planned=sums.planned,
    )
