"""What the plan asks, worked out again from every visit, against the rows that are kept.

An ask is told apart by ear, track, kind and the day that asked: dates may differ where the
practice has adopted another protocol since, and that has a list of its own.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.replanning import NO_END, decided_by_people
from recall.desk.core.session import Desk
from recall.records import tables
from recall.records.facts.cases import cases_of, stands
from recall.schedule.fold import fold
from recall.schedule.plan import Due, Ledger

_due: Any = tables.Due.__table__
_event: Any = tables.DueEvent.__table__
_link: Any = tables.FollowUpDue.__table__
_follow_up: Any = tables.FollowUp.__table__
_referral: Any = tables.Referral.__table__
_to_plan: Any = tables.ToPlan.__table__
Told = tuple[str, int | None, str, int, Any, str]
"""The fields of a finding, in order."""


def check(desk: Desk, session: Session, ids: Sequence[int]) -> Iterator[Told]:
    """Give what is wrong with the kept plans of some people."""
    waiting = set(
        session.scalars(select(_to_plan.c.person_id).where(_to_plan.c.person_id.in_(ids)))
    )
    for number in sorted(waiting):
        yield "not_planned", number, "person", number, None, "Changed, and not planned again yet."
    ids = [number for number in ids if number not in waiting]
    decisions = decided_by_people(session, ids)
    kept = _Kept(session, ids)
    for number, case in cases_of(session, ids).items():
        decided = decisions.get(number, ())
        ledger = fold(case, desk.protocol, NO_END, decisions=decided, population=desk.populations)
        yield from _dues(number, ledger, kept)
        yield from _referrals(number, ledger, kept)
    yield from kept.without_reason()


class _Kept:
    """The rows of some people's dues and referrals, by what tells them apart."""

    def __init__(self, session: Session, ids: Sequence[int]) -> None:
        d, e = _due.c, _event.c
        names = ("id", "person_id", "ear", "track", "kind", "asked_on", "is_open")
        mine = d.person_id.in_(ids), stands(_due)
        rows = session.execute(select(*(d[n] for n in names)).where(*mine)).all()
        self.dues: dict[tuple[Any, ...], list[Any]] = {}
        for row in rows:
            key = row.person_id, row.ear, row.track, row.kind, row.asked_on
            self.dues.setdefault(key, []).append(row)
        held = (
            select(_link.c.due_id)
            .join_from(_link, _follow_up, _link.c.follow_up_id == _follow_up.c.id)
            .join(_due, _link.c.due_id == d.id)
            .where(*mine, _link.c.left_at.is_(None), _follow_up.c.is_open, stands(_follow_up))
        )
        self.followed = set(session.scalars(held))
        closed = (
            select(e.due_id)
            .join_from(_event, _due, e.due_id == d.id)
            .where(*mine, e.what == "closed", e.reason.is_not(None), stands(_event))
        )
        self.closed = set(session.scalars(closed))
        r = _referral.c
        about = r.id, r.person_id, r.to, r.ears, r.asked_on, r.is_open, r.end_reason
        sent = select(*about).where(r.person_id.in_(ids), stands(_referral))
        self.referrals: dict[tuple[Any, ...], Any] = {}
        for row in session.execute(sent):
            for ear in row.ears:
                self.referrals[row.person_id, row.to, ear, row.asked_on] = row

    def due(self, person_id: int, due: Due) -> list[Any]:
        """Return the rows of an ask."""
        key = person_id, due.ear, due.track, due.kind, due.asked_on
        return self.dues.get(key, [])

    def without_reason(self) -> Iterator[Told]:
        """Give dues that are closed although nothing says why."""
        for row in (row for rows in self.dues.values() for row in rows):
            if not row.is_open and row.id not in self.closed:
                says = f"{_what(row)}: closed without a reason."
                yield "closed_without_reason", row.person_id, "due", row.id, row.asked_on, says


def _dues(person_id: int, ledger: Ledger, kept: _Kept) -> Iterator[Told]:
    """Every ask of every visit is open and followed, or closed with a reason."""
    for due in ledger.open:
        rows = kept.due(person_id, due)
        open_rows = [row for row in rows if row.is_open]
        if not rows:
            says = f"{_what(due)}: asked for, and neither open nor closed."
            yield "not_kept", person_id, "person", person_id, due.asked_on, says
        elif not open_rows:
            says = f"{_what(due)}: closed, though nothing answered it."
            yield "closed_unanswered", person_id, "due", rows[-1].id, due.asked_on, says
        elif not any(row.id in kept.followed for row in open_rows):
            says = f"{_what(due)}: open, and no open follow-up holds it."
            yield "not_followed", person_id, "due", open_rows[-1].id, due.asked_on, says
    for closing in ledger.closings:
        if not kept.due(person_id, closing.due):
            says = f"{_what(closing.due)}: asked for, and neither open nor closed."
            yield "not_kept", person_id, "person", person_id, closing.due.asked_on, says


def _referrals(person_id: int, ledger: Ledger, kept: _Kept) -> Iterator[Told]:
    for referral in ledger.referrals:
        keys = [(person_id, referral.to, ear, referral.asked_on) for ear in referral.ears]
        rows = [kept.referrals.get(key) for key in keys]
        to = referral.to.replace("_", " ")
        if None in rows:
            says = f"Referral to {to}: asked for, and neither open nor closed."
            yield "referral_not_kept", person_id, "person", person_id, referral.asked_on, says
        for row in filter(None, rows):
            if not row.is_open and row.end_reason is None:
                says = f"Referral to {to}: closed without a reason."
                day = referral.asked_on
                yield "closed_without_reason", person_id, "referral", row.id, day, says


def _what(due: Any) -> str:
    kind = "" if due.kind == "recheck" else f" ({due.kind})"
    return f"{due.track.replace('_', ' ').capitalize()}, {due.ear} ear{kind}"
