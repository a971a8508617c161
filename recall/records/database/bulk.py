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

from recall.records.tables.base import HISTORY_NOW, Base
from recall.records.tables.statements import table_of

Values = dict[str, Any]
Ready = Callable[[Sequence[Values], Values], list[Any]]
Maker = Callable[[Any], Any]
_KEPT = 10_000
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


def insert_rows(session: Session, kind: type[Base], rows: Sequence[Values]) -> None:
    """Insert rows that all have the same columns; columns left out get the table's defaults."""
    if not rows:
        return
    connection, table = session.connection(), table_of(kind)
    names, shared = tuple(rows[0]), {}
    if _NUMBER in table.c and _NUMBER not in names:
        shared[_NUMBER] = connection.scalar(_HISTORY_NOW)  # once, not anew for each row
    statement, ready = _statement(table, names, tuple(shared), connection.dialect)
    connection.exec_driver_sql(statement, ready(rows, shared))


def insert_numbered(session: Session, kind: type[Base], rows: Sequence[Values]) -> Sequence[int]:
    """Insert rows and return their numbers in order.

    SQLite would give numbers back one row at a time only. Its writers hold the one write lock,
    so that the next numbers are known beforehand.
    """
    if not rows:
        return []
    table = table_of(kind)
    if session.connection().dialect.name != "sqlite":
        statement = insert(table).returning(table.c.id, sort_by_parameter_order=True)
        return session.scalars(statement, rows).all()
    first = (session.scalar(select(func.max(table.c.id))) or 0) + 1
    numbers = range(first, first + len(rows))
    insert_rows(session, kind, [{"id": n, **r} for n, r in zip(numbers, rows, strict=True)])
    return numbers


@lru_cache(maxsize=256)
def _statement(
    table: Table, names: tuple[str, ...], shared: tuple[str, ...], dialect: Dialect
) -> tuple[str, Ready]:
    """Return an insert as the driver takes it, and what makes rows ready for it.

    `shared` are the columns that have one value in all rows.
    """
    defaults = {
        column.name: column.default.arg
        for column in table.c
        if column.name not in names and isinstance(column.default, ScalarElementColumnDefault)
    }
    every = [*names, *defaults, *shared]
    compiled = table.insert().compile(dialect=dialect, column_keys=every)
    order = compiled.positiontup or every
    makers = {name: _maker(table.c[name], dialect) for name in order}

    def column(name: str, rows: Sequence[Values], all_have: Values) -> Iterable[Any]:
        make = makers[name] or _as_it_is
        if name in all_have:
            return repeat(make(all_have[name]), len(rows))
        if name in defaults:
            return repeat(None if defaults[name] is None else make(defaults[name]), len(rows))
        found = map(itemgetter(name), rows)
        if make is _as_it_is:
            return found
        return [None if value is None else make(value) for value in found]

    def ready(rows: Sequence[Values], all_have: Values) -> list[Any]:
        made = list(zip(*(column(name, rows, all_have) for name in order), strict=True))
        return made if compiled.positiontup else [dict(zip(order, r, strict=True)) for r in made]

    return str(compiled), ready


def _as_it_is(value: Any) -> Any:
    return value


def _maker(column: Column[Any], dialect: Dialect) -> Maker | None:
    """Return what a column's type does to a value on its way to the driver."""
    make: Maker | None = column.type.dialect_impl(dialect).bind_processor(dialect)
    stored = getattr(column.type, "impl_instance", column.type)
    if make is not None and stored.python_type in (date, datetime):
        return _remembering(make)
    return make


def _remembering(make: Maker) -> Maker:
    """Return the same with its last answers kept: rows share their day and their instant."""
    known: dict[Any, Any] = {}

    def remembered(value: Any) -> Any:
        found = known.get(value)
        if found is None:
            if len(known) >= _KEPT:
                known.clear()
            found = known[value] = make(value)
        return found

    return remembered
