"""Every ask on record with how it ended: what the accounts count, as was known at an instant.

How one ended is its last event that stands; one that was closed and stood up again is open.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from typing import Any, NamedTuple

from msgspec.structs import replace
from sqlalchemy import ColumnElement, Select, and_, case, func, literal, or_, select
from sqlalchemy.orm import Session, aliased

from recall.accounts.cohort import EVER, Period
from recall.accounts.recheck import Recheck
from recall.accounts.referral import Referred
from recall.accounts.states import RESULT_BACK
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.facts.referral_loops import referral_loops
from recall.records.tables.statements import many

_ENDS = ("closed", "result")
_IN_ERROR = "entered_in_error"
_CORRECTED = frozenset({_IN_ERROR, "superseded"})
"""How an ask ends that is no longer made once the visits were corrected."""


def rechecks(
    session: Session,
    period: Period,
    known_at: datetime | None = None,
    open_on: date | None = None,
) -> list[Recheck]:
    """Return the re-checks of a period with how each ended, in the order in which they were made.

    Args:
        session: one that reads.
        period: which asks.
        known_at: leave out what was recorded after this instant.
        open_on: only those that had not ended by this day.
    """
    d, e = tables.Due, tables.DueEvent
    wanted = _rechecks(known_at).where(stands(d, known_at), *_within(period, d.asked_on, d.latest))
    if open_on is not None:
        wanted = wanted.where(or_(e.id.is_(None), e.what != "closed", e.on > open_on))
    found = [Recheck(*row) for row in many(session, wanted.order_by(d.id))]
    return _as_they_ended_first(session, found, known_at)


def _as_they_ended_first(
    session: Session, asks: list[Recheck], known_at: datetime | None
) -> list[Recheck]:
    """Let what had ended before a correction took it away have ended on that day, met or not."""
    e = tables.DueEvent
    corrected = [a.number for a in asks if a.reason in _CORRECTED and not (a.at_visit or a.action)]
    began: dict[int, date | None] = {}
    for some in pages(corrected):
        wanted = select(e.due_id, e.what, e.on).where(e.due_id.in_(some), stands(e, known_at))
        for number, what, on in many(session, wanted.order_by(e.id)):
            began[number] = (began.get(number) or on) if what == "closed" else None
    return [replace(a, ended_on=day) if (day := began.get(a.number)) else a for a in asks]


def _rechecks(known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    """Return the statement that reads re-checks, its columns in the order of their fields."""
    d, e, v, p = tables.Due, tables.DueEvent, tables.Visit, tables.Person
    judged, examiner, decider = tables.Decision, aliased(tables.Staff), aliased(tables.Staff)
    newest = select(e.due_id, func.max(e.id).label("id")).where(stands(e, known_at))
    last = newest.group_by(e.due_id).subquery()
    closed = e.what == "closed"
    decided_by = case((e.reason == _IN_ERROR, e.by_id), else_=judged.by_id)
    return (
        select(d.id, d.person_id, d.ear, d.track, d.kind, d.category, d.urgency)
        .add_columns(d.asked_on, d.earliest, d.latest, p.born, p.site)
        .add_columns(func.coalesce(examiner.handle, v.examiner, ""))
        .add_columns(case((closed, e.on)), e.reason, and_(closed, e.visit_id.is_not(None)))
        .add_columns(judged.action, judged.latest, func.coalesce(decider.handle, ""))
        .select_from(d)
        .join(p, p.id == d.person_id)
        .outerjoin(v, v.id == d.visit_id)
        .outerjoin(examiner, examiner.id == v.examiner_id)
        .outerjoin(last, last.c.due_id == d.id)
        .outerjoin(e, e.id == last.c.id)
        .outerjoin(judged, and_(judged.id == e.decision_id, e.visit_id.is_(None)))
        .outerjoin(decider, decider.id == decided_by)
    )


def _within(period: Period, asked: object, due: object) -> Sequence[ColumnElement[bool]]:
    column = asked if period.which == "asked" else due
    if (period.first, period.last) == (EVER.first, EVER.last):
        return ()
    return (column.between(period.first, period.last),)  # type: ignore[attr-defined]


def held_by(
    session: Session, due_ids: Iterable[int], known_at: datetime | None = None
) -> dict[int, int]:
    """Return the follow-up that holds each of some dues, or held it last."""
    link = tables.FollowUpDue
    known = literal(True) if known_at is None else link.recorded_at <= known_at
    found: dict[int, int] = {}
    for some in pages(due_ids):
        wanted = select(link.due_id, link.follow_up_id).where(link.due_id.in_(some), known)
        for due_id, follow_up_id in many(session, wanted.order_by(link.id)):
            found[due_id] = follow_up_id
    return found


def referred(session: Session, period: Period, known_at: datetime | None = None) -> list[Referred]:
    """Return the referrals of a period, what became known of each and how it ended.

    Of a referral the day that it is due is the one by which they are to be seen.
    """
    rows = many(session, _referrals(period, known_at))
    numbers = [row[0] for row in rows]
    loops = referral_loops(session, numbers, known_at)
    told = _ends(session, numbers, known_at)
    later = set() if known_at is None else _ends(session, numbers, None).keys() - told.keys()
    found = []
    for number, person, born, site, practitioner, is_open, ended_on, reason in rows:
        end = told.get(number)
        if end is None and (is_open or number in later):
            ended_on, reason = None, None
        elif end is not None and ended_on is None:  # ended then, and asked for again since
            ended_on, reason = end.on, end.reason
        who = Referred(number=number, person=person, loop=loops[number], born=born)
        ends = {"ended_on": ended_on, "end_reason": reason, "by": end.by if end else ""}
        found.append(replace(who, site=site, practitioner=practitioner, **ends))
    return found


def _referrals(period: Period, known_at: datetime | None) -> Select[*tuple[Any, ...]]:
    """Return the statement that reads the referrals of a period."""
    r, v, p = tables.Referral, tables.Visit, tables.Person
    examiner = aliased(tables.Staff)
    return (
        select(r.id, r.person_id, p.born, p.site)
        .add_columns(func.coalesce(examiner.handle, v.examiner, ""))
        .add_columns(r.is_open, r.ended_on, r.end_reason)
        .select_from(r)
        .join(p, p.id == r.person_id)
        .outerjoin(v, v.id == r.visit_id)
        .outerjoin(examiner, examiner.id == v.examiner_id)
        .where(stands(r, known_at), *_within(period, r.asked_on, r.seen_by))
        .order_by(r.id)
    )


class _End(NamedTuple):
    """What ended a referral. One that was over before it was ever on record has none."""

    on: date
    reason: str
    by: str


def _ends(session: Session, numbers: Sequence[int], known_at: datetime | None) -> dict[int, _End]:
    """Return what ended each of some referrals."""
    e, s = tables.ReferralEvent, tables.Staff
    found: dict[int, _End] = {}
    for some in pages(numbers):
        wanted = (
            select(e.referral_id, e.on, e.what, e.reason, s.handle)
            .join_from(e, s, s.id == e.by_id)
            .where(e.referral_id.in_(some), e.what.in_(_ENDS), stands(e, known_at))
        )
        for number, on, what, said, handle in many(session, wanted.order_by(e.id)):
            reason = said.partition(":")[0].replace(" ", "_")
            found[number] = _End(on, RESULT_BACK if what == "result" else reason, handle)
    return found
