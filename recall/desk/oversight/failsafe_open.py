"""What is open and what nobody is going to do about it.

How long something may stand past its day before it is told: at once for an emergency, a day for
urgent ones, a week otherwise. Common practice, no published source.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, time, timedelta
from typing import Any

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.desk.oversight.failsafe_plan import Told
from recall.loop.contact_steps import AWAITS_CLINICIAN
from recall.loop.day import may_turn
from recall.loop.referral import state
from recall.loop.status import status_on
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.facts.events import facts_for, referral_loops
from recall.schedule.calendar import say_day

WEEK = timedelta(days=7)
PATIENCE = {"emergency": timedelta(0), "urgent": timedelta(days=1)}
_follow_up: Any = tables.FollowUp.__table__
_link: Any = tables.FollowUpDue.__table__
_due: Any = tables.Due.__table__
_letter: Any = tables.Letter.__table__
_booking: Any = tables.Booking.__table__
_ended: Any = tables.BookingEvent.__table__
_referral: Any = tables.Referral.__table__
_visit: Any = tables.Visit.__table__
_staff: Any = tables.Staff.__table__
_person: Any = tables.Person.__table__


def check_people(desk: Desk, session: Session, ids: Sequence[int]) -> Iterator[Told]:
    """Give what is wrong with what is open for some people, from its facts."""
    yield from _follow_ups(desk, session, ids)
    yield from _referrals(desk, session, ids)


def _follow_ups(desk: Desk, session: Session, ids: Sequence[int]) -> Iterator[Told]:
    c = _follow_up.c
    wanted = select(c.id, c.person_id, c.next_step_on, c.latest, c.urgency, c.step).where(
        c.person_id.in_(ids), c.is_open, stands(_follow_up)
    )
    rows = session.execute(wanted.order_by(c.id)).all()
    facts = facts_for(session, [row.id for row in rows])
    for row in rows:
        yield from _follow_up_told(desk, row, facts[row.id])


def _follow_up_told(desk: Desk, row: Any, facts: Any) -> Iterator[Told]:
    about = row.person_id, "follow_up", row.id
    if row.next_step_on is None:
        yield "no_next_step", *about, None, "Open, without a next step."
    now = status_on(facts, desk.today, desk.protocol.contact)
    if now.step is None:
        yield "no_next_step", *about, None, "Open, though its facts say that it is closed."
        return
    past = desk.today - now.step.on
    if past > PATIENCE.get(row.urgency, WEEK):
        step = now.step.kind.replace("_", " ")
        says = f"{step.capitalize()} was due on {say_day(now.step.on)} and is not done."
        yield "step_past", *about, now.step.on, says
    if row.next_step_on is not None and row.next_step_on > max(now.step.on, desk.today):
        says = f"Stands for {say_day(row.next_step_on)}; its facts say {say_day(now.step.on)}."
        yield "stands_too_late", *about, now.step.on, says
    elif not may_turn(row.step) and (row.step, row.next_step_on) != (now.step.kind, now.step.on):
        words = now.step.kind.replace("_", " ")
        says = f"Stands for another step than its facts say: {words}, {say_day(now.step.on)}."
        yield "stands_otherwise", *about, now.step.on, says
    contact_stopped = facts.died_on or facts.objected_on or facts.unsafe_on
    if not facts.channels and not contact_stopped:
        says = "Due, and no way to reach them is recorded, understood and safe."
        yield "cannot_be_contacted", *about, row.latest, says


def _referrals(desk: Desk, session: Session, ids: Sequence[int]) -> Iterator[Told]:
    r = _referral.c
    wanted = select(r.id, r.person_id, r.chase_on, r.urgency).where(
        r.person_id.in_(ids), r.is_open, stands(_referral)
    )
    rows = session.execute(wanted.order_by(r.id)).all()
    loops = referral_loops(session, [row.id for row in rows])
    for row in rows:
        about = row.person_id, "referral", row.id
        now = state(loops[row.id], desk.today, desk.protocol.contact, desk.calendar)
        if row.chase_on is None or now.chased_on is None:
            says = "Open, without a day on which it is chased."
            yield "referral_past_chase", *about, row.chase_on, says
        elif desk.today - now.chased_on > PATIENCE.get(row.urgency, WEEK):
            stage = now.stage.replace("_", " ")
            says = f"Not known since {say_day(now.chased_on)}: {stage}."
            yield "referral_past_chase", *about, now.chased_on, says


def check_register(desk: Desk, session: Session) -> Iterator[Told]:
    """Give letters and bookings that nobody is going to follow up, and what has no owner left."""
    yield from _letters(desk, session)
    yield from _bookings(desk, session)
    yield from _owners(desk, session)


def _letters(desk: Desk, session: Session) -> Iterator[Told]:
    p = _letter.c
    before = datetime.combine(desk.today - WEEK, time(), desk.now.tzinfo)
    waits = stands(_letter), p.posted_on.is_(None), p.pulled_why.is_(None)
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
    contact_stopped = or_(_person.c.deceased_on.is_not(None), _person.c.objected_on.is_not(None),
                   _person.c.unsafe_on.is_not(None))  # fmt: skip
    stopped = select(*names).join_from(_letter, _person, p.person_id == _person.c.id)
    stopped = stopped.where(
        *unprinted, contact_stopped, p.kind.not_in(("hand_back_to_gp", "referral"))
    )
    for row in session.execute(stopped.order_by(p.id)):
        says = "Waits for the post, and the person must not be written to."
        yield "letter_must_not_go", row.person_id, "letter", row.id, row.on, says


def _bookings(desk: Desk, session: Session) -> Iterator[Told]:
    b, f = _booking.c, _follow_up.c
    over = select(_ended.c.id).where(_ended.c.booking_id == b.id, stands(_ended)).exists()
    today = datetime.combine(desk.today, time())
    wanted = select(b.id, b.person_id, b.starts_local).where(stands(_booking), ~over)
    for row in session.execute(wanted.where(b.starts_local < today).order_by(b.id)):
        day = row.starts_local.date()
        says = f"Booked for {say_day(day)}, and nobody recorded whether they came."
        yield "booking_without_outcome", row.person_id, "booking", row.id, day, says
    ahead = wanted.join_from(_booking, _follow_up, b.follow_up_id == f.id)
    ahead = ahead.where(b.starts_local >= today, f.is_open.is_(False))
    for row in session.execute(ahead.order_by(b.id)):
        day = row.starts_local.date()
        says = f"Booked for {say_day(day)}, and what it was for is closed: keep it or call it off."
        yield "booking_for_nothing", row.person_id, "booking", row.id, day, says


def _owners(desk: Desk, session: Session) -> Iterator[Told]:
    """Give what waits for somebody who has left: whoever confirmed or made the visit."""
    v, r, s = _visit.c, _referral.c, _staff.c
    left = select(s.id).where(s.left_on <= desk.today)
    theirs = v.confirmed_by_id.in_(left) | (v.confirmed_by_id.is_(None) & v.examiner_id.in_(left))
    sent = (
        select(r.id, r.person_id, r.asked_on)
        .outerjoin_from(_referral, _visit, r.visit_id == v.id)
        .where(stands(_referral), r.is_open)
        .where(theirs | (v.confirmed_by_id.is_(None) & v.examiner_id.is_(None) & r.by_id.in_(left)))
    )
    for row in session.execute(sent.order_by(r.id)):
        says = "Open, and whoever is responsible has left."
        yield "owner_left", row.person_id, "referral", row.id, row.asked_on, says
    f = _follow_up.c
    waits = (
        select(f.id, f.person_id, f.next_step_on)
        .join_from(_follow_up, _link, _link.c.follow_up_id == f.id)
        .join(_due, _due.c.id == _link.c.due_id)
        .join(_visit, v.id == _due.c.visit_id)
        .where(stands(_follow_up), f.is_open, f.step.in_(AWAITS_CLINICIAN))
        .where(_link.c.left_at.is_(None), theirs)
        .distinct()
    )
    for row in session.execute(waits.order_by(f.id)):
        says = "Waits for a clinician, and whoever is responsible has left."
        yield "owner_left", row.person_id, "follow_up", row.id, row.next_step_on, says
