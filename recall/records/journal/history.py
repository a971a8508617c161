"""The history of changes: a chain that shows when a row of it was changed or is missing.

Each row's digest covers the row, a digest of what changed, and the digest before it. What
changed lies in a row of its own, with a random salt: it can lawfully be erased, and the chain
stays whole. A single row says how long the chain is, so that a lost tail is noticed.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import msgspec
from sqlalchemy import func, select, update
from sqlalchemy.orm import Session

from recall.records.database.bulk import insert_tuples
from recall.records.database.store import Store
from recall.records.journal import seals
from recall.records.tables import History, HistoryHead, HistoryPayload
from recall.records.tables.statements import read_as, whole

START = "0" * 64
ERASED = "erased"
SET_BACK = "clock_set_back"
"""What a line says that stands before the first one with an instant earlier than the last."""
SLACK = timedelta(seconds=10)
"""An instant may be read before another desk's and written after it: so long may a desk wait."""
_PAGE = 5000
_encode = msgspec.json.Encoder().encode


class Change(msgspec.Struct, frozen=True):
    """One thing that changed, before it is written down: its rows are written already."""

    what: str
    """A verb in the past: added, closed, moved."""
    entity: str
    entity_id: int
    was: Any = None
    now: Any = None
    person_id: int | None = None
    seal: str | None = None
    """The row's seal, where it is known; given only for a row that the same write has put in
    and does not touch again."""


@dataclass(frozen=True)
class Broken:
    """A place where the history is not whole."""

    seq: int
    because: str


def append(
    session: Session, by_id: int, at: datetime, what: str, entity: str, entity_id: int, **more: Any
) -> int:
    """Write one change down and return its number; `more` is `was`, `now`, `person_id`."""
    return append_all(session, by_id, at, [Change(what, entity, entity_id, **more)])


def append_all(session: Session, by_id: int, at: datetime, changes: Iterable[Change]) -> int:
    """Write changes down in their order and return the last one's number in the chain."""
    head = session.execute(select(HistoryHead).with_for_update()).scalar_one_or_none()
    seq, previous = (head.seq, head.digest) if head else (0, START)
    rows: list[tuple[Any, ...]] = []
    payloads: list[tuple[int, str, str]] = []
    at = at.astimezone(UTC)
    changes = list(changes)
    unsealed = {(c.entity, c.entity_id) for c in changes if c.seal is None}
    sealed = seals.seals(session, unsealed)
    lines = [*_set_back(session, seq, at), *changes] if changes else []
    instant = at.isoformat()
    for change, salt in zip(lines, _salts(len(lines)), strict=True):
        seq += 1
        seal = change.seal or sealed.get((change.entity, change.entity_id))
        content = _content(change, seal)
        covered = (
            *(seq, by_id, change.what, change.entity, change.entity_id, change.person_id),
            _payload_digest(salt, content),
        )
        digest = _digest(instant, covered, previous)
        rows.append((*covered, previous, digest))
        payloads.append((seq, salt, content))
        previous = digest
    if not rows:
        return seq
    insert_tuples(session, History, _COLUMNS, rows, {"at": at})
    insert_tuples(session, HistoryPayload, _PAYLOAD, payloads)
    if head is None:
        session.add(HistoryHead(id=1, seq=seq, digest=previous))
    else:
        head.seq, head.digest = seq, previous
    session.flush()
    return seq


def _content(change: Change, seal: str | None) -> str:
    """Return what a line says: from what, to what, and how the row stands sealed."""
    says = {"was": change.was, "now": change.now}
    if seal:
        says["row"] = seal
    return _encode(says).decode()


def _set_back(session: Session, seq: int, at: datetime) -> tuple[Change, ...]:
    """Return the line that marks an instant earlier than the one before; both stay as read."""
    last = session.scalar(select(History.at).where(History.id == seq))
    if last is None or at >= last - SLACK:
        return ()
    return (Change(SET_BACK, "history", seq, last.isoformat(), at.isoformat()),)


def set_back_since(session: Session, number: int) -> Sequence[tuple[int, datetime]]:
    """Return where after a number the clock was earlier than before: line and instant."""
    lines = History.entity == "history", History.what == SET_BACK, History.id > number
    wanted = select(History.id, History.at).where(*lines).order_by(History.id)
    return [(seq, at) for seq, at in session.execute(wanted)]


def told_of(session: Session, entity: str, what: str) -> list[dict[str, Any]]:
    """Return what the lines of one kind say, in order; erased ones are left out."""
    lines = History.entity == entity, History.what == what, HistoryPayload.content.is_not(None)
    wanted = (
        select(HistoryPayload.content)
        .join_from(History, HistoryPayload, HistoryPayload.history_id == History.id)
        .where(*lines)
        .order_by(History.id)
    )
    return [msgspec.json.decode(content) for content in session.scalars(wanted) if content]


def last_seal(session: Session, named: seals.Named) -> str | None:
    """Return what the last line about a row sealed, empty where nothing; None without a line."""
    lines = History.entity == named[0], History.entity_id == named[1]
    wanted = (
        select(HistoryPayload.content)
        .join_from(History, HistoryPayload, HistoryPayload.history_id == History.id)
        .where(*lines)
        .order_by(History.id.desc())
        .limit(1)
    )
    found = session.execute(wanted).one_or_none()
    return found and ((found[0] and _seal(found[0]).row) or "")


def erase(session: Session, by_id: int, at: datetime, why: str, numbers: Sequence[int]) -> None:
    """Erase what these rows say changed; that it was erased, by whom and why stays."""
    session.execute(
        update(HistoryPayload)
        .where(HistoryPayload.history_id.in_(numbers))
        .values(salt=None, content=None, erased_at=at, erased_by_id=by_id, erased_why=why)
    )
    changes = [Change(ERASED, "history", number, now=why) for number in numbers]
    append_all(session, by_id, at, changes)


def erased(store: Store) -> int:
    """Return of how many lines what changed was lawfully erased: their digests still chain."""
    with store.read() as session:
        gone = HistoryPayload.content.is_(None), HistoryPayload.erased_at.is_not(None)
        return session.scalar(select(func.count()).where(*gone)) or 0


def verify(store: Store) -> tuple[Broken, ...]:
    """Return every place where the history is not whole, or a row is not as the history has it."""
    broken: list[Broken] = []
    blanked: set[int] = set()
    lawful: set[int] = set()
    seq, previous = 0, START
    told = _Told()
    with store.read() as session:
        for row, payload in _rows(session):
            if row.id != seq + 1:
                broken.append(Broken(seq + 1, f"missing up to {row.id - 1}"))
            elif row.previous != previous:
                broken.append(Broken(row.id, "does not follow the row before it"))
            broken += [Broken(row.id, because) for because in _faults(row, payload)]
            if row.what == ERASED and row.entity == "history":
                lawful.add(row.entity_id)
            if payload.content is None:
                blanked.add(row.id)
            told.take(row, payload.content)
            seq, previous = row.id, row.digest
        head = session.execute(select(HistoryHead.seq, HistoryHead.digest)).one_or_none()
        broken += list(told.against(session))
    if (head or (0, START)) != (seq, previous):
        broken.append(Broken(seq + 1, "missing at the end"))
    broken += [Broken(n, "blanked without a record of it") for n in sorted(blanked - lawful)]
    return tuple(broken)


class _Told:
    """What the lines said last of each sealed row."""

    def __init__(self) -> None:
        self._last: dict[seals.Named, tuple[str, int]] = {}
        self._named: set[seals.Named] = set()

    def take(self, row: History, content: str | None) -> None:
        """Take the seal of a line; an erased one says nothing any more."""
        named = row.entity, row.entity_id
        if row.entity in seals.SEALED:
            self._named.add(named)
            self._last.pop(named, None)
            seal = _seal(content).row if content and '"row":"' in content else None
            if seal is not None:
                self._last[named] = seal, row.id

    def against(self, session: Session) -> Iterator[Broken]:
        """Give the rows that are not as the history has them."""
        last = {named: seal for named, (seal, _line) in self._last.items()}
        for one in seals.unfit(session, last, self._named):
            line = self._last.get((one.table, one.number), ("", 0))[1]
            yield Broken(line, f"{one.table.replace('_', ' ')} {one.number} {one.because}")


class _Seal(msgspec.Struct):
    row: str | None = None


def _seal(content: str) -> _Seal:
    """Return the seal that a line holds, if any."""
    try:
        return msgspec.json.decode(content, type=_Seal)
    except msgspec.DecodeError:  # a line that was changed: told as such
        return _Seal()


@dataclass(frozen=True)
class _Payload:
    """What a row of the history says changed; all None where the payload's row is missing."""

    history_id: int | None
    salt: str | None
    content: str | None


def _rows(session: Session) -> Iterator[tuple[History, _Payload]]:
    """Give all rows with their payloads, a page at a time."""
    wanted = (
        select(whole(History), read_as(_Payload, HistoryPayload))
        .join_from(History, HistoryPayload, History.id == HistoryPayload.history_id, isouter=True)
        .order_by(History.id)
        .limit(_PAGE)
    )
    last = 0
    while page := session.execute(wanted.where(History.id > last)).all():
        yield from page
        last = page[-1][0].id


def _faults(row: History, payload: _Payload) -> Iterator[str]:
    """Say what is wrong with one row by itself."""
    says = [getattr(row, name) for name in _COVERED]
    if _digest(row.at.isoformat(), says, row.previous) != row.digest:
        yield "changed"
    if payload.history_id is None:
        yield "without what changed"
    elif payload.content is not None and (
        payload.salt is None or _payload_digest(payload.salt, payload.content) != row.payload_digest
    ):
        yield "what changed was changed"


def _payload_digest(salt: str, content: str) -> str:
    return hashlib.sha256(f"{salt}{content}".encode()).hexdigest()


_SALT = 16
_COVERED = ("id", "by_id", "what", "entity", "entity_id", "person_id", "payload_digest")
_COLUMNS = (*_COVERED, "previous", "digest")
_PAYLOAD = ("history_id", "salt", "content")


def _digest(instant: str, covered: Iterable[Any], previous: str) -> str:
    """Return the digest over everything that a row says and the digest before it."""
    return hashlib.sha256(_encode([instant, *covered, previous])).hexdigest()


def _salts(count: int) -> list[str]:
    """Return as many salts of 16 bytes, from one call for them all."""
    drawn = secrets.token_hex(_SALT * count) if count else ""
    return [drawn[n : n + 2 * _SALT] for n in range(0, len(drawn), 2 * _SALT)]
