"""Seals: what a row said when the history last spoke of it, as a digest inside that line.

So the history can be held against the tables: a row that was changed, taken away or put in past
the program no longer fits the last line about it. Left out are the columns that the program works
out again by itself, and values that say nothing, so that a column added later breaks no seal.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from itertools import compress, repeat
from operator import itemgetter
from typing import Any, TypeVar

import msgspec
from sqlalchemy import Column, Select, Table, select
from sqlalchemy.orm import Session
from sqlalchemy.sql.schema import ScalarElementColumnDefault

from recall.records import tables
from recall.records.tables.statements import IDS, many, table_of

Named = tuple[str, int]
"""A table's name and a row's number."""
_DUE = ("person_id", "ear", "track", "kind", "category", "rule", "rule_version", "asked_on")
_WINDOW = ("earliest", "target", "latest", "urgency", "visit_id")
_LETTER = ("person_id", "follow_up_id", "referral_id", "step", "round", "home", "kind", "on")
_PAGE = ("to_name", "to_lines", "body", "posted_on", "returned_on")
_REFERRAL = ("person_id", "to", "ears", "urgency", "within_days", "asked_on", "sent_by", "seen_by")
_WHOLE = (tables.Person, tables.Visit, tables.Contact, tables.Booking, tables.BookingEvent)
_BESIDE = (tables.ContactPoint, tables.AdultFor, tables.PersonRisk, tables.UnderCare)
_DONE = (tables.Decision, tables.FollowUpEvent)
_PORTION = 1000
_encode = msgspec.json.Encoder().encode
Values = dict[str, Any]
Key = TypeVar("Key")
_NEVER = frozenset({"id", "version", "recorded_no"})
_LINKED = {"booking": {"follow_up_id"}, "contact": {"follow_up_id", "step", "round", "step_no"}}
"""What the program links by itself once a person is planned, without a line."""


def _columns(table: Table, names: Iterable[str] = ()) -> tuple[Column[Any], ...]:
    left_out = _NEVER | _LINKED.get(table.name, set())
    wanted = tuple(names) or [c.name for c in table.c if c.name not in left_out]
    return tuple(table.c[name] for name in wanted)


SEALED: dict[str, tuple[Column[Any], ...]] = {
    **{table_of(t).name: _columns(table_of(t)) for t in (*_WHOLE, *_BESIDE, *_DONE)},
    "due": _columns(table_of(tables.Due), (*_DUE, *_WINDOW)),
    "letter": _columns(table_of(tables.Letter), (*_LETTER, *_PAGE)),
    "referral": _columns(table_of(tables.Referral), _REFERRAL),
    "protocol": _columns(table_of(tables.Protocol)),
}
"""Each table whose rows are sealed, with the columns that never change without a line."""
ALWAYS_TOLD = ("person", "visit", "contact", "booking")
"""Tables of which no row comes without a line of its own."""


@dataclass(frozen=True)
class Unfit:
    """A row that is not as the history has it."""

    table: str
    number: int
    because: str


def seals(session: Session, named: Iterable[Named]) -> dict[Named, str]:
    """Return the seals of some rows as they are now; what is in no sealed table is left out."""
    wanted: dict[str, set[int]] = defaultdict(set)
    for table, number in named:
        if table in SEALED:
            wanted[table].add(number)
    found: dict[Named, str] = {}
    session.flush()  # what is asked below goes past the session
    for table, numbers in wanted.items():
        for some in _some(sorted(numbers)):
            found |= {(table, n): seal for n, seal in _page(session, table, some)}
    return found


def of_new(
    table: str,
    given: Sequence[str],
    rows: Sequence[tuple[Any, ...]],
    all_have: Values,
    beside: Iterable[Any] = repeat(()),
) -> Iterator[str]:
    """Give the seals of rows as they are put in, in order: what `seals` reads of them afterwards.

    Each row holds the columns that are `given`, in their order. `all_have` are columns that have
    one value in all rows; `beside` are each visit's findings, ear and content, by ear.
    """
    names, _wanted = _sealed_columns(table)
    columns: list[Iterable[Any]] = []
    for name in names:
        if name in given:
            values = list(map(itemgetter(given.index(name)), rows))
            columns.append(_pairs(name, values))
        elif value := _usual(table, name, all_have):
            columns.append(repeat(msgspec.Raw(_encode((name, value))), len(rows)))
    for says, seen in zip(zip(*columns, strict=True), beside, strict=False):
        yield _digest(([*filter(None, says)], seen))


def _pairs(name: str, values: Sequence[Any]) -> Iterable[Any]:
    """Return what rows say in a column, as `_says` does: nothing for what says nothing."""
    if all(values):
        return zip(repeat(name), values, strict=False)
    return [(name, value) if value else None for value in values]


def _usual(table: str, name: str, all_have: Values) -> Any:
    """Return what all new rows have in a column, as it is read back."""
    default = tables.Base.metadata.tables[table].c[name].default
    usual = default.arg if isinstance(default, ScalarElementColumnDefault) else None
    value = all_have.get(name, usual)
    return value.astimezone(UTC) if isinstance(value, datetime) else value


def _says(names: Sequence[str], values: Sequence[Any]) -> list[tuple[str, Any]]:
    """Return what a row says: what is nothing, no, zero or empty says nothing."""
    return list(compress(zip(names, values, strict=True), values))


def unfit(session: Session, told: dict[Named, str], named: set[Named]) -> Iterator[Unfit]:
    """Give the rows that do not fit: by their last seal, or with no line that names them."""
    for (table, number), seal in _differing(session, told):
        because = "is gone" if seal is None else "is not as the history has it"
        yield Unfit(table, number, because)
    for name in ALWAYS_TOLD:
        table_ = tables.Base.metadata.tables[name]
        ids = select(table_.c.id).where(table_.c.recorded_no > 0).order_by(table_.c.id)
        for number in session.scalars(ids):
            if (name, number) not in named:
                yield Unfit(name, number, "came past the history")


def _differing(session: Session, told: dict[Named, str]) -> Iterator[tuple[Named, str | None]]:
    for some in _some(sorted(told)):
        now = seals(session, some)
        yield from ((one, now.get(one)) for one in some if now.get(one) != told[one])


def _some(rest: Sequence[Key]) -> Iterator[Sequence[Key]]:
    """Give a portion at a time: a statement takes only so many numbers."""
    return (rest[n : n + _PORTION] for n in range(0, len(rest), _PORTION))


def _page(session: Session, table: str, some: Sequence[int]) -> Iterator[tuple[int, str]]:
    names, wanted = _sealed_columns(table)
    seen = _findings(session, some) if table == "visit" else {}
    for row in many(session, wanted, some):
        number, values = row[0], row[1:]
        yield number, _digest((_says(names, values), seen.get(number, ())))


@cache
def _sealed_columns(table: str) -> tuple[tuple[str, ...], Select[*tuple[Any, ...]]]:
    """Return the names that a seal covers, in order, and what asks for them by number."""
    columns = sorted(SEALED[table], key=lambda column: column.name)
    key = tables.Base.metadata.tables[table].c.id
    return tuple(c.name for c in columns), select(key, *columns).where(key.in_(IDS))


def _findings(session: Session, visits: Sequence[int]) -> dict[int, list[tuple[str, str]]]:
    f = tables.Findings
    found: dict[int, list[tuple[str, str]]] = defaultdict(list)
    wanted = select(f.visit_id, f.ear, f.content).where(f.visit_id.in_(IDS))
    for number, ear, content in many(session, wanted, visits):
        found[number].append((ear, content))
    for ears in found.values():
        ears.sort()
    return found


def _digest(says: Any) -> str:
    return hashlib.sha256(_encode(says)).hexdigest()[:32]
