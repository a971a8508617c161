"""Storing ledgers: what the fold says of a person becomes rows, in one transaction.

Nothing is removed and no due's dates are edited; all changes go into the history.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import update
from sqlalchemy.orm import Session

from recall.records import tables
from recall.records.database.bulk import insert_numbered, insert_rows
from recall.records.facts.cases import pages
from recall.records.journal import history
from recall.records.ledger.changes import Changes, Values
from recall.records.ledger.reconcile import reconcile_dues
from recall.records.ledger.referrals import reconcile_referrals
from recall.records.ledger.regroup import Opening, Opens, groups_that_stand, regroup
from recall.records.ledger.stored import NO_LONGER_ASKED, stored_ledgers
from recall.records.tables.statements import table_of
from recall.schedule.combine import as_they_are, group_apart
from recall.schedule.plan import Due, Ledger
from recall.schedule.sharing import IsOpen, on_weekdays

__all__ = ["Opening", "Stored", "Who", "store_ledger", "store_ledgers"]


@dataclass(frozen=True)
class Who:
    """Who stores, when, and for which day."""

    by_id: int
    at: datetime
    on: date


@dataclass(frozen=True)
class Sharing:
    """What may share an appointment."""

    is_open: IsOpen = on_weekdays
    """Whether the practice is open on a day."""
    apart: Callable[[Due], bool] = lambda due: False
    """What shares none with anything that it does not pick."""


ON_WEEKDAYS = Sharing()


@dataclass(frozen=True)
class Stored:
    """What storing changed: the follow-ups and referrals whose search columns to set anew."""

    dues_asked: int
    dues_closed: int
    opened: tuple[int, ...]
    changed: tuple[int, ...]
    referrals: tuple[int, ...]
    asked_again: int = 0
    """Dues and referrals that had ended and stand again."""


def store_ledger(
    session: Session, person_id: int, ledger: Ledger, who: Who, opens: Opens
) -> Stored:
    """Make one person's rows say what the ledger says; see `store_ledgers`."""
    return store_ledgers(session, {person_id: ledger}, who, opens)


def store_ledgers(
    session: Session,
    ledgers: Mapping[int, Ledger],
    who: Who,
    opens: Opens,
    *,
    sharing: Sharing = ON_WEEKDAYS,
    protocol_id: int | None = None,
) -> Stored:
    """Make some people's rows say what their ledgers say.

    Args:
        session: one that writes.
        ledgers: by the person's number.
        who: who stores, when, and for which day.
        opens: the first contact step of a follow-up, from the protocol's contact steps.
        sharing: what may share an appointment, for those whose dues are grouped anew.
        protocol_id: the protocol that new dues and referrals were planned by.
    """
    session.flush()
    stored = {n: k for some in pages(ledgers) for n, k in stored_ledgers(session, some).items()}
    worked_out = []
    for person_id, ledger in ledgers.items():
        changes, mine = Changes(person_id), stored[person_id]
        reconciled = reconcile_dues(changes, mine, ledger, who.on)
        kept = groups_that_stand(mine, reconciled, ledger.open)
        if kept is None or any(len({sharing.apart(due) for due in part}) > 1 for part in kept):
            groups = group_apart(ledger.open, sharing.is_open, sharing.apart)
        else:
            groups = as_they_are(kept)
        regroup(changes, mine, reconciled, groups, who.on, opens)
        reconcile_referrals(changes, mine, ledger, who.on)
        worked_out.append(changes)
    _write(session, worked_out, who, protocol_id)
    session.expire_all()
    return _stored(worked_out)


def _write(
    session: Session, everyone: Sequence[Changes], who: Who, protocol_id: int | None
) -> None:
    """Write all changes, table by table; rows that others point to come first."""
    made = {"recorded_at": who.at, "by_id": who.by_id}
    planned = {**made, "protocol_id": protocol_id}
    _insert(session, tables.Due, everyone, "new_dues", planned)
    for is_open in (True, False):
        ids = [i for c in everyone for i, opens in c.due_states if opens is is_open]
        _turn(session, ids, is_open)
    events = [{"due_id": r.id, **v} for c in everyone for r, v in c.due_events]
    _insert_plain(session, tables.DueEvent, events, made)
    _insert(session, tables.FollowUp, everyone, "new_follow_ups", made)
    _update(session, tables.FollowUp, [u for c in everyone for u in c.follow_ups])
    _leave(session, [due_id for c in everyone for due_id in c.left], who.at)
    links = [{"follow_up_id": f.id, "due_id": d.id} for c in everyone for f, d in c.links]
    _insert_plain(session, tables.FollowUpDue, links, made)
    _insert(session, tables.Referral, everyone, "new_referrals", planned)
    _update(session, tables.Referral, [u for c in everyone for u in c.referrals])
    _unclose(session, [i for c in everyone for i in c.unclosed], who)
    events = [{"referral_id": r.id, **v} for c in everyone for r, v in c.referral_events]
    _insert_plain(session, tables.ReferralEvent, events, made)
    history.append_all(session, who.by_id, who.at, _history_lines(everyone))


def _insert(
    session: Session, table: type[tables.Base], everyone: Sequence[Changes], name: str, made: Values
) -> None:
    """Insert the new rows of one field of the changes, and fill in their numbers."""
    new = [(row, changes, v) for changes in everyone for row, v in getattr(changes, name)]
    if not new:
        return
    rows = [{"person_id": changes.person_id, **values} for _row, changes, values in new]
    numbers = insert_numbered(session, table, rows, made)
    for (row, _changes, _values), number in zip(new, numbers, strict=True):
        row.id = number


def _insert_plain(
    session: Session, kind: type[tables.Base], rows: list[Values], made: Values
) -> None:
    """Insert rows that nothing points to; all get the same columns, so that one statement does."""
    if rows:
        table = table_of(kind)
        names = {name for row in rows for name in row}
        blank = {name: None if table.c[name].nullable else "" for name in names}
        insert_rows(session, kind, [{**blank, **row} for row in rows], made)


def _turn(session: Session, ids: Sequence[int], is_open: bool) -> None:
    if ids:
        session.execute(
            update(table_of(tables.Due)).where(tables.Due.id.in_(ids)).values(is_open=is_open)
        )


def _leave(session: Session, due_ids: Sequence[int], at: datetime) -> None:
    if due_ids:
        held = tables.FollowUpDue.due_id.in_(due_ids), tables.FollowUpDue.left_at.is_(None)
        session.execute(update(table_of(tables.FollowUpDue)).where(*held).values(left_at=at))


def _unclose(session: Session, referral_ids: Sequence[int], who: Who) -> None:
    if referral_ids:
        closed = (
            tables.ReferralEvent.referral_id.in_(referral_ids),
            tables.ReferralEvent.what.in_(("closed", NO_LONGER_ASKED)),
        )
        session.execute(
            update(table_of(tables.ReferralEvent))
            .where(*closed, tables.ReferralEvent.void_at.is_(None))
            .values(void_at=who.at, void_by_id=who.by_id, void_why="Asked for again.")
        )


def _update(
    session: Session,
    kind: type[tables.FollowUp | tables.Referral],
    rows: Sequence[tuple[int, Values]],
) -> None:
    """Update rows one by one and count their versions, so that a desk notices."""
    table = table_of(kind)
    for number, values in rows:
        values = {**values, "version": table.c.version + 1}
        session.execute(update(table).where(table.c.id == number).values(**values))


def _history_lines(everyone: Sequence[Changes]) -> list[history.Change]:
    return [
        history.Change(n.what, n.entity, n.row.id or 0, n.was, n.now, changes.person_id)
        for changes in everyone
        for n in changes.history
    ]


def _stored(everyone: Sequence[Changes]) -> Stored:
    noted = [n for changes in everyone for n in changes.history]
    return Stored(
        dues_asked=sum(len(c.new_dues) for c in everyone),
        dues_closed=sum((n.what, n.entity) == ("closed", "due") for n in noted),
        asked_again=sum(n.what == "reopened" and n.entity in ("due", "referral") for n in noted),
        opened=tuple(r.id or 0 for c in everyone for r, _v in c.new_follow_ups),
        changed=tuple(number for c in everyone for number, _v in c.follow_ups),
        referrals=tuple(n.row.id or 0 for n in noted if n.entity == "referral"),
    )
