"""Many rows at once: values are made ready once for each column, and go straight to the driver.

A plain executemany looks at every value of every row anew; for the tens of thousands of rows
of an import or of planning a register that costs more than the database itself.
"""

from __future__ import annotations

import gc
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from itertools import repeat
from operator import itemgetter
from typing import Any

from sqlalchemy import Column, Table, func, insert, select
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import Session
from sqlalchemy.sql.schema import ScalarElementColumnDefault

from recall.records.tables.base import HISTORY_NOW, Base, Words
from recall.records.tables.remembered import Maker, Remembered
from recall.records.tables.statements import table_of

Values = dict[str, Any]
Columns = dict[str, list[Any]]
"""Values of all rows, by column."""
Rows = Sequence[Values] | Sequence[tuple[Any, ...]]
_NOTHING: Values = {}
_NUMBER = "recorded_no"
_HISTORY_NOW = select(HISTORY_NOW)
_ALLOCATIONS = 1_000_000
"""New objects before the garbage collector looks, while many rows are written."""


@contextmanager
def seldom_collected() -> Iterator[None]:
    """Let the garbage collector look seldom meanwhile: many rows are held, and none is garbage.

    It costs a tenth of the time of an import otherwise.
    """
    usual = gc.get_threshold()
    gc.set_threshold(_ALLOCATIONS, *usual[1:])
    try:
        yield
    finally:
        gc.set_threshold(*usual)


def insert_rows(
    session: Session, kind: type[Base], rows: Sequence[Values], all_have: Values = _NOTHING
) -> None:
    """Insert rows that all have the same columns; columns left out get the table's defaults.

    `all_have` are columns that have one value in all rows, and are not in them.
    """
    if rows:
        _insert(session, kind, tuple(rows[0]), rows, all_have)


def insert_tuples(
    session: Session,
    kind: type[Base],
    names: tuple[str, ...],
    rows: Sequence[tuple[Any, ...]],
    all_have: Values = _NOTHING,
) -> None:
    """Insert rows, as `insert_rows` does, of which each holds its columns in the order of names."""
    if rows:
        _insert(session, kind, names, rows, all_have)


def insert_numbered(
    session: Session, kind: type[Base], rows: Sequence[Values], all_have: Values = _NOTHING
) -> Sequence[int]:
    """Insert rows, as `insert_rows` does, and return their numbers in order.

    SQLite would give numbers back one row at a time only. Its writers hold the one write lock,
    so that the next numbers are known beforehand.
    """
    names = tuple(rows[0]) if rows else ()
    get = itemgetter(*names) if len(names) > 1 else lambda row: tuple(row.values())
    return numbered_tuples(session, kind, names, [get(row) for row in rows], all_have)


def numbered_tuples(
    session: Session,
    kind: type[Base],
    names: tuple[str, ...],
    rows: Sequence[tuple[Any, ...]],
    all_have: Values = _NOTHING,
) -> Sequence[int]:
    """Insert rows, as `insert_tuples` does, and return their numbers as `insert_numbered` does."""
    if not rows:
        return []
    table = table_of(kind)
    if session.connection().dialect.name != "sqlite":
        statement = insert(table).returning(table.c.id, sort_by_parameter_order=True)
        made = [{**dict(zip(names, row, strict=True)), **all_have} for row in rows]
        return session.scalars(statement, made).all()
    first = (session.scalar(select(func.max(table.c.id))) or 0) + 1
    numbers = range(first, first + len(rows))
    _insert(session, kind, names, rows, all_have, numbers)
    return numbers


def _insert(
    session: Session,
    kind: type[Base],
    names: tuple[str, ...],
    rows: Rows,
    all_have: Values,
    numbers: Sequence[int] = (),
) -> None:
    connection, table = session.connection(), table_of(kind)
    if _NUMBER in table.c and _NUMBER not in names:
        # Once, not anew for each row.
        all_have = {**all_have, _NUMBER: connection.scalar(_HISTORY_NOW)}
    plan = _plan(table, names, tuple(all_have), connection.dialect)
    shared = {n: plan.ready(n, (v,))[0] for n, v in {**plan.defaults, **all_have}.items()}
    at = range(len(names)) if isinstance(rows[0], tuple) else names
    columns: Columns = {
        n: plan.ready(n, map(itemgetter(i), rows)) for n, i in zip(names, at, strict=True)
    }
    if numbers:
        columns["id"] = [*numbers]
    of_dialect = _written_out if connection.dialect.name == "sqlite" else _compiled
    connection.exec_driver_sql(*of_dialect(table, connection.dialect, columns, shared))


def _compiled(
    table: Table, dialect: Dialect, columns: Columns, shared: Values
) -> tuple[str, list[Any]]:
    """Return an insert as a dialect writes it, and what it takes of each row."""
    names = (*columns, *shared)
    every = (*columns.values(), *map(repeat, shared.values()))
    rows = [dict(zip(names, row, strict=True)) for row in zip(*every, strict=False)]
    return str(table.insert().compile(dialect=dialect, column_keys=names)), rows


def _written_out(
    table: Table, _dialect: Dialect, columns: Columns, shared: Values
) -> tuple[str, list[Any]]:
    """Return an insert for SQLite in which stands what all rows share, and the rest of each row.

    A value in the statement costs next to nothing; one that is bound is copied for every row.
    Of the rows' own values only what names nobody stands in it, for it may be told in an error.
    """
    said = {name: word for name, value in shared.items() if (word := _literal(value))}
    for name, values in columns.items():
        first = values[0]
        if _names_nobody(first) and values.count(first) == len(values):
            said[name] = _literal(first)
    size = len(next(iter(columns.values())))
    bound = {name: [value] * size for name, value in shared.items() if name not in said}
    bound |= {name: values for name, values in columns.items() if name not in said}
    listed = ", ".join(f'"{name}"' for name in (*bound, *said))
    marks = ", ".join((*("?" * len(bound)), *said.values()))
    made = list(zip(*bound.values(), strict=True)) or [()] * size
    return f'INSERT INTO "{table.name}" ({listed}) VALUES ({marks})', made


def _names_nobody(value: object) -> bool:
    return value is None or value in ("", "[]", "{}")


def _literal(value: object) -> str:
    """Return a value as SQL has it; nothing for one that is better bound."""
    if value is None:
        return "NULL"
    if isinstance(value, int):
        return str(int(value))
    if isinstance(value, str) and value.isascii() and value.isprintable():
        return "'" + value.replace("'", "''") + "'"
    return ""


@dataclass(frozen=True)
class _Plan:
    """How a table's rows are made ready."""

    makers: Mapping[str, Maker | Remembered | None]
    defaults: Values
    """What columns get that are not given."""

    def ready(self, name: str, values: Iterable[Any]) -> list[Any]:
        """Return the values of a column as the driver takes them."""
        make = self.makers[name]
        if make is None:
            return list(values)
        if isinstance(make, Remembered):
            return list(map(make.__getitem__, values))  # no call in Python for what is known
        return [None if value is None else make(value) for value in values]


@lru_cache(maxsize=256)
def _plan(table: Table, names: tuple[str, ...], beside: tuple[str, ...], dialect: Dialect) -> _Plan:
    """Return how rows of some columns are made ready; `beside` are those that all rows share."""
    defaults = {
        column.name: column.default.arg
        for column in table.c
        if column.name not in (*names, *beside)
        and isinstance(column.default, ScalarElementColumnDefault)
    }
    every = (*names, *beside, *defaults)
    return _Plan({name: _maker(table.c[name], dialect) for name in every}, defaults)


def _maker(column: Column[Any], dialect: Dialect) -> Maker | Remembered | None:
    """Return what a column's type does to a value on its way to the driver."""
    make: Maker | None = column.type.dialect_impl(dialect).bind_processor(dialect)
    stored = getattr(column.type, "impl_instance", column.type)
    if make is None:
        return None
    if stored.python_type in (date, datetime) or isinstance(column.type, Words):
        return Remembered(make)
    return make
