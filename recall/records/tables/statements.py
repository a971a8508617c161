"""Statements over the tables whose types can be followed: rows read, plain tables written.

A column is named through its table's class (`tables.Person.born`), so that its type goes
through `select` into what is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, TypeVar, TypeVarTuple, cast

import msgspec
from sqlalchemy import (
    BindParameter,
    ColumnElement,
    Row,
    Select,
    Table,
    Text,
    bindparam,
    inspect,
    select,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import Bundle, InstrumentedAttribute, Session
from sqlalchemy.types import TypeDecorator

from recall.records.tables.base import Base
from recall.records.tables.listed import Numbers, Refs

if TYPE_CHECKING:
    from _typeshed import DataclassInstance

View = TypeVar("View", bound="DataclassInstance")
Columns = TypeVarTuple("Columns")
T = TypeVar("T", bound=Base)
Source = type[Base]
Expression = ColumnElement[Any] | InstrumentedAttribute[Any]
_made: dict[object, Bundle[Any]] = {}
"""Made once for each table and view: making one costs more than a lookup by number."""


def whole(table: type[T]) -> Bundle[T]:
    """Return all columns of a table as one value: `select(whole(tables.Visit))`.

    What is read is a plain row of values that cannot be changed; it is typed as its table's
    class, so that each column's type is known. It is no loaded object on purpose: a loaded one
    is shared by all who read it in a session, so one kept to tell what changed would change
    with the row, and a value set on one would be written past the history.
    """
    # A column called like a method of a row would hide behind it; a test looks.
    if table not in _made:
        columns = (column.class_attribute for column in inspect(table).column_attrs)
        _made[table] = Bundle(table.__name__, *columns)
    return _made[table]


def read_as(view: type[View], *sources: Source, **more: Expression) -> Bundle[View]:
    """Return the columns that a view's fields are called by, read as that dataclass.

    A field is what `more` says, or the column of its name in the first table that has one.
    """
    if more:
        return _View(view, sources, more)
    if (view, sources) not in _made:
        _made[view, sources] = _View(view, sources, more)
    return _made[view, sources]


def columns_of(view: type, source: Source) -> list[Any]:
    """Return the columns that a view's fields are called by, for rows of the driver.

    They are read as rows that have the view's names, in its order: nothing is made of each.
    """
    columns = table_of(source).c
    return [columns[name] for name in view.__annotations__]


Keys = Iterable[int] | Iterable[str]


class _Keys(TypeDecorator[Keys]):
    """Numbers or words as one value: a JSON list, which the database itself takes apart."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Keys | None, dialect: Dialect) -> str:
        """Return the list as JSON."""
        return msgspec.json.encode([] if value is None else list(value)).decode()


_GIVEN: BindParameter[Any] = bindparam("ids", type_=_Keys)
IDS = select(Numbers(_GIVEN).table_valued("value").c.value)
"""Numbers that a statement is asked with: such a statement is made once, and read often.
They are one value, however many: a place for each would be named and looked at on every reading.
"""
REFS = select(Refs(_GIVEN).table_valued("value").c.value)
"""The same of texts."""


def looked_at(text: InstrumentedAttribute[str]) -> ColumnElement[str]:
    """Return a column of text as one that no index is searched by: it is only looked at.

    Where people are given and a kind beside them, SQLite takes the index of the kind, by which a
    whole history is gone through for one person.
    """
    unchanged: ColumnElement[str] = text.concat("")
    return unchanged


def given(ids: Keys) -> dict[str, Any]:
    """Return the numbers, or words, as what a statement that asks for `IDS` is read with."""
    return {_GIVEN.key: list(ids)}


def many(
    session: Session, wanted: Select[*Columns], ids: Keys | None = None
) -> Sequence[Row[*Columns]]:
    """Return rows of columns as the driver's, for questions about a whole register.

    A session looks at each value of each row once more, to make objects of them; here there is
    none to make. What was added to the session must be flushed before. `ids` are the numbers of
    a statement that asks for `IDS`.
    """
    values = None if ids is None else given(ids)
    return session.connection().execute(wanted, values).all()


def many_now(
    session: Session, wanted: Select[*Columns], ids: Keys | None = None
) -> Sequence[Row[*Columns]]:
    """Return the same once whatever was only added to the session is written down."""
    session.flush()
    return many(session, wanted, ids)


def many_of(
    session: Session, _table: type[T], wanted: Select[*tuple[Any, ...]], ids: Sequence[int]
) -> Sequence[T]:
    """Return the same of a statement over the whole table that was made before, by `IDS`."""
    return cast(Sequence[T], many(session, wanted, ids))


class _View(Bundle[View]):
    """Columns read as a dataclass."""

    def __init__(
        self, view: type[View], sources: Sequence[Source], more: dict[str, Expression]
    ) -> None:
        # Statements are remembered by their columns and this name: two views of the same
        # columns must not share one, or the second would be read as the first.
        name = f"{view.__module__}.{view.__qualname__}"
        names = [field.name for field in fields(view)]
        super().__init__(name, *(more[n] if n in more else _column(n, sources) for n in names))
        self.view = view

    def create_row_processor(
        self,
        query: Select[*tuple[Any, ...]],
        procs: Sequence[Callable[[Row[*tuple[Any, ...]]], Any]],
        labels: Sequence[str],
    ) -> Callable[[Row[*tuple[Any, ...]]], Any]:
        """Return what makes the dataclass of a row."""
        view = self.view
        return lambda row: view(*[value(row) for value in procs])


def _column(name: str, sources: Sequence[Source]) -> Any:
    having = (source for source in sources if hasattr(source, name))
    return getattr(next(having, sources[0]), name)


def table_of(kind: type[Base]) -> Table:
    """Return a class's plain table, for statements that insert, update or delete.

    A statement over the class itself would look for loaded objects to bring up to date. There
    are none, and looking costs more than the statement.
    """
    table = kind.__table__
    assert isinstance(table, Table)
    return table
