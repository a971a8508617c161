"""Many rows at once: values are made ready once for each column, and go straight to the driver.

A plain executemany looks at every value of every row anew; for the tens of thousands of rows
of an import or of planning a register that costs more than the database itself.
"""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import contextmanager
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
Columns = dict[str, Iterable[Any]]
"""Values of all rows, by column."""
Rows = Sequence[Values] | Sequence[tuple[Any, ...]]
Ready = Callable[[Rows, Columns], list[Any]]
_NOTHING: Values = {}
_NUMBER = "recorded_no"
_HISTORY_NOW = select(HISTORY_NOW)
_ALLOCATIONS = 100_000
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
    if not rows:
        return []
    table = table_of(kind)
    if session.connection().dialect.name != "sqlite":
        statement = insert(table).returning(table.c.id, sort_by_parameter_order=True)
        return session.scalars(statement, [{**row, **all_have} for row in rows]).all()
    first = (session.scalar(select(func.max(table.c.id))) or 0) + 1
    numbers = range(first, first + len(rows))
    _insert(session, kind, tuple(rows[0]), rows, all_have, numbers)
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
    beside = (*all_have, "id") if numbers else tuple(all_have)
    in_order = isinstance(rows[0], tuple)
    statement, ready = _statement(table, names, beside, connection.dialect, in_order)
    columns: Columns = {name: repeat(value, len(rows)) for name, value in all_have.items()}
    connection.exec_driver_sql(statement, ready(rows, {**columns, "id": numbers}))


@lru_cache(maxsize=256)
def _statement(
    table: Table,
    names: tuple[str, ...],
    beside: tuple[str, ...],
    dialect: Dialect,
    in_order: bool,
) -> tuple[str, Ready]:
    """Return an insert as the driver takes it, and what makes rows ready for it.

    `beside` are columns whose values are not in the rows; rows may hold the others `in_order`.
    """
    defaults = {
        column.name: column.default.arg
        for column in table.c
        if column.name not in (*names, *beside)
        and isinstance(column.default, ScalarElementColumnDefault)
    }
    every = [*names, *defaults, *beside]
    compiled = table.insert().compile(dialect=dialect, column_keys=every)
    order = compiled.positiontup or every
    makers = {name: _maker(table.c[name], dialect) for name in order}

    at: dict[str, Any] = {name: n if in_order else name for n, name in enumerate(names)}

    def column(name: str, rows: Rows, columns: Columns) -> Iterable[Any]:
        found = map(itemgetter(at[name]), rows) if name in at else columns[name]
        make = makers[name]
        if make is None:
            return found
        if isinstance(make, Remembered):
            return map(make.__getitem__, found)  # without a call in Python for what is known
        return [None if value is None else make(value) for value in found]

    def ready(rows: Rows, columns: Columns) -> list[Any]:
        usual: Columns = {name: repeat(value, len(rows)) for name, value in defaults.items()}
        others = {**usual, **columns}
        made = list(zip(*(column(name, rows, others) for name in order), strict=True))
        return made if compiled.positiontup else [dict(zip(order, r, strict=True)) for r in made]

    return str(compiled), ready


def _maker(column: Column[Any], dialect: Dialect) -> Maker | Remembered | None:
    """Return what a column's type does to a value on its way to the driver."""
    make: Maker | None = column.type.dialect_impl(dialect).bind_processor(dialect)
    stored = getattr(column.type, "impl_instance", column.type)
    if make is None:
        return None
    if stored.python_type in (date, datetime) or isinstance(column.type, Words):
        return Remembered(make)
    return make
