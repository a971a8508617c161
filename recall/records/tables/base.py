"""What every table shares: naming of constraints, own column types, who and when.

Promise: every fact row says which day it is about, when and by whom it was recorded, and
whether it was voided. Nothing is deleted.

The modules of this folder leave `from __future__ import annotations` out: each annotation would
be a text that SQLAlchemy evaluates anew at every start, a fifth of the time that the tables take.
"""

from collections.abc import Iterable
from datetime import UTC, date, datetime
from typing import Any, ClassVar, Literal, TypeVar

import msgspec
from sqlalchemy import (
    CheckConstraint,
    DateTime,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Text,
    column,
    func,
    literal_column,
    select,
    table,
    text,
)
from sqlalchemy.engine import Dialect
from sqlalchemy.orm import DeclarativeBase, Mapped, MappedColumn, declared_attr, mapped_column
from sqlalchemy.types import TypeDecorator

from recall.care.case import Category, Do, RiskWord, To, Track, Urgency
from recall.care.ear import Side
from recall.loop.addressee import Role, Safe
from recall.loop.outcomes import Channel
from recall.loop.referral import Route, Stage
from recall.records.tables.remembered import Maker, Remembered
from recall.schedule.plan import Action, Because, CloseReason, EndReason, Kind

T = TypeVar("T")
DoneWord = Literal["looked", "address_checked", "gp_told", "held", "carry_on", "keep_trying"]
ContactPointKind = Literal["phone", "address", "email"]
NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
"""Names of constraints. Never edited: later migrations drop constraints by these names."""


class _Remembering(TypeDecorator[T]):
    """A type whose values are made of what was stored once for all rows that share them."""

    cache_ok = True
    _known: ClassVar[dict[tuple[type, str], Remembered]] = {}

    def result_processor(self, dialect: Dialect, coltype: object) -> Maker:
        """Return what makes a value of what is stored, for all statements alike."""
        key = type(self), dialect.name
        if key not in self._known:
            make = super().result_processor(dialect, coltype)
            assert make is not None, "these types look at every value"
            self._known[key] = Remembered(make)
        return self._known[key].__getitem__


class UtcDateTime(_Remembering[datetime]):
    """An instant: refuses a naive one, stores UTC, gives an aware one back."""

    impl = DateTime
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the instant in UTC without its zone, as it is stored."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant needs its time zone")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Return the stored instant as an aware one."""
        return None if value is None else value.replace(tzinfo=UTC)


class Words(_Remembering[tuple[str, ...]]):
    """A short list of words, stored as a JSON list."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Iterable[str] | None, dialect: Dialect) -> str | None:
        """Return the list as JSON."""
        return None if value is None else msgspec.json.encode(list(value)).decode()

    def process_result_value(self, value: str | None, dialect: Dialect) -> tuple[str, ...] | None:
        """Return the list as a tuple."""
        return None if value is None else tuple(msgspec.json.decode(value))


_WORDS: tuple[Any, ...] = (
    *(Category, RiskWord, Side, To, Track, Urgency),
    *(Action, Because, CloseReason, EndReason, Kind),
    *(Channel, DoneWord, ContactPointKind, Role, Route, Safe, Stage),
)
"""What a column of one word may hold. Stored as text, with a constraint by the table that wants
one: left to itself, SQLAlchemy would make an enumeration of each."""
_LISTS: tuple[Any, ...] = (tuple[Do, ...], tuple[Side, ...], tuple[Track, ...])


_HEAD = table("history_head", column("seq", Integer()))
HISTORY_NOW = select(func.coalesce(func.max(_HEAD.c.seq), literal_column("0"))).scalar_subquery()
"""How long the history is when a row is written: worked out by the database itself."""


class Base(DeclarativeBase):
    """All tables of the register."""

    metadata = MetaData(naming_convention=NAMING)
    type_annotation_map: ClassVar[dict[Any, Any]] = {
        datetime: UtcDateTime,
        str: String(),
        tuple[str, ...]: Words,
        **dict.fromkeys(_WORDS, String()),
        **dict.fromkeys(_LISTS, Words()),
    }


def one_of(column: str, words: Iterable[str]) -> CheckConstraint:
    """Return the constraint that lets a column hold only these words (or nothing)."""
    listed = ", ".join(f"'{word}'" for word in words)
    return CheckConstraint(f'"{column}" IN ({listed})', name=column)


def key() -> MappedColumn[Any]:
    """Return a column for a table's own number."""
    return mapped_column(primary_key=True)


def link(target: str, **options: Any) -> MappedColumn[Any]:
    """Return a column that points to another table's row, which then cannot be removed."""
    return mapped_column(ForeignKey(f"{target}.id", ondelete="RESTRICT"), **options)


class Recorded:
    """Who recorded a row, and when."""

    recorded_at: Mapped[datetime]
    """By the machine's clock, whichever day it was about."""
    recorded_no: Mapped[int] = mapped_column(default=HISTORY_NOW, server_default=text("0"))
    """The history's last number when it was recorded: this puts rows in order, whatever the clock
    said. 0 in rows from before revision 0016, which their instants put in order."""

    @declared_attr
    def by_id(cls) -> Mapped[int]:  # noqa: N805
        """Return the column of the member of staff who recorded it."""
        return link("staff")


class Fact(Recorded):
    """A row about one day, recorded by somebody, voided rather than removed."""

    on: Mapped[date]
    void_at: Mapped[datetime | None]
    void_why: Mapped[str | None]

    @declared_attr
    def void_by_id(cls) -> Mapped[int | None]:  # noqa: N805
        """Return the column of the member of staff who voided it."""
        return link("staff")


class Versioned:
    """A row that two people can edit: the second is told, by `Conflict`."""

    version: Mapped[int] = mapped_column(default=1)

    @declared_attr.directive
    def __mapper_args__(cls) -> dict[str, Any]:  # noqa: N805
        """Return the mapping options that make SQLAlchemy count and compare versions."""
        return {"version_id_col": cls.version}


def whole_void() -> CheckConstraint:
    """Return the constraint of a fact table: a voided row says when, by whom and why."""
    return CheckConstraint(
        "(void_at IS NULL) = (void_by_id IS NULL) AND (void_at IS NULL) = (void_why IS NULL)",
        name="void_is_whole",
    )


def partial_index(name: str, *columns: str, where: str, unique: bool = False) -> Index:
    """Return an index over the rows for which `where` holds.

    Queue-like lists have only partial indexes: the planner then has no other one to prefer.
    The migrations name the condition for PostgreSQL, too; naming it here would load that
    dialect at every start.
    """
    return Index(name, *columns, unique=unique, sqlite_where=text(where))


OPEN = "is_open = 1"
"""How the open ones are asked for; written so that the planner sees it in the index."""
