"""Whose record cannot be read: found row by row, and left out of what is read, loudly.

A value that is no day, or no list, in one row would otherwise cost every list. The people of such
rows are set aside for this run: temporary views in the place of the tables leave them out of what
is read (SQLite: "CREATE VIEW", a TEMP object comes before one of the same name in the file).
Nothing is written for them, and nothing of theirs is changed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache

import msgspec
from sqlalchemy import Connection, Table, select, text

from recall.care.case import Reported, ReportWord, ToldByOthers, UnderCare
from recall.care.ear import Ear
from recall.records.database.odd import ODD_VALUES
from recall.records.tables.base import Base
from recall.records.tables.statements import table_of

_SOME = 500
_PERSON = "person"
_ALL_THE_SAME = frozenset({"history", "looked", "failsafe_finding"})
"""What is read whole, or is about staff: nothing of these is left out."""
_INSIDE: dict[tuple[str, str], object] = {
    ("findings", "content"): Ear,
    ("told_by_others", "content"): ToldByOthers,
    ("under_care", "content"): UnderCare,
    ("visit", "reported"): tuple[ReportWord | Reported, ...],
}
"""Columns that hold more than their type says."""


def unreadable(connection: Connection) -> dict[int, str]:
    """Return the people of whom a row cannot be read, each with the first such row.

    Every row of every table that leads to a person is read: seconds, on a large register.
    """
    found: dict[int, str] = {}
    for table in _tables():
        numbers = list(connection.exec_driver_sql(f"SELECT id FROM main.{table.name}").scalars())
        for number in _odd(connection, table, numbers):
            whose = connection.exec_driver_sql(_whose(table.name), (number,)).scalar()
            if whose is not None:
                found.setdefault(whose, f"{_ref(connection, whose)}: row {number} of {table.name}")
    return found


def leave_out(connection: Connection, people: Iterable[int]) -> None:
    """Let a connection read nothing of some people, or of nobody less."""
    numbers = ", ".join(str(number) for number in sorted(people))
    for table in _tables():
        connection.execute(text(f"DROP VIEW IF EXISTS temp.{table.name}"))
        if numbers:
            held = _held(table.name, numbers)
            made = f"CREATE TEMP VIEW {table.name} AS SELECT * FROM main.{table.name} WHERE {held}"
            connection.execute(text(made))


def _ref(connection: Connection, number: int) -> str:
    wanted = "SELECT ref FROM main.person WHERE id = ?"
    return str(connection.exec_driver_sql(wanted, (number,)).scalar())


def _odd(connection: Connection, table: Table, numbers: list[int]) -> Iterator[int]:
    """Give the rows that cannot be read, by halving."""
    for begin in range(0, len(numbers), _SOME):
        yield from _halved(lambda some: _read(connection, table, some), numbers[begin:][:_SOME])


def _halved(reads: Callable[[list[int]], None], numbers: list[int]) -> Iterator[int]:
    try:
        reads(numbers)
    except ODD_VALUES:
        if len(numbers) == 1:
            yield numbers[0]
            return
        half = len(numbers) // 2
        yield from _halved(reads, numbers[:half])
        yield from _halved(reads, numbers[half:])


def _read(connection: Connection, table: Table, numbers: list[int]) -> None:
    for row in connection.execute(select(table).where(table.c.id.in_(numbers))).mappings():
        for (name, held), kind in _INSIDE.items():
            if name == table.name:
                msgspec.json.decode(row[held], type=kind)


@cache
def _tables() -> tuple[Table, ...]:
    """Return the tables whose rows lead to a person, and have a number."""
    every = (table_of(mapper.class_) for mapper in Base.registry.mappers)
    found = (t for t in every if t.name not in _ALL_THE_SAME and "id" in t.c and _leads(t.name))
    return tuple(sorted(found, key=lambda table: table.name))


@cache
def _leads(name: str, seen: frozenset[str] = frozenset()) -> tuple[str, str] | None:
    """Return the column of a table that leads to a person, and the table where it leads."""
    if name == _PERSON:
        return ("id", "")
    table = Base.metadata.tables[name]
    if "person_id" in table.c:
        return ("person_id", "")
    for key in sorted(table.foreign_keys, key=lambda key: key.parent.name):
        to = key.column.table.name
        if (
            to not in {name, "staff", *seen}
            and _leads(to, seen | {name})
            and not key.parent.nullable
        ):
            return (key.parent.name, to)
    return None


def _held(name: str, numbers: str) -> str:
    column, to = _leads(name) or ("", "")
    if not to:
        return f'"{column}" IS NULL OR "{column}" NOT IN ({numbers})'
    return f'"{column}" IN (SELECT id FROM main.{to} WHERE {_held(to, numbers)})'


def _whose(name: str) -> str:
    column, to = _leads(name) or ("", "")
    if not to:
        return f'SELECT "{column}" FROM main.{name} WHERE id = ?'
    return _whose(to).replace("?", f'(SELECT "{column}" FROM main.{name} WHERE id = ?)')
