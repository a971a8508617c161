"""Files in: people, visits, contacts, bookings. Good rows land together, bad ones go back.

A file is read first, without any lock; then what is new in it lands in one transaction. A file
overwrites only what the file itself changed since it was last taken in. Planning is a phase of
its own afterwards (`replanning`), which can be stopped and goes on where it was.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Generic, Literal, TypeVar

import msgspec
from sqlalchemy import insert, update
from sqlalchemy.orm import Session

import recall.desk.imports.contacts_and_bookings as importing_loop
import recall.desk.imports.people as importing_people
import recall.desk.imports.visits as importing_visits
from recall.desk.core.guarding import needs
from recall.desk.core.replanning import mark
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.imports.file_digests import Batch, Fresh, Importer, read_digests, row_digest
from recall.desk.imports.taking_away import columns_before, refuse_unless
from recall.desk.people.duplicates import PossibleDuplicate, possible_duplicates
from recall.errors import InputError
from recall.exchange.problem import Problem, Wrong
from recall.exchange.rejects import Rejects
from recall.exchange.rows_in import Reading
from recall.records import tables
from recall.records.database.bulk import seldom_collected
from recall.records.journal import history
from recall.records.tables.statements import table_of

Row = TypeVar("Row")
Kind = Literal["people", "visits", "contacts", "bookings"]
IMPORTERS: dict[Kind, Importer[Any]] = {
    "people": importing_people.IMPORTER,
    "visits": importing_visits.IMPORTER,
    "contacts": importing_loop.CONTACTS,
    "bookings": importing_loop.BOOKINGS,
}
PAGE = 1000
"""Rows that are looked up and written together."""
SIGN_OF_LIFE = 500
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class ImportSummary:
    """What became of a file."""

    kind: Kind
    added: int = 0
    changed: int = 0
    unchanged: int = 0
    rejected: int = 0
    rejects_path: Path | None = None
    kept_aside: tuple[Problem, ...] = ()
    """Values that could not be used, of rows that landed all the same."""
    possible_duplicates: tuple[PossibleDuplicate, ...] = ()
    ignored: tuple[str, ...] = ()
    """Headings that nothing is read from."""


@dataclass
class _Sorted(Generic[Row]):
    """A file's rows after reading: which may land, and what is to be told."""

    rejects: Rejects
    fresh: list[Fresh[Row]] = field(default_factory=list)
    unchanged: int = 0
    kept: list[Problem] = field(default_factory=list)


@dataclass(frozen=True)
class _File(Generic[Row]):
    """A file on its way in."""

    path: Path
    importer: Importer[Row]
    reading: Reading[Row]
    takes_away: int | None


@needs(Right.TAKE_IN_FILES)
def import_file(
    desk: Desk,
    path: Path,
    kind: Kind,
    progress: Progress | None = None,
    *,
    rejects_path: Path | None = None,
    takes_away: int | None = None,
) -> ImportSummary:
    """Take in a file of a kind; what it takes away needs the number of it.

    Raises:
        Refused: it would take away something that was not said; nothing has landed.
        InputError: the file as a whole cannot be read.
        StorageError: the register cannot be written; nothing has landed.
    """
    importer = IMPORTERS[kind]
    country = desk.config.calendar.country
    reading = importer.read(path, desk.config.imports, today=desk.today, country=country)
    rejects = Rejects(
        rejects_path or rejects_beside(path),
        reading.headings,
        reading.table.delimiter,
        named_here=rejects_path is None,
    )
    with rejects, seldom_collected():
        found = _sorted(desk, importer, reading, rejects, progress)
        batch, duplicates = _land(desk, _File(path, importer, reading, takes_away), found, progress)
    return ImportSummary(
        kind=kind,
        added=batch.added,
        changed=batch.changed,
        unchanged=found.unchanged + batch.unchanged,
        rejected=rejects.count,
        rejects_path=rejects.path if rejects.count else None,
        kept_aside=(*found.kept, *batch.kept),
        possible_duplicates=duplicates,
        ignored=reading.ignored,
    )


def rejects_beside(path: Path) -> Path:
    """Return where a file's rejects go; a corrected rejects file's go over itself.

    >>> rejects_beside(Path("people.csv")).name, rejects_beside(Path("people.rejects.csv")).name
    ('people.rejects.csv', 'people.rejects.csv')
    """
    stem = path.stem.removesuffix(".rejects")
    return path.with_name(f"{stem}.rejects.csv")


def kind_of(path: Path, desk: Desk) -> Kind:
    """Return the kind of a file, by its name or else by its headings.

    Raises:
        InputError: neither tells.
    """
    named: list[Kind] = [kind for kind in IMPORTERS if kind in path.stem.casefold()]
    if len(named) == 1:
        return named[0]
    unread: dict[Kind, int] = {}
    for kind, importer in IMPORTERS.items():
        try:
            reading = importer.read(path, desk.config.imports, today=desk.today, country="GB")
        except InputError as error:
            if not path.is_file():
                raise error from None
            continue
        unread[kind] = len(reading.ignored)
    fits = [kind for kind, count in unread.items() if count == min(unread.values())]
    if len(fits) == 1:
        return fits[0]
    kinds = ", ".join(IMPORTERS)
    raise InputError(
        f"{path.name} does not show what it holds.",
        hint=f"Say it: recall import KIND {path.name}, where KIND is one of {kinds}.",
    )


def _sorted(
    desk: Desk,
    importer: Importer[Row],
    reading: Reading[Row],
    rejects: Rejects,
    progress: Progress | None,
) -> _Sorted[Row]:
    """Read the whole file; keep what the register has not seen in just this form."""
    found: _Sorted[Row] = _Sorted(rejects)
    with desk.store.read() as session:
        last_said = read_digests(session, importer.kind)
    keys = importer.keys()
    for number, read in enumerate(reading, 1):
        if progress and number % SIGN_OF_LIFE == 0:
            progress(number, 0)
        if read.row is None:
            rejects.add(read)
            continue
        if read.problems:
            found.kept += read.problems
        key, digest = keys(read.row), row_digest(read.row)
        if last_said.get(key) == digest:
            found.unchanged += 1
        else:
            found.fresh.append(Fresh(key, digest, read.row, read))
    return found


def _land(
    desk: Desk, file: _File[Row], found: _Sorted[Row], progress: Progress | None
) -> tuple[Batch, tuple[PossibleDuplicate, ...]]:
    """Write what is new in one transaction; nothing at all where nothing is new."""
    if not found.fresh:
        return Batch(desk, 0), ()
    with desk.store.write() as session:
        kind, reading = file.importer.kind, file.reading
        ever = columns_before(session, kind, (c.name for c in reading.kind.columns))
        batch = Batch(desk, _new_run(desk, session, file.path, kind))
        batch.columns, batch.ever = frozenset(p.column.name for p in reading.places), ever
        for page in _pages(found.fresh):
            for fresh, wrong in file.importer.write(session, batch, page):
                found.rejects.add(reading.refuse(fresh.read, wrong))
            if progress:
                progress(batch.done, len(found.fresh))
        refuse_unless(batch.lost, file.takes_away)
        history.append_all(session, desk.by.id, desk.now, batch.history)
        mark(session, batch.to_plan)
        counts: dict[str, Any] = {"added": batch.added, "changed": batch.changed}
        counts |= {"rejected": found.rejects.count, "unchanged": found.unchanged + batch.unchanged}
        counts |= {"taken_away": len(batch.lost), "columns": sorted(batch.columns)}
        told = msgspec.json.encode(counts).decode()
        session.execute(
            update(table_of(tables.ImportRun))
            .where(tables.ImportRun.id == batch.run_id)
            .values(counts=told)
        )
        duplicates = possible_duplicates(session, batch.named)
    return batch, duplicates


def _new_run(desk: Desk, session: Session, path: Path, kind: str) -> int:
    values = {
        "kind": kind,
        "file_name": path.name,
        "file_digest": _digest_of(path),
        "counts": "{}",
        "on": desk.today,
        "recorded_at": desk.now,
        "by_id": desk.by.id,
    }
    making = insert(table_of(tables.ImportRun)).returning(tables.ImportRun.id)
    return session.scalars(making, values).one()


def _digest_of(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _pages(fresh: Sequence[Fresh[Row]]) -> Iterator[Sequence[Fresh[Row]]]:
    return (fresh[n : n + PAGE] for n in range(0, len(fresh), PAGE))


__all__ = ["ImportSummary", "Kind", "Wrong", "import_file", "kind_of", "rejects_beside"]
