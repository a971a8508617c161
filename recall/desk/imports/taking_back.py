"""A run is taken back whole by its number: what it made is voided, what it changed is restored.

What somebody has touched since stays, and is listed: a confirmed visit, a person who was written
to, rung, booked or changed. Nothing is removed: voided rows say of which run they were.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import msgspec
from sqlalchemy import delete, exists, select, update
from sqlalchemy.orm import Session

from recall.desk.core.guarding import needs
from recall.desk.core.replanning import mark
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.imports import people_back, referrals_back
from recall.desk.imports.taken_back import TakenBack
from recall.errors import Conflict, NotFound
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.journal import history
from recall.records.tables.statements import table_of

Landed = tables.Visit | tables.Contact | tables.Booking
REPLACED = "Changed in the practice's file."
"""Why a row was voided whose place a file's newer one took."""
_TABLES: dict[str, type[Landed]] = {
    "visit": tables.Visit,
    "contact": tables.Contact,
    "booking": tables.Booking,
}


@needs(Right.TAKE_IN_FILES)
def look_at_taking_back(desk: Desk, run: int) -> TakenBack:
    """Return what taking a run back would come to; nothing is changed.

    Raises:
        NotFound: there is no such run, or it was taken back already.
        Conflict: a later run of its kind stands.
    """
    with desk.store.rehearse() as session:
        return _take_back(desk, session, run)


@needs(Right.TAKE_IN_FILES)
def take_back(desk: Desk, run: int) -> TakenBack:
    """Take a run back; whoever it was about waits to be planned anew.

    Raises:
        NotFound: there is no such run, or it was taken back already.
        Conflict: a later run of its kind stands.
    """
    with desk.store.write() as session:
        return _take_back(desk, session, run)


def _take_back(desk: Desk, session: Session, run: int) -> TakenBack:
    row = _run(session, run)
    done = TakenBack(run, row.file_name)
    told = _told(session, run)
    for entity, kind in _TABLES.items():
        mine = {n: what for what, of, n, _person in told if of == entity}
        _rows_back(desk, session, done, kind, mine)
    people_back.take_back(desk, session, done, told)
    if row.kind in ("referrals", "tests"):
        referrals_back.take_back(desk, session, done, told)
    _forget(session, run, row.kind, done, _before(session, run))
    void = _void(desk, f"Taken back by {desk.by.handle}.")
    table = table_of(tables.ImportRun)
    session.execute(update(table).where(table.c.id == run).values(**void))
    done.note("taken back", "import_run", run, None)
    history.append_all(session, desk.by.id, desk.now, done.changes)
    mark(session, done.touched)
    return done


def _void(desk: Desk, why: str) -> dict[str, Any]:
    return {"void_at": desk.now, "void_by_id": desk.by.id, "void_why": why}


def _run(session: Session, run: int) -> tables.ImportRun:
    c = tables.ImportRun
    row = session.get(c, run)
    if row is None or row.void_at is not None:
        raise NotFound(
            f"There is no run {run} that stands.", hint="recall import shows its number."
        )
    later = select(c.id).where(c.kind == row.kind, c.id > run, stands(c)).order_by(c.id.desc())
    if (last := session.scalar(later.limit(1))) is not None:
        raise Conflict(
            f"Run {last} took {row.kind} in after run {run}.", hint=f"Take run {last} back first."
        )
    return row


def _told(session: Session, run: int) -> list[tuple[str, str, int, int | None]]:
    """Return what a run did: what, to which row, of whom."""
    h, p = tables.History, tables.HistoryPayload
    wanted = (
        select(h.what, h.entity, h.entity_id, h.person_id, p.content)
        .join(p, p.history_id == h.id)
        .where(people_back.of_run(run))
        .order_by(h.id)
    )
    return [(what, entity, n, person) for what, entity, n, person, _ in session.execute(wanted)]


def _before(session: Session, run: int) -> dict[str, Any]:
    """Return what the file had said before, by key."""
    h, p = tables.History, tables.HistoryPayload
    wanted = (
        select(p.content)
        .join(h, p.history_id == h.id)
        .where(h.entity == "import_run", h.entity_id == run, h.what == "replaced")
        .order_by(h.id)
    )
    found: dict[str, Any] = {}
    for content in session.scalars(wanted):
        found |= msgspec.json.decode(content or "{}").get("was", {})
    return found


def _rows_back(
    desk: Desk,
    session: Session,
    done: TakenBack,
    table: type[Landed],
    mine: dict[int, str],
) -> None:
    """Void what a run made, and let stand again what it took the place of."""
    name = table.__tablename__
    for some in pages(sorted(mine)):
        touched = _touched(session, table, some)
        wanted = select(table.id, table.person_id, table.ref, table.void_at)
        wanted = wanted.where(table.id.in_(some)).order_by(table.id)
        rows = session.execute(wanted).all()
        for number, person, ref, void_at in rows:
            if number in touched or void_at is not None:
                done.stays.append(f"{name} {ref or number}: {touched.get(number, 'voided since')}")
                done.refs.add(ref or "")
                continue
            _void_one(desk, session, table, number, f"Run {done.run} was taken back.")
            done.note("voided", name, number, person)
            done.touched.add(person)
            done.voided[name] += 1
            if mine[number] == "corrected":
                _stand_again(session, done, table, number)


def _void_one(desk: Desk, session: Session, kind: type[tables.Base], number: int, why: str) -> None:
    table = table_of(kind)
    session.execute(update(table).where(table.c.id == number).values(**_void(desk, why)))


def _stand_again(
    session: Session,
    done: TakenBack,
    kind: type[Landed],
    number: int,
) -> None:
    """Let the row stand again whose place a voided one took."""
    table, new = table_of(kind), session.get(kind, number)
    assert isinstance(new, Landed), "it was just voided"
    old = select(kind).where(kind.ref == new.ref, kind.id < number, kind.void_why == REPLACED)
    was = session.scalars(old.order_by(kind.id.desc()).limit(1)).one_or_none()
    if not isinstance(was, Landed):
        return
    stands_again = {"void_at": None, "void_by_id": None, "void_why": None}
    session.execute(update(table).where(table.c.id == was.id).values(**stands_again))
    done.note("restored", kind.__tablename__, was.id, was.person_id)
    done.touched.add(was.person_id)
    done.restored[kind.__tablename__] += 1


def _touched(
    session: Session,
    table: type[Landed],
    numbers: Sequence[int],
) -> dict[int, str]:
    """Return what somebody has touched since, with how."""
    if table is tables.Visit:
        c = tables.Visit
        confirmed = select(c.id).where(c.id.in_(numbers), c.confirmed_at.is_not(None))
        return dict.fromkeys(session.scalars(confirmed), "is confirmed")
    if table is tables.Booking:
        b, e = tables.Booking, tables.BookingEvent
        later = exists().where(e.booking_id == b.id, stands(e), e.recorded_at != b.recorded_at)
        ended = select(b.id).where(b.id.in_(numbers), later)
        return dict.fromkeys(session.scalars(ended), "what became of it was recorded")
    return {}


def _forget(session: Session, run: int, kind: str, done: TakenBack, before: dict[str, Any]) -> None:
    """Let the register know of the file what it knew before the run."""
    c, table = tables.ImportSeen, table_of(tables.ImportSeen)
    for ref in session.scalars(
        select(c.ref).where(c.kind == kind, c.import_run_id == run).order_by(c.ref)
    ).all():
        if ref in done.refs:
            continue
        mine = table.c.kind == kind, table.c.ref == ref
        was = before.get(ref)
        if was is None:
            session.execute(delete(table).where(*mine))
        else:
            values = {"row_digest": was[0], "fields": was[1], "import_run_id": was[2]}
            session.execute(update(table).where(*mine).values(**values))
