"""What is open and what nobody is going to do about it.

How long something may stand past its day before it is told: at once for an emergency, a day for
urgent ones, a week otherwise. Common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import cast

from sqlalchemy import or_, select
from sqlalchemy.orm import Session, aliased

from recall.desk.core.session import Desk
from recall.desk.oversight.failsafe_plan import FoundFields
from recall.loop.day import may_turn
from recall.loop.facts import Facts
from recall.loop.referral import state
from recall.loop.status import Status, status_on
from recall.protocol.contact_steps import AWAITS_CLINICIAN, LOOK_THROUGH
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.facts.events import facts_for
from recall.records.facts.no_way import without_a_way
from recall.records.facts.referral_loops import referral_loops
from recall.records.facts.unsettled import told_by_facts
from recall.records.journal import history
from recall.records.tables.statements import IDS, columns_of, many
from recall.schedule.calendar import say_day

WEEK = timedelta(days=7)
PATIENCE = {"emergency": timedelta(0), "urgent": timedelta(days=1)}


def check_people(desk: Desk, session: Session, ids: Sequence[int]) -> Iterator[FoundFields]:
    """Give what is wrong with what is open for some people, from its facts."""
    yield from _follow_ups(desk, session, ids)
    yield from _referrals(desk, session, ids)


@dataclass(frozen=True)
class _Row:
    """An open follow-up as it is kept."""

    id: int
    person_id: int
    next_step_on: date | None
    latest: date
    urgency: str
    step: str


_F, _R = tables.FollowUp, tables.Referral
_FOLLOW_UPS = (
    select(*columns_of(_Row, _F))
    .where(_F.person_id.in_(IDS), _F.is_open, stands(_F))
    .order_by(_F.id)
)
_REFERRALS = (
    select(_R.id, _R.person_id, _R.chase_on, _R.urgency)
    .where(_R.person_id.in_(IDS), _R.is_open, stands(_R))
    .order_by(_R.id)
)


def _follow_ups(desk: Desk, session: Session, ids: Sequence[int]) -> Iterator[FoundFields]:
    rows = cast(Sequence[_Row], many(session, _FOLLOW_UPS, ids))
    facts = facts_for(session, [row.id for row in rows])
    today, rules = desk.today, desk.protocol.contact
    turning = told_by_facts(session, today)
    no_way = without_a_way(session, [row.person_id for row in rows])
    for row in rows:
        turns = may_turn(row.step) or row.id in turning
        now = status_on(facts[row.id], today, rules)
        yield from _follow_up_faults(row, facts[row.id], now, turns, today)
        if (
            row.person_id in no_way
            and facts[row.id].ways_on(today)
            and _may_be_reached(facts[row.id])
        ):
            says = "Due, and who is written to in their place has no address."
            about = row.person_id, "follow_up", row.id
            yield "cannot_be_contacted", *about, row.latest, says


def _follow_up_faults(
    row: _Row, facts: Facts, now: Status, turns: bool, today: date
) -> Iterator[FoundFields]:
    about = row.person_id, "follow_up", row.id
    if row.next_step_on is None:
        yield "no_next_step", *about, None, "Open, without a next step."
    if now.step is None:
        yield "no_next_step", *about, None, "Open, though its facts say that it is closed."
        return
    past, history = today - now.step.on, now.step.kind == LOOK_THROUGH
    if not history and past > PATIENCE.get(row.urgency, WEEK):
        step = now.step.kind.replace("_", " ")
        says = f"{step.capitalize()} was due on {say_day(now.step.on)} and is not done."
        yield "step_past", *about, now.step.on, says
    if row.next_step_on is not None and row.next_step_on > max(now.step.on, today):
        says = f"Stands for {say_day(row.next_step_on)}; its facts say {say_day(now.step.on)}."
        yield "stands_too_late", *about, now.step.on, says
    elif not turns and (row.step, row.next_step_on) != (now.step.kind, now.step.on):
        words = now.step.kind.replace("_", " ")
        says = f"Stands for another step than its facts say: {words}, {say_day(now.step.on)}."
        yield "stands_otherwise", *about, now.step.on, says
    if not facts.ways_on(today) and _may_be_reached(facts) and not history:
        says = "Due, and no way to reach them is recorded, understood and safe."
        yield "cannot_be_contacted", *about, row.latest, says


def _may_be_reached(facts: Facts) -> bool:
    """Return whether anybody may ring or write about it."""
    return not (facts.died_on or facts.objected_on or facts.unsafe_on)


def _referrals(desk: Desk, session: Session, ids: Sequence[int]) -> Iterator[FoundFields]:
    rows = many(session, _REFERRALS, ids)
    loops = referral_loops(session, [row.id for row in rows])
    today, rules = desk.today, desk.protocol.contact
    for row in rows:
        about = row.person_id, "referral", row.id
        now = state(loops[row.id], today, rules, desk.calendar)
        if row.chase_on is None or now.chased_on is None:
            says = "Open, without a day on which it is chased."
            yield "referral_past_chase", *about, row.chase_on, says
        elif now.stage == LOOK_THROUGH:
            continue  # looked through in its own portions; nobody is to chase it before
        elif today - now.chased_on > PATIENCE.get(row.urgency, WEEK):
            says = f"To be chased since {say_day(now.chased_on)}: {now.why}"
            yield "referral_past_chase", *about, now.chased_on, says


def check_register(desk: Desk, session: Session) -> Iterator[FoundFields]:
    """Give what nobody is going to follow up, what has no owner left, and where the clock went."""
    yield from _letters(desk, session)
    yield from _bookings(desk, session)
    yield from _owners(desk, session)
    yield from _clock(desk, session)


def _clock(desk: Desk, session: Session) -> Iterator[FoundFields]:
    """Give where the machine's clock was set back, for four weeks after; and another history."""
    if desk.alarm:
        yield "another_history", None, "history", 0, desk.today, desk.alarm
    for seq, at in history.set_back_since(session, 0):
        on = desk.clock.day_of(at)
        if desk.today - on <= 4 * WEEK:
            says = f"The machine's clock was set back on {say_day(on)}; the history's order holds."
            yield "clock_set_back", None, "history", seq, on, says


def _letters(desk: Desk, session: Session) -> Iterator[FoundFields]:
    p = tables.Letter
    before = datetime.combine(desk.today - WEEK, time(), desk.now.tzinfo)
    waits = stands(tables.Letter), p.posted_on.is_(None), p.pulled_why.is_(None)
    names = p.id, p.person_id, p.on, p.printed_at
    printed = select(*names).where(*waits, p.printed_at < before)
    for row in session.execute(printed.order_by(p.id)):
        day = row.printed_at.date()
        says = f"Printed on {say_day(day)}, and neither posted nor pulled."
        yield "letter_not_followed_up", row.person_id, "letter", row.id, day, says
    unprinted = *waits, p.printed_at.is_(None), p.held_why.is_(None)
    old = select(*names).where(*unprinted, p.on < desk.today - 2 * WEEK)
    for row in session.execute(old.order_by(p.id)):
        says = f"Written on {say_day(row.on)}, and not printed."
        yield "letter_not_followed_up", row.person_id, "letter", row.id, row.on, says
    who = tables.Person
    silenced = or_(
        who.deceased_on.is_not(None), who.objected_on.is_not(None), who.unsafe_on.is_not(None)
    )
    stopped = select(*names).join_from(p, who, p.person_id == who.id)
    stopped = stopped.where(*unprinted, silenced, p.kind.not_in(("hand_back_to_gp", "referral")))
    for row in session.execute(stopped.order_by(p.id)):
        says = "Waits for the post, and the person must not be written to."
        yield "letter_must_not_go", row.person_id, "letter", row.id, row.on, says


def _bookings(desk: Desk, session: Session) -> Iterator[FoundFields]:
    b, f = tables.Booking, tables.FollowUp
    ended = tables.BookingEvent
    over = select(ended.id).where(ended.booking_id == b.id, stands(ended)).exists()
    today = datetime.combine(desk.today, time())
    wanted = select(b.id, b.person_id, b.starts_local).where(stands(tables.Booking), ~over)
    for row in session.execute(wanted.where(b.starts_local < today).order_by(b.id)):
        day = row.starts_local.date()
        says = f"Booked for {say_day(day)}, and nobody recorded whether they came."
        yield "booking_without_outcome", row.person_id, "booking", row.id, day, says
    ahead = wanted.join_from(tables.Booking, tables.FollowUp, b.follow_up_id == f.id)
    a, too = tables.AlsoAbout, aliased(tables.FollowUp)
    other = select(a.id).join_from(tables.AlsoAbout, too, a.follow_up_id == too.id)
    other = other.where(a.booking_id == b.id, stands(tables.AlsoAbout), too.is_open)
    ahead = ahead.where(b.starts_local >= today, f.is_open.is_(False), ~other.exists())
    for row in session.execute(ahead.order_by(b.id)):
        day = row.starts_local.date()
        says = f"Booked for {say_day(day)}, and what it was for is closed: keep it or call it off."
        yield "booking_for_nothing", row.person_id, "booking", row.id, day, says


def _owners(desk: Desk, session: Session) -> Iterator[FoundFields]:
    """Give what waits for somebody who has left: whoever confirmed or made the visit."""
    v, r, s = tables.Visit, tables.Referral, tables.Staff
    left = select(s.id).where(s.left_on <= desk.today)
    theirs = v.confirmed_by_id.in_(left) | (v.confirmed_by_id.is_(None) & v.examiner_id.in_(left))
    sent = (
        select(r.id, r.person_id, r.asked_on)
        .outerjoin_from(tables.Referral, tables.Visit, r.visit_id == v.id)
        .where(stands(tables.Referral), r.is_open)
        .where(theirs | (v.confirmed_by_id.is_(None) & v.examiner_id.is_(None) & r.by_id.in_(left)))
    )
    for row in session.execute(sent.order_by(r.id)):
        says = "Open, and whoever is responsible has left."
        yield "owner_left", row.person_id, "referral", row.id, row.asked_on, says
    f = tables.FollowUp
    waits = (
        select(f.id, f.person_id, f.next_step_on)
        .join_from(tables.FollowUp, tables.FollowUpDue, tables.FollowUpDue.follow_up_id == f.id)
        .join(tables.Due, tables.Due.id == tables.FollowUpDue.due_id)
        .join(tables.Visit, v.id == tables.Due.visit_id)
        .where(stands(tables.FollowUp), f.is_open, f.step.in_(AWAITS_CLINICIAN))
        .where(tables.FollowUpDue.left_at.is_(None), theirs)
        .distinct()
    )
    for waiting in session.execute(waits.order_by(f.id)):
        says = "Waits for a clinician, and whoever is responsible has left."
        yield "owner_left", waiting.person_id, "follow_up", waiting.id, waiting.next_step_on, says
