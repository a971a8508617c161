"""Whose record cannot be read: found row by row, and left out of what is read, loudly.

A value that is no day, no list, no text or no word that its table allows, in one row, would
otherwise cost every list. The people of such rows are set aside for this run: temporary views in
the place of the tables leave them out of what is read (SQLite: "CREATE VIEW", a TEMP object comes
before one of the same name in the file; PostgreSQL: "search_path", so does one of pg_temp). Nothing
is written for them, and nothing of theirs is changed. A server holds its columns to their types, so
that only what is inside a text can be unreadable there.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator
from datetime import time
from functools import cache, partial
from typing import Any, NamedTuple

import msgspec
from sqlalchemy import (
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Date,
    DateTime,
    Float,
    Integer,
    Table,
    text,
)

from recall.care.case import Reported, ReportWord, RiskWord, ToldByOthers, UnderCare
from recall.care.dates import DayText
from recall.care.ear import Ear
from recall.loop.outcomes import BY_ID, DONE
from recall.records.database.odd import OddRow, is_odd
from recall.records.tables.base import Base, UtcDateTime, Words
from recall.records.tables.statements import table_of
from recall.schedule.plan import Reason

_PERSON = "person"
_ALL_THE_SAME = frozenset({"history", "looked", "failsafe_finding"})
"""What is read whole, or is about staff: nothing of these is left out."""
_TABLES = {"sqlite": "main", "postgresql": "public"}
"""Where the tables themselves are, beside a view of the same name."""
_ROW = {"sqlite": "rowid", "postgresql": "id"}
_VIEWS = {"sqlite": "temp", "postgresql": "pg_temp"}
_reads = msgspec.json.Decoder
_NUMBER = re.compile(r'"number":"([^"]+)"')
_WORDS = _reads(tuple[str, ...]).decode


def _checks(kind: object) -> Callable[[str], object]:
    """Return what refuses a word that is none of a kind."""
    return partial(msgspec.convert, type=kind)


INSIDE: dict[tuple[str, str], Callable[[str], object]] = {
    ("findings", "content"): _reads(Ear).decode,
    ("told_by_others", "content"): _reads(ToldByOthers).decode,
    ("under_care", "content"): _reads(UnderCare).decode,
    ("visit", "reported"): _reads(tuple[ReportWord | Reported, ...]).decode,
    ("person_risk", "what"): _checks(RiskWord),
    ("person_risk", "since"): _checks(DayText),
    ("person_risk", "until"): _checks(DayText),
    ("referral", "reasons"): _reads(tuple[Reason, ...]).decode,
    ("letter", "fields"): _reads(dict[str, Any]).decode,
    ("contact", "outcome"): dict.fromkeys((*BY_ID, *DONE)).__getitem__,
    ("contact", "until_at"): time.fromisoformat,
}
"""Columns that hold more than their type says, and how each is read."""


class PrintedFor(NamedTuple):
    """A letter that lies printed, to somebody who is left out."""

    person: int
    number: str
    """Empty where it cannot be read."""
    to: str


def unreadable(connection: Connection) -> dict[int, OddRow]:
    """Return the people of whom a row cannot be read, each with the first such row.

    Every row of every table that leads to a person is read: seconds, on a large register.
    """
    found: dict[int, OddRow] = {}
    for table in _tables():
        for number in _odd(connection, table):
            wanted = text(_whose(table.name, _TABLES[connection.dialect.name]))
            whose = connection.execute(wanted, {"number": number}).scalar()
            if whose is not None and whose not in found:
                found[whose] = OddRow(_ref(connection, whose), table.name, number)
    return found


def odd_elsewhere(connection: Connection) -> str:
    """Return the first row that cannot be read of the tables that are about nobody; empty: none."""
    every = {table_of(mapper.class_) for mapper in Base.registry.mappers}
    for table in sorted(every - {*_tables()}, key=lambda table: table.name):
        for number in _odd(connection, table):
            return f"row {number} of {table.name}"
    return ""


def leave_out(connection: Connection, people: Iterable[int]) -> None:
    """Let a connection read nothing of some people, or of nobody less."""
    numbers = ", ".join(str(number) for number in sorted(people))
    kind = connection.dialect.name
    for table in _tables():
        connection.execute(text(f"DROP VIEW IF EXISTS {_VIEWS[kind]}.{table.name}"))
        if numbers:
            held = _held(table.name, numbers, _TABLES[kind])
            rows = f"SELECT * FROM {_TABLES[kind]}.{table.name} WHERE {held}"
            connection.execute(text(f"CREATE TEMP VIEW {table.name} AS {rows}"))


def printed_for(connection: Connection, batch: int, people: Iterable[int]) -> Iterator[PrintedFor]:
    """Give the letters to people who are left out that were printed with a batch."""
    numbers = ", ".join(str(number) for number in sorted(people))
    name, fields = _bytes(connection, "to_name"), _bytes(connection, "fields")
    wanted = (
        f"SELECT person_id, {name}, {fields} FROM {_TABLES[connection.dialect.name]}.letter "
        "WHERE batch_id = :batch AND printed_at IS NOT NULL "
        f"AND person_id IN ({numbers}) ORDER BY id"
    )
    for person, to_name, held in connection.execute(text(wanted), {"batch": batch}):
        found = _NUMBER.search(_text(held))
        yield PrintedFor(person, found[1] if found else "", _text(to_name))


def _bytes(connection: Connection, column: str) -> str:
    """Return how a text is asked for that may be none."""
    on_server = connection.dialect.name != "sqlite"
    return f"convert_to({column}, 'UTF8')" if on_server else f"CAST({column} AS BLOB)"


def _text(held: bytes | None) -> str:
    return (held or b"").decode(errors="replace")


def _ref(connection: Connection, number: int) -> str:
    at = _TABLES[connection.dialect.name]
    wanted = f"SELECT {_bytes(connection, 'ref')} FROM {at}.person WHERE id = :number"
    return _text(connection.execute(text(wanted), {"number": number}).scalar())


def _odd(connection: Connection, table: Table) -> Iterator[int]:
    """Give the rows that cannot be read: none where all can, or else by halving."""
    if _all_read(connection, table):
        return
    named = f"{_TABLES[connection.dialect.name]}.{table.name}"
    row = _ROW[connection.dialect.name]
    every = list(connection.exec_driver_sql(f"SELECT {row} FROM {named}").scalars())
    parts = [every]
    while parts:
        numbers = parts.pop()
        if _all_read(connection, table, f"{row} IN ({', '.join(map(str, numbers))})"):
            continue
        if len(numbers) == 1:
            yield numbers[0]
            continue
        half = len(numbers) // 2
        parts += [numbers[half:], numbers[:half]]


def _all_read(connection: Connection, table: Table, which: str = "1 = 1") -> bool:
    """Return whether rows can be read as they are meant to be read."""
    name, on_server = table.name, connection.dialect.name != "sqlite"
    inside = [(held, reads) for (whose, held), reads in INSIDE.items() if whose == name]
    if on_server:
        inside += [(c.name, _WORDS) for c in table.columns if isinstance(c.type, Words)]
    try:
        if not on_server and connection.exec_driver_sql(_not_sound(table, which)).first():
            return False
        named = f"{_TABLES[connection.dialect.name]}.{name}"
        for row in connection.exec_driver_sql(f"SELECT * FROM {named} WHERE {which}"):
            for held, reads in inside:
                if (value := getattr(row, held)) not in (None, "[]"):
                    reads(value)
    except Exception as error:
        if is_odd(error):
            return False
        raise
    return True


@cache
def _columns_and_words(table: Table) -> str:
    """Return the condition that the values of a row are of the kinds that the table wants."""
    held = (_of_its_kind(column) for column in table.columns)
    checks = (c for c in table.constraints if isinstance(c, CheckConstraint))
    words = (c.sqltext for c in checks if str(c.name).rpartition(f"{table.name}_")[2] in table.c)
    return " AND ".join((*held, *(f"coalesce({each}, 1)" for each in words)))


def _not_sound(table: Table, which: str) -> str:
    sound = _columns_and_words(table)
    return f"SELECT 1 FROM main.{table.name} WHERE {which} AND NOT ({sound}) LIMIT 1"


def _of_its_kind(column: Column[Any]) -> str:
    """Return the condition that a value of a column is what SQLAlchemy stores there."""
    name, kind = f'"{column.name}"', column.type
    if isinstance(kind, Words):
        held = f"CASE WHEN json_valid({name}) THEN json_type({name}) = 'array' END"
    elif isinstance(kind, Date):
        held = f"{name} = date({name})"
    elif isinstance(kind, DateTime | UtcDateTime):
        held = f"substr({name}, 1, 19) = datetime({name})"
    elif isinstance(kind, Integer | Boolean):
        held = f"typeof({name}) = 'integer'"
    elif isinstance(kind, Float):
        held = f"typeof({name}) IN ('real', 'integer')"
    else:
        held = f"typeof({name}) = 'text'"
    empty = f"{name} IS NULL OR " if column.nullable else ""
    return f"({empty}coalesce({held}, 0))"


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


def _held(name: str, numbers: str, at: str) -> str:
    column, to = _leads(name) or ("", "")
    if not to:
        return f'"{column}" IS NULL OR "{column}" NOT IN ({numbers})'
    return f'"{column}" IN (SELECT id FROM {at}.{to} WHERE {_held(to, numbers, at)})'


def _whose(name: str, at: str) -> str:
    column, to = _leads(name) or ("", "")
    if not to:
        return f'SELECT "{column}" FROM {at}.{name} WHERE id = :number'
    mine = f'(SELECT "{column}" FROM {at}.{name} WHERE id = :number)'
    return _whose(to, at).replace(":number", mine)
