"""Bookings from a file: what is booked, and what became of it."""

from __future__ import annotations

from datetime import date, time
from pathlib import Path
from typing import Any, Literal, get_args

import msgspec

from recall.config import Import
from recall.exchange.cells import Cells, choice
from recall.exchange.people_in import REFERENCE
from recall.exchange.problem import Wrong
from recall.exchange.rows_in import HERE, Column, FileKind, Here, Reading, open_rows
from recall.exchange.visits_in import PERSON
from recall.loop.facts import Ending

Status = Literal["made"] | Ending
STATUSES: tuple[str, ...] = ("made", *get_args(Ending))


class BookingRow(msgspec.Struct, frozen=True, kw_only=True):
    """One booking as the file tells, in local time."""

    person: str
    on: date
    at: time
    minutes: int = 20
    with_: str = msgspec.field(default="", name="with")
    status: Status = "made"
    note: str = ""
    reference: str = ""


def _minutes(cells: Cells, cell: str) -> int:
    """Return a length that an appointment can have."""
    minutes = cells.whole(cell)
    if 1 <= minutes <= 480:
        return minutes
    raise Wrong("is out of bounds", "1 to 480 minutes")


COLUMNS: tuple[Column, ...] = (
    PERSON,
    Column("on", "day of the appointment", Cells.day, True),
    Column("at", "time of the appointment", Cells.clock, True),
    Column("minutes", "length in minutes (20 if empty)", _minutes),
    Column("with", "who will see the person", Cells.text),
    Column("status", "what became of it (made if empty)", choice(STATUSES)),
    Column("note", "note", Cells.note),
    Column("reference", "the practice's own reference of the booking", REFERENCE.decode),
)


def _build(values: dict[str, Any]) -> BookingRow:
    """Make the row from its values by column."""
    if "with" in values:
        values["with_"] = values.pop("with")
    return BookingRow(**values)


BOOKINGS: FileKind[BookingRow] = FileKind(
    "bookings",
    COLUMNS,
    _build,
    key=lambda _row: "",  # two lines of one booking are compared later: alike, one of them is kept
    key_column="reference",
)


def read_bookings(
    path: Path, imports: Import, *, today: date, here: Here = HERE
) -> Reading[BookingRow]:
    """Return the bookings of a file, good and bad rows, one by one."""
    return open_rows(path, BOOKINGS, imports, today=today, here=here)
