"""What a file does to what people are asked for: dues that close or move later, referrals that end.

It is compared in the transaction that lands the file, or in its rehearsal, with the plans worked
out again before and after.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES, To, Urgency
from recall.care.ear import Side
from recall.care.services import SERVICES
from recall.desk.core.replanning import Replanned, plan_people
from recall.desk.core.session import Desk
from recall.desk.imports.file_digests import Batch, Loss
from recall.records import tables
from recall.records.facts.cases import pages, stands
from recall.records.tables.statements import read_as


@dataclass(frozen=True)
class Due:
    """An open due, as far as it is compared."""

    id: int
    person_id: int
    ear: Side
    track: str
    kind: str
    urgency: Urgency
    latest: date


@dataclass(frozen=True)
class Referral:
    """An open referral, as far as it is compared."""

    id: int
    person_id: int
    to: To
    ears: tuple[Side, ...]
    urgency: Urgency
    seen_by: date


@dataclass(frozen=True)
class Asks:
    """What is open of some people."""

    dues: tuple[Due, ...]
    referrals: tuple[Referral, ...]


def planned(desk: Desk, session: Session, ids: Collection[int]) -> Asks:
    """Return what is open of some people, once whoever of them waits to be planned is planned."""
    plan(desk, session, [n for some in pages(sorted(ids)) for n in _waiting(session, some)])
    return open_asks(session, ids)


def plan(desk: Desk, session: Session, ids: Sequence[int]) -> Replanned:
    """Work the plans of some people out, in the transaction that changed them."""
    stored = [plan_people(desk, session, some) for some in pages(ids)]
    return Replanned(
        len(ids),
        sum(each.dues_asked for each in stored),
        sum(each.dues_closed for each in stored),
        sum(each.asked_again for each in stored),
    )


def open_asks(session: Session, ids: Collection[int]) -> Asks:
    """Return what is open of some people."""
    dues: list[Due] = []
    referrals: list[Referral] = []
    d, r = tables.Due, tables.Referral
    for some in pages(sorted(ids)):
        mine = select(read_as(Due, d)).where(d.person_id.in_(some), d.is_open, stands(d))
        dues += session.scalars(mine)
        sent = select(read_as(Referral, r)).where(r.person_id.in_(some), r.is_open, stands(r))
        referrals += session.scalars(sent)
    return Asks(tuple(dues), tuple(referrals))


def tell_changes(session: Session, batch: Batch, before: Asks, after: Asks) -> None:
    """Add to a batch what closes, moves later or ends; what a newer visit answers is counted."""
    gone = [*_dues(before, after), *_referrals(before, after)]
    refs = _refs(session, {number for number, _what, _which in gone})
    for number, what, which in gone:
        if number in batch.rewritten:
            batch.lost.append(Loss(refs[number], what, which))
        else:
            batch.answered += 1


def _dues(before: Asks, after: Asks) -> list[tuple[int, str, str]]:
    open_now: dict[tuple[int, str, str, str], list[Due]] = defaultdict(list)
    for due in after.dues:
        open_now[_place(due)].append(due)
    found = []
    for was in before.dues:
        which = f"{was.ear} {was.track.replace('_', ' ')}, by {was.latest}"
        same = open_now[_place(was)]
        if not same:
            found.append((was.person_id, "due that would close", which))
        elif all(_is_later(was, now) for now in same):
            found.append(
                (was.person_id, *_loosened(was, min(same, key=lambda due: due.latest), which))
            )
    return found


def _place(due: Due) -> tuple[int, str, str, str]:
    return due.person_id, due.ear, due.track, due.kind


def _is_later(was: Due, now: Due) -> bool:
    presses_less = URGENCIES.index(now.urgency) > URGENCIES.index(was.urgency)
    return now.latest > was.latest or presses_less


def _loosened(was: Due, now: Due, which: str) -> tuple[str, str]:
    """Return what is said of a due whose place a later or a milder one takes."""
    if now.latest > was.latest:
        return "due that would move later", f"{which}, now {now.latest}"
    milder = f"{which}, {was.urgency}, now {now.latest}, {now.urgency}"
    return "due that would be less urgent", milder


def _referrals(before: Asks, after: Asks) -> list[tuple[int, str, str]]:
    found = []
    for was in before.referrals:
        same = [r for r in after.referrals if (r.person_id, r.to) == (was.person_id, was.to)]
        if any(_presses(r) <= _presses(was) for r in same):
            continue
        which = f"{was.urgency}, to {SERVICES[was.to].short}"
        found.append((was.person_id, "referral that would end", which))
    return found


def _presses(referral: Referral) -> tuple[int, date]:
    return URGENCIES.index(referral.urgency), referral.seen_by


def _waiting(session: Session, ids: Sequence[int]) -> Sequence[int]:
    c = tables.ToPlan.person_id
    return session.scalars(select(c).where(c.in_(ids)).order_by(c)).all()


def _refs(session: Session, ids: Collection[int]) -> dict[int, str]:
    found: dict[int, str] = {}
    for some in pages(sorted(ids)):
        wanted = select(tables.Person.id, tables.Person.ref).where(tables.Person.id.in_(some))
        found.update((number, ref) for number, ref in session.execute(wanted))
    return found
