"""A file is read whole, without any lock: what is new in it, what goes back, how it looks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Generic, TypeVar

from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.imports.asking_order import ask_for_order
from recall.desk.imports.file_digests import Fresh, Importer, read_digests, row_digest
from recall.desk.imports.nearness import Near, near_references
from recall.exchange.day_order import DAYS, DayOrder, Order, both_ways, with_order
from recall.exchange.problem import Problem, Wrong
from recall.exchange.rows_in import Here, Read, Reading
from recall.exchange.visits_in import VisitRow

Row = TypeVar("Row")
Progress = Callable[[int, int], None]
SIGN_OF_LIFE = 500
FIRST_ROWS = 2
ACCENTS = 3
_ENCODINGS = {"cp1252": "Windows-1252", "utf-8": "UTF-8", "utf-8-sig": "UTF-8", "utf-16": "UTF-16"}


@dataclass
class Looks:
    """How a file looks to the program, so that somebody can see whether it is understood."""

    encoding: str
    accents: list[str] = field(default_factory=list)
    """Cells that hold letters beyond plain ones: rubbish shows here first."""
    days: set[date] = field(default_factory=set)
    """The days of the column that tells from when to when the file goes."""
    first_rows: list[str] = field(default_factory=list)

    @property
    def first_day(self) -> date | None:
        """Return the first of its days."""
        return min(self.days, default=None)

    @property
    def last_day(self) -> date | None:
        """Return the last of its days."""
        return max(self.days, default=None)


@dataclass
class Found(Generic[Row]):
    """A file's rows after reading: which may land, and what is to be told."""

    path: Path
    importer: Importer[Row]
    reading: Reading[Row]
    looks: Looks
    fresh: list[Fresh[Row]] = field(default_factory=list)
    refused: list[Read[Row]] = field(default_factory=list)
    unchanged: int = 0
    order_known: bool = False
    """Whether a row says what an earlier file said, with a day that would be another otherwise."""
    kept: list[Problem] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    """What was recognised, and stays as the register has it."""
    keys: dict[str, tuple[str, int]] = field(default_factory=dict)
    """Of bookings, which may have no reference: each row's digest and line, by its key."""
    near: Near = field(default_factory=Near)


@needs(Right.TAKE_IN_FILES)
def read_whole(
    desk: Desk,
    path: Path,
    importer: Importer[Row],
    progress: Progress | None = None,
    *,
    order: Order | None = None,
) -> Found[Row]:
    """Read a whole file; keep what the register has not seen in just this form.

    `order` says whether day or month comes first in its dates, where somebody was asked.

    Raises:
        InputError: it cannot be read, or one of its dates says that it has another order.
        WhichOrder: its dates fit both ways, and nothing known says which.
    """
    reading = _opened(desk, path, importer, order)
    encoding = _ENCODINGS.get(reading.table.encoding, reading.table.encoding)
    found: Found[Row] = Found(path, importer, reading, Looks(encoding))
    dated_at = next(p.index for p in reading.places if p.column.name == importer.dated)
    days = DayOrder(reading.cells.date_format, dated_at)
    with desk.store.read() as session:
        last_said = read_digests(session, importer.kind)
        if importer.kind == "people":
            found.near = near_references(session)
    _sort(found, days, last_said, progress)
    if importer.kind == "people":
        found.near.add(fresh.key for fresh in found.fresh)
    days.refuse_other_order(path.name)
    if days.open and not days.settled and order is None and not found.order_known:
        with desk.store.read() as session:
            ask_for_order(session, importer, path.name, days, found.fresh)
    return found


def _sort(
    found: Found[Row], days: DayOrder, last_said: Mapping[str, str], progress: Progress | None
) -> None:
    """Read every row, and put it where it belongs."""
    reading, importer = found.reading, found.importer
    places = [(p.index, p.heading) for p in reading.places if p.column.decode in DAYS]
    keys = importer.keys()
    for number, read in enumerate(reading, 1):
        if progress and number % SIGN_OF_LIFE == 0:
            progress(number, 0)
        for index, heading in places:
            if index < len(read.cells) and (cell := read.cells[index]) not in days.known:
                days.look(read.line, heading, cell)
        if read.row is None:
            found.refused.append(read)
            continue
        if read.problems:
            found.kept += read.problems
        _look(found.looks, reading, importer.dated, read)
        key, digest = keys(read.row), row_digest(read.row)
        if importer.kind == "bookings" and _is_second(found, key, digest, read):
            continue
        if last_said.get(key) == digest:
            found.unchanged += 1
            found.order_known = found.order_known or _tells_order(days, read)
        else:
            found.fresh.append(Fresh(key, digest, read.row, read))


def _tells_order(days: DayOrder, read: Read[Row]) -> bool:
    """Return whether a row's own day would be another one in the other order."""
    both = both_ways(read.cells[days.dated_at], days.date_format)
    return both is not None and both[0] != both[1]


def _is_second(found: Found[Row], key: str, digest: str, read: Read[Row]) -> bool:
    """Return whether a booking is in the file already; of two that are alike one is kept."""
    was, line = found.keys.setdefault(key, (digest, read.line))
    if line == read.line:
        return False
    if was == digest:
        found.told.append(f"line {read.line} says the same as line {line}: one of them is kept")
        found.unchanged += 1
        return True
    wrong = Wrong(f"is on line {line} otherwise", "one line for each booking", "at")
    found.refused.append(found.reading.refuse(read, wrong))
    return True


def _opened(desk: Desk, path: Path, importer: Importer[Row], order: Order | None) -> Reading[Row]:
    calendar = desk.config.calendar
    return importer.read(
        path,
        with_order(desk.config.imports, importer.kind, order),
        today=desk.today,
        here=Here(calendar.country, calendar.time_zone),
    )


def _look(looks: Looks, reading: Reading[Row], dated: str, read: Read[Row]) -> None:
    """Let a row that can be used add to how its file looks."""
    row = read.row
    day: date | None = getattr(row.visit if isinstance(row, VisitRow) else row, dated, None)
    if day is not None:
        looks.days.add(day)
    if len(looks.first_rows) < FIRST_ROWS:
        looks.first_rows.append(f"line {read.line}: {reading.understood(read)}")
    if len(looks.accents) < ACCENTS and not "".join(read.cells).isascii():
        found = (c.strip() for c in read.cells if not c.isascii() and any(map(str.isalpha, c)))
        looks.accents += [c[:40] for c in found if c[:40] not in looks.accents][:1]
