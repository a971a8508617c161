"""Work people's plans out again and store them: after an import, a visit, a decision.

Whoever is to be planned stands in a list that is written with the change itself, so a run
that was stopped goes on where it was. Each page of people is one transaction.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, TypeVar

from sqlalchemy import Select, delete, func, insert, select
from sqlalchemy.orm import Bundle, Session

from recall.care.case import To
from recall.care.ear import SIDES
from recall.desk.core.contact_links import link
from recall.desk.core.guarding import needs
from recall.desk.core.portions import Portion
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.core.used_protocols import protocol_row
from recall.loop.changeover import due_of_before
from recall.loop.facts import facts_of
from recall.loop.referral import state
from recall.loop.status import status_on
from recall.records import tables
from recall.records.database.bulk import seldom_collected
from recall.records.facts.cases import cases_of, decisions_of, readable, stands
from recall.records.facts.events import facts_for
from recall.records.facts.referral_loops import referral_loops
from recall.records.ledger.regroup import Opening
from recall.records.ledger.storing import Sharing, Stored, store_ledgers
from recall.records.tables.statements import IDS, given, read_as, table_of
from recall.schedule.fold import fold
from recall.schedule.merging import RANK
from recall.schedule.plan import Decision, FollowUp

PAGE = 200
IN_ONE_WRITE = 60
"""People who are planned and stored in one write, at most: another desk waits as long as that."""
NO_END = date(9999, 12, 31)
_WAITS = tables.ToPlan.person_id
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Replanned:
    """What planning again came to."""

    people: int
    dues_asked: int
    dues_closed: int
    asked_again: int = 0
    """Asks that had ended, and stand again."""

    def with_those_of(self, other: Replanned) -> Replanned:
        """Return the same people, with the asks that planning them before came to as well."""
        return Replanned(
            self.people,
            self.dues_asked + other.dues_asked,
            self.dues_closed + other.dues_closed,
            self.asked_again + other.asked_again,
        )


@dataclass(frozen=True)
class _Steps:
    """The search columns of a follow-up."""

    id: int
    urgency_rank: int
    step: str
    next_step_on: date | None
    round: int


@dataclass(frozen=True)
class _Stages:
    """The search columns of a referral."""

    id: int
    stage: str
    chase_on: date | None


Held = TypeVar("Held", _Steps, _Stages)


def mark(session: Session, person_ids: Iterable[int]) -> None:
    """Put people on the list of those to plan, in the transaction that changed them."""
    wanted = set(person_ids)
    for ids in _pages(sorted(wanted)):
        known = session.scalars(
            select(tables.ToPlan.person_id).where(tables.ToPlan.person_id.in_(ids))
        ).all()
        rows = [{"person_id": i} for i in ids if i not in set(known)]
        if rows:
            session.execute(insert(table_of(tables.ToPlan)), rows)


@needs(Right.MAINTAIN)
def mark_everybody(desk: Desk) -> int:
    """Put the whole register on the list; return how many people that is."""
    with desk.store.write() as session:
        ids = session.scalars(select(tables.Person.id).where(tables.Person.void_at.is_(None))).all()
        mark(session, ids)
    return len(ids)


@needs(Right.MAINTAIN, for_the_others=True)
def replan(desk: Desk, progress: Progress | None = None) -> Replanned:
    """Plan everybody on the list, page by page; a stopped run is simply started again.

    Whoever cannot be read stays on the list.
    """
    with desk.store.read() as session:
        total = session.scalar(select(func.count()).select_from(tables.ToPlan)) or 0
    done, sums = 0, [0, 0, 0]
    portion, count = Portion(IN_ONE_WRITE), 1
    with seldom_collected():
        while count:
            with portion.one() as most:
                count = _plan_page(desk, sums, most)
            done += count
            if count == most:
                desk.store.let_others_in()
            if progress is not None and count:
                progress(done, max(total, done))
    return Replanned(done, *sums)


def _plan_page(desk: Desk, sums: list[int], most: int) -> int:
    """Plan the next people on the list; return how many there were."""
    with desk.store.write() as session:
        ids = session.scalars(
            select(_WAITS).where(*readable(session, _WAITS)).order_by(_WAITS).limit(most)
        ).all()
        if not ids:
            return 0
        stored = plan_people(desk, session, ids)
    sums[0] += stored.dues_asked
    sums[1] += stored.dues_closed
    sums[2] += stored.asked_again
    return len(ids)


def plan_people(desk: Desk, session: Session, ids: Sequence[int]) -> Stored:
    """Plan some people inside a transaction and take them off the list."""
    cases = cases_of(session, ids)
    decisions = decided_by_people(session, ids)
    ledgers = {
        i: fold(
            case,
            desk.protocol,
            NO_END,
            decisions=decisions.get(i, ()),
            population=desk.populations,
        )
        for i, case in cases.items()
    }
    born = {i: case.born for i, case in cases.items()}
    stored = store_ledgers(
        session,
        ledgers,
        desk.who,
        _opening(desk, born),
        sharing=_sharing(desk),
        protocol_id=protocol_row(desk, session),
    )
    contact = desk.protocol.contact
    link(session, ids, contact.span(contact.join_within))
    refresh(desk, session, ids)
    session.execute(delete(table_of(tables.ToPlan)).where(tables.ToPlan.person_id.in_(ids)))
    return stored


def _sharing(desk: Desk) -> Sharing:
    """Return what may share an appointment: nothing of before the practice went live with now."""
    live = desk.protocol.contact.live_from()
    return Sharing(desk.calendar.is_open, lambda due: due_of_before(due, live))


def refresh(desk: Desk, session: Session, person_ids: Sequence[int]) -> int:
    """Set the search columns of some people's open follow-ups and referrals from their facts.

    Returns how many of them stood otherwise.
    """
    held = _open(session, tables.FollowUp, person_ids, read_as(_Steps, tables.FollowUp))
    turned = 0
    for number, known in facts_for(session, list(held)).items():
        # Acting on a day that has gone by leaves what was recorded for later days known.
        day = max((desk.today, *(event.on for event in known.events)))
        status = status_on(known, day, desk.protocol.contact)
        if status.step is None:
            continue
        values = {
            "step": status.step.kind,
            "next_step_on": status.step.on,
            "round": status.step.round,
            "urgency_rank": RANK[status.urgency],
        }
        turned += _set(session, tables.FollowUp, held[number], values)
    return turned + _refresh_referrals(desk, session, person_ids)


def _refresh_referrals(desk: Desk, session: Session, person_ids: Sequence[int]) -> int:
    held = _open(session, tables.Referral, person_ids, read_as(_Stages, tables.Referral))
    turned = 0
    for number, loop in referral_loops(session, list(held)).items():
        found = state(loop, desk.today, desk.protocol.contact, desk.calendar)
        values = {"stage": found.stage, "chase_on": found.chased_on or desk.today}
        turned += _set(session, tables.Referral, held[number], values)
    return turned


def _open(
    session: Session,
    table: type[tables.FollowUp | tables.Referral],
    person_ids: Sequence[int],
    view: Bundle[Held],
) -> dict[int, Held]:
    """Return the search columns of what is open, by number."""
    held = table.person_id.in_(IDS), table.is_open, table.void_at.is_(None)
    return {row.id: row for row in session.scalars(select(view).where(*held), given(person_ids))}


def _set(
    session: Session, kind: type[tables.Base], held: _Steps | _Stages, values: dict[str, Any]
) -> bool:
    """Write search columns that stand otherwise; return whether any did."""
    if all(getattr(held, name) == value for name, value in values.items()):
        return False
    table = table_of(kind)
    session.execute(table.update().where(table.c.id == held.id).values(**values))
    return True


def _opening(desk: Desk, born: dict[int, date]) -> Callable[[FollowUp], Opening]:
    """Return what gives a new follow-up its first step; `refresh` sets it from the facts."""
    anybody = min(born.values(), default=date(2000, 1, 1))

    def opens(follow_up: FollowUp) -> Opening:
        facts = facts_of(follow_up, born=anybody)
        found = status_on(facts, desk.today, desk.protocol.contact)
        assert found.step is not None, "an open follow-up always has a step"
        return Opening(found.step.kind, found.step.on)

    return opens


def _category_alone() -> Select[*tuple[Any, ...]]:
    c = tables.Visit
    bare = ~select(tables.Findings.id).where(tables.Findings.visit_id == c.id).exists()
    return (
        select(c.person_id, c.on, c.category, c.category_ears, c.category_why)
        .where(c.person_id.in_(IDS), c.category.is_not(None), stands(c), bare)
        .order_by(c.on, c.id)
    )


_CATEGORY_ALONE = _category_alone()


def _by_category_alone(session: Session, ids: Sequence[int]) -> dict[int, list[Decision]]:
    """Return what visits closed with a category alone ask for."""
    found: dict[int, list[Decision]] = defaultdict(list)
    for person_id, on, category, ears, why in session.execute(_CATEGORY_ALONE, given(ids)):
        for ear in ears or SIDES:
            to: To | None = "ent" if category == "refer" else None
            found[person_id].append(
                Decision(on=on, ear=ear, action="ask", category=category, to=to, why=why)
            )
    return found


def decided_by_people(session: Session, ids: Sequence[int]) -> dict[int, tuple[Decision, ...]]:
    """Return what people decided or set beside findings, in the order of days, by person."""
    asked, decided = _by_category_alone(session, ids), decisions_of(session, ids)
    return {
        i: tuple(sorted((*asked.get(i, ()), *decided.get(i, ())), key=lambda d: d.on))
        for i in ids
        if i in asked or i in decided
    }


def _pages(ids: Sequence[int]) -> Iterable[Sequence[int]]:
    return (ids[n : n + PAGE] for n in range(0, len(ids), PAGE))
