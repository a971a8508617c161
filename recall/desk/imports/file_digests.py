"""What a file said of each row when it was last taken in, as digests.

Fields that the file has not changed since are left as the desk has them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import lru_cache
from hashlib import blake2b
from typing import Any, Generic, NamedTuple, TypeVar

import msgspec
from sqlalchemy import Select, bindparam, select, update
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.exchange.problem import Problem, Wrong
from recall.exchange.rows_in import Read, Reading
from recall.records import tables
from recall.records.database.bulk import insert_tuples
from recall.records.journal.history import Change
from recall.records.tables.statements import REFS, many, table_of

_encode = msgspec.json.Encoder(order="deterministic").encode
_SAID = ("row_digest", "fields", "import_run_id")
Digests = dict[str, str]
"""Field, or item of a list, to digest."""
Row = TypeVar("Row")
Key = TypeVar("Key")
Value = TypeVar("Value")


class Fresh(NamedTuple, Generic[Row]):
    """A good row that the register has not seen in just this form."""

    key: str
    digest: str
    row: Row
    read: Read[Row]


Refused = Iterable[tuple[Fresh[Row], Wrong]]


@dataclass(frozen=True, slots=True)
class FileDigests:
    """A row as the file had it when it was last taken in."""

    id: int
    digest: str
    fields: Digests
    run: int = 0


class Loss(NamedTuple):
    """One thing that a file takes away."""

    ref: str
    """The practice's own reference of the person or the visit."""
    what: str
    """The kind of thing, in words."""
    which: str = ""


@dataclass
class Batch:
    """What one file makes of the register, gathered for writing in bulk."""

    desk: Desk
    run_id: int
    added: int = 0
    changed: int = 0
    unchanged: int = 0
    done: int = 0
    history: list[Change] = field(default_factory=list)
    answered: int = 0
    """Dues that a newer visit answers, or sets anew: that is what visits are for."""
    rewritten: set[int] = field(default_factory=set)
    """People of whom something known is said otherwise, or a visit put in behind another."""
    to_plan: set[int] = field(default_factory=set)
    named: set[int] = field(default_factory=set)
    """People who are new, or whose name, birth date or postcode changed."""
    columns: frozenset[str] = frozenset()
    """The columns that this file has."""
    ever: frozenset[str] = frozenset()
    """The columns that earlier files of its kind had."""
    kept: list[Problem] = field(default_factory=list)
    """What the file would have changed and may not: what the register holds stands."""
    said_before: dict[str, tuple[str, str, int]] = field(default_factory=dict)
    """What the file said before of rows that it says otherwise: digests, and in which run."""
    people_before: dict[int, dict[str, Any]] = field(default_factory=dict)
    """What people's fields were before it changed them."""
    told: list[str] = field(default_factory=list)
    """What was recognised as known already, or as moved."""
    lost: list[Loss] = field(default_factory=list)
    """What it takes away."""

    @property
    def made(self) -> dict[str, Any]:
        """Return who recorded, when and for which day."""
        return {"on": self.desk.today, "recorded_at": self.desk.now, "by_id": self.desk.by.id}

    def note(
        self,
        what: str,
        entity: str,
        number: int,
        person_id: int,
        was: Any = None,
        seal: str | None = None,
        **more: Any,
    ) -> None:
        """Add a line for the history; `was` is what taking the run back puts back.

        `seal` is the row's, where this put it in.
        """
        now = {"import": self.run_id, **more}
        self.history.append(Change(what, entity, number, was, now, person_id, seal))

    def tell(self, what: str, entity: str, number: int, person_id: int, why: str) -> None:
        """Add a line for the history about a row that the file does not bring, but sets aside.

        It is none of the run's own rows: taking the run back goes by those that took its place.
        """
        self.history.append(Change(what, entity, number, now=why, person_id=person_id))


@dataclass(frozen=True)
class Importer(Generic[Row]):
    """How a kind of file is read and written."""

    kind: str
    read: Callable[..., Reading[Row]]
    keys: Callable[[], Callable[[Row], str]]
    """Gives, for one file, what tells its rows apart."""
    write: Callable[[Session, Batch, Sequence[Fresh[Row]]], Refused[Row]]
    about: Callable[[Session, Sequence[Fresh[Row]]], set[int]]
    """Gives the people of whom rows could change what is known; nobody, where all is new."""
    check: Callable[[Session, Sequence[Fresh[Row]]], Refused[Row]]
    """Gives the rows that only the register can know to be wrong."""
    known_days: Callable[[Session, Sequence[str]], Mapping[str, date]]
    """Gives the days that the register knows by some keys: for the column that is `dated`."""
    dated: str = "on"
    """The column whose days tell from when to when a file goes."""


def row_digest(row: object) -> str:
    """Return the digest of a whole row."""
    return blake2b(_encode(row), digest_size=16).hexdigest()


def digest(value: object) -> str:
    """Return the digest of one field; short, for it is only compared with its own past."""
    return _digest_of(_encode(value))


@lru_cache(1 << 14)
def _digest_of(encoded: bytes) -> str:
    """Digest once what many rows say: findings are a few words said over and over."""
    return blake2b(encoded, digest_size=6).hexdigest()


def field_digests(fields: Mapping[str, object]) -> Digests:
    """Return the digests of the fields that hold anything."""
    return {name: digest(value) for name, value in fields.items() if value not in (None, "", ())}


def as_kept(digests: Mapping[str, str]) -> str:
    """Return digests as they are kept of a row, in the order of their names."""
    return _encode(digests).decode()


def read_digests(session: Session, kind: str) -> dict[str, str]:
    """Return the digest of every row of a kind, as last seen."""
    wanted = select(tables.ImportSeen.ref, tables.ImportSeen.row_digest).where(
        tables.ImportSeen.kind == kind
    )
    return pairs(session, wanted)


def pairs(session: Session, wanted: Select[Key, Value]) -> dict[Key, Value]:
    """Return the rows of a statement for two columns, as one from the other."""
    return dict(session.execute(wanted).all())


def file_digests(session: Session, kind: str, keys: Sequence[str]) -> dict[str, FileDigests]:
    """Return what was seen before of some rows."""
    c = tables.ImportSeen
    columns = c.ref, c.id, c.row_digest, c.fields, c.import_run_id
    wanted = select(*columns).where(c.kind == kind, c.ref.in_(REFS))
    return {
        ref: FileDigests(number, row, msgspec.json.decode(fields), run)
        for ref, number, row, fields, run in many(session, wanted, keys)
    }


def changed_fields(was: Digests, now: Digests) -> set[str]:
    """Return the fields that the file itself has changed, emptied or filled."""
    return {name for name in was.keys() | now.keys() if was.get(name) != now.get(name)}


def remember(
    session: Session,
    batch: Batch,
    kind: str,
    rows: Sequence[tuple[Fresh[Row], Digests | str]],
    last_said: Mapping[str, FileDigests],
) -> None:
    """Keep what the file now says of rows that landed: digests, or as they are kept."""
    new: list[tuple[str, str, str]] = []
    again: list[dict[str, Any]] = []
    for fresh, fields in rows:
        now = fresh.digest, fields if isinstance(fields, str) else as_kept(fields)
        was = last_said.get(fresh.key)
        if was is None:
            new.append((fresh.key, *now))
            continue
        said = was.digest, as_kept(was.fields), was.run
        batch.said_before.setdefault(fresh.key, said)
        values = dict(zip(_SAID, (*now, batch.run_id), strict=True))
        again.append({"number": was.id} | {f"new_{name}": v for name, v in values.items()})
    all_have = {"kind": kind, "import_run_id": batch.run_id}
    insert_tuples(session, tables.ImportSeen, ("ref", "row_digest", "fields"), new, all_have)
    if again:
        changes: dict[str, Any] = {name: bindparam(f"new_{name}") for name in _SAID}
        statement = (
            update(table_of(tables.ImportSeen))
            .where(tables.ImportSeen.id == bindparam("number"))
            .values(**changes)
        )
        session.connection().execute(statement, again)
