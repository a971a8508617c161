"""Appointments: made, moved, called off by either side, kept, missed.

Keeping one closes nothing by itself: the visit that was then recorded closes what it looked at.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any, Literal

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.contacts.allowed import check_channel
from recall.desk.contacts.booking_times import check_time
from recall.desk.contacts.entries import Booking, MoveTo
from recall.desk.contacts.the_number import is_theirs
from recall.desk.core.acting import Act, Next, facts_now, in_words, open_row, own_row, row_of
from recall.desk.core.guarding import needs
from recall.desk.core.per_person import also_about, counts_for, meets_too, others_of
from recall.desk.core.rights import Right
from recall.desk.core.rota import elsewhere_words, who_is_excluded
from recall.desk.core.session import Desk
from recall.desk.visits.untyped import ask_to_type
from recall.desk.worklists.earlier import freed
from recall.desk.worklists.taken import Time, taken_words
from recall.errors import Conflict, NotFound, Refused
from recall.loop.booking_rules import check_booking, missed_word
from recall.loop.facts import Ending, Facts
from recall.records import tables
from recall.records.facts.booked import not_ended
from recall.records.facts.cases import stands
from recall.records.journal import claims
from recall.records.tables.statements import whole
from recall.schedule.calendar import say_day

Side = Literal["person", "practice"]


@needs(Right.REACH)
def book(desk: Desk, follow_up_id: int, version: int | None, booking: Booking) -> Next:
    """Make an appointment for a follow-up; with a channel, log the contact that led to it.

    Args:
        desk: who acts, on which day.
        follow_up_id: the follow-up that it is for.
        version: of the follow-up, as it was looked at; None asks for no check.
        booking: when it begins, how long it is and with whom, and how it was agreed.

    Raises:
        Conflict: changed or closed meanwhile, or booked already.
        Refused: the day has gone by, the practice is closed, it begins at night, it is late
            without a reason, or the rota does not have who sees them.
        InputError: no such time or member of staff.
    """
    if booking.channel is not None:
        check_channel(booking.channel)
    with desk.store.write() as session:
        row = open_row(session, tables.FollowUp, follow_up_id, version)
        booked = _open_booking_of(session, follow_up_id)
        if booked is not None:
            raise Conflict(
                f"Follow-up {follow_up_id} is booked already (booking {booked.id}).",
                hint="Move that one.",
            )
        act = Act(desk, session, row.person_id)
        _keep_contact(act, row, booking)
        staff_id = _staff_id(session, booking.with_) if booking.with_ else None
        made, warning, left = _make(act, row, booking, staff_id)
        claims.release(session, follow_up_id, desk.by.id, desk.in_hand)
        words = in_words((f"Booked for {_say(booking.starts_local, booking.with_)}.", warning))
        done = act.finish("booked", words, follow_up_id=follow_up_id, made=made)
        return replace(done, left=left)


def _keep_contact(act: Act, row: tables.FollowUp, booking: Booking) -> None:
    """Log the contact that led to an appointment, where there was one."""
    if booking.channel is None:
        return
    about = {"person_id": row.person_id, "follow_up_id": row.id, "round": row.round}
    said: dict[str, Any] = {
        "channel": booking.channel,
        "outcome": "booked",
        "by_them": is_theirs(act, booking),
    }
    if (number := booking.contact_point_id) is not None:
        own_row(act.session, tables.ContactPoint, number, row.person_id)
        said |= {"contact_point_id": number}
    others = counts_for(act, row.id)[1:]
    also_about(act, "contact", act.add("contact", **about, step=row.step, **said), others)


@needs(Right.REACH)
def move(
    desk: Desk,
    booking_id: int,
    to: MoveTo,
    by_whom: Side,
    why: str = "",
) -> Next:
    """Move an appointment to another time; the old one ends and a new one is made.

    How long it is and who sees them stay unless told otherwise.

    Raises:
        Conflict: it has ended, or its follow-up is closed.
        Refused: as for `book`.
    """
    with desk.store.write() as session:
        old = _not_ended(session, booking_id)
        row = open_row(session, tables.FollowUp, _follow_up_id(session, old))
        act = Act(desk, session, old.person_id)
        what: Ending = "moved_by_person" if by_whom == "person" else "moved_by_practice"
        act.add("booking_event", booking_id=booking_id, what=what, why=why.strip())
        minutes = old.minutes if to.minutes is None else to.minutes
        booking = Booking(
            to.starts_local,
            minutes,
            why_late=to.why_late,
            place=old.place,
            note=old.note,
            earlier=to.earlier,
            all_the_same=to.all_the_same,
        )
        staff_id = _staff_id(session, to.with_) if to.with_ else old.staff_id
        made, warning, _left = _make(act, row, booking, staff_id)
        with_ = to.with_ or _handle(session, staff_id)
        words = in_words((f"Moved to {_say(to.starts_local, with_)}.", warning))
        return act.finish("moved", words, follow_up_id=row.id, made=made)


@needs(Right.REACH)
def cancel(desk: Desk, booking_id: int, by_whom: Side, why: str = "") -> Next:
    """Call an appointment off; the follow-up goes back to its right step by itself.

    The words tell whom to ring who would come earlier; the line of history does not.
    """
    what: Ending = "cancelled_by_person" if by_whom == "person" else "cancelled_by_practice"
    with desk.store.write() as session:
        old = _not_ended(session, booking_id)
        act = Act(desk, session, old.person_id)
        done = _end(act, old, what, "Called off.", why=why.strip())
    return replace(done, words=in_words((done.words, freed(desk, booking_id).told)))


@needs(Right.REACH)
def record_attended(desk: Desk, booking_id: int, visit_id: int | None = None) -> Next:
    """Record that they came, with the visit that was then closed, where it is known.

    Raises:
        Refused: the day has not come yet.
        NotFound: no such visit of this person.
    """
    with desk.store.write() as session:
        old = _not_ended(session, booking_id)
        _has_come(desk, old)
        visit = _visit_of(session, old, visit_id)
        act = Act(desk, session, old.person_id)
        words = ["Attended."]
        if visit is None and not _open_of(session, old):
            words.append(ask_to_type(act, _day_of(old), old.staff_id))
        elif visit is None:
            words.append("Nothing closes until the visit is recorded: what it looked at then does.")
        said = in_words(words)
        return _end(act, old, "attended", said, visit_id=visit, refold=True, on=_day_of(old))


@needs(Right.REACH)
def record_missed(desk: Desk, booking_id: int, *, not_brought: bool = False) -> Next:
    """Record that nobody came: a child, or a dependent adult, was not brought.

    Args:
        desk: who acts, on which day.
        booking_id: the appointment.
        not_brought: whoever was to bring them did not. Of a child that is always so; of an adult
            whom nobody is recorded to care for it never is, and they did not attend.

    Raises:
        Refused: the hour has not come yet.
    """
    with desk.store.write() as session:
        old = _not_ended(session, booking_id)
        _has_come(desk, old)
        _hour_has_come(desk, old)
        facts = facts_now(session, _follow_up_id(session, old))
        what = missed_word(facts, old.starts_local.date())
        others = not_brought and _is_cared_for(session, old.person_id, desk.today)
        what = "was_not_brought" if others else what
        words = f"{what.replace('_', ' ').capitalize()}."
        if not_brought and what == "did_not_attend":
            words += " Nobody is recorded who brings them: add whoever cares for them."
        return _end(Act(desk, session, old.person_id), old, what, words, on=_day_of(old))


def _is_cared_for(session: Session, person_id: int, on: date) -> bool:
    """Return whether somebody acts or cares for a person, and so may not have brought them."""
    a = tables.AdultFor
    acts = stands(a), a.role != "responsible_adult", a.until.is_(None) | (a.until > on)
    wanted = select(a.id).where(a.person_id == person_id, *acts).limit(1)
    return session.scalar(wanted) is not None


@needs(Right.REACH)
def wish_earlier(desk: Desk, booking_id: int, wish: str) -> Next:
    """Record when somebody with an appointment would come earlier; nothing takes the wish back."""
    with desk.store.write() as session:
        booking = _not_ended(session, booking_id)
        act = Act(desk, session, booking.person_id)
        act.set("booking", booking_id, earlier=wish.strip())
        words = f"Would come earlier: {wish.strip()}." if wish.strip() else "No wish any more."
        return act.finish("wish", words, follow_up_id=booking.follow_up_id)


def _make(
    act: Act, row: tables.FollowUp, booking: Booking, staff_id: int | None
) -> tuple[int, str, int | None]:
    """Make the row of an appointment; return its number, what to tell and what it leaves."""
    desk, starts = act.desk, booking.starts_local
    zone = desk.config.calendar.time_zone
    check_time(desk.calendar, zone, starts, booking.minutes)
    facts = facts_now(act.session, row.id)
    because = _why_stopped(facts, desk.today)
    if because:
        raise Refused(f"The person of follow-up {row.id} {because}.", hint="A clinician decides.")
    warning = check_booking(facts, starts.date(), made_on=desk.today, why_late=booking.why_late)
    who = _handle(act.session, staff_id)
    if not booking.all_the_same and (no := who_is_excluded(desk, who, starts.date(), row.do)):
        raise Refused(no, hint="Choose another day or practitioner, or book all the same.")
    made = act.add(
        "booking",
        person_id=row.person_id,
        follow_up_id=row.id,
        starts_local=starts,
        zone=zone,
        staff_id=staff_id,
        late_why=booking.why_late.strip() if starts.date() > facts.latest else "",
        minutes=booking.minutes,
        place=booking.place,
        note=booking.note,
        earlier=booking.earlier.strip(),
    )
    taken = taken_words(act.session, Time(starts, booking.minutes, staff_id), but=made)
    away = _elsewhere(act, staff_id, starts.date())
    too, left = meets_too(act, row.id, made, starts.date(), who)
    return made, in_words((warning, taken, away, too)), left


def _elsewhere(act: Act, staff_id: int | None, day: date) -> str:
    """Return in words that whoever would see a person is at another site that day."""
    if staff_id is None or len(act.desk.config.sites) < 2:
        return ""
    p, s = tables.Person, tables.Staff
    who = act.session.scalars(select(s.handle).where(s.id == staff_id)).one()
    site = act.session.scalars(select(p.site).where(p.id == act.person_id)).one()
    return elsewhere_words(act.desk, who, day, site)


def _why_stopped(facts: Facts, on: date) -> str:
    return "has died" if facts.died_on is not None and facts.died_on <= on else ""


def _staff_id(session: Session, handle: str) -> int:
    found = session.scalar(select(tables.Staff.id).where(tables.Staff.handle == handle.lower()))
    if found is None:
        raise NotFound(f"There is no member of staff {handle!r}.")
    return found


def _handle(session: Session, staff_id: int | None) -> str | None:
    return session.scalar(select(tables.Staff.handle).where(tables.Staff.id == staff_id))


def _open_booking_of(session: Session, follow_up_id: int) -> tables.Booking | None:
    """Return the appointment of a follow-up that has not ended, or None."""
    wanted = select(whole(tables.Booking)).where(
        tables.Booking.follow_up_id == follow_up_id, *not_ended()
    )
    return session.scalars(wanted.order_by(tables.Booking.id.desc()).limit(1)).one_or_none()


def _not_ended(session: Session, booking_id: int) -> tables.Booking:
    old = row_of(session, tables.Booking, booking_id)
    wanted = select(tables.BookingEvent.what).where(
        tables.BookingEvent.booking_id == booking_id, stands(tables.BookingEvent)
    )
    how = session.scalar(wanted)
    if how is not None:
        raise Conflict(
            f"Booking {booking_id} has ended: {how.replace('_', ' ')}.",
            hint="Whoever recorded that can take it back on the same day.",
        )
    return old


def _follow_up_id(session: Session, booking: tables.Booking) -> int:
    """Return the follow-up of a booking, an open one first; refuse one that stands by itself."""
    if is_open := _open_of(session, booking):
        return is_open[0]
    if booking.follow_up_id is None:
        raise Refused(
            f"Booking {booking.id} belongs to no follow-up.",
            hint="Call it off, or record that they attended.",
        )
    return booking.follow_up_id


def _open_of(session: Session, booking: tables.Booking) -> list[int]:
    """Return what a booking was made for and is open, the one that it names first."""
    f = tables.FollowUp
    meant: list[int] = [booking.follow_up_id] if booking.follow_up_id else []
    meant += others_of(session, booking)
    is_open = set(session.scalars(select(f.id).where(f.id.in_(meant), f.is_open)))
    return [number for number in meant if number in is_open]


def _has_come(desk: Desk, booking: tables.Booking) -> None:
    if booking.starts_local.date() > desk.today:
        raise Refused(
            f"Booking {booking.id} is on {say_day(booking.starts_local.date())}.",
            hint="Call it off or move it until then.",
        )


def _hour_has_come(desk: Desk, booking: tables.Booking) -> None:
    """Refuse to say that nobody came before they could have; who comes early has come."""
    starts = booking.starts_local
    if not desk.clock.has_come(starts.date(), starts.time()):
        raise Refused(
            f"They are booked for {starts:%H:%M} today, and may still come.",
            hint="Say so from then on; if they have rung to say no, call it off.",
        )


def _day_of(booking: tables.Booking) -> date:
    """Return the day on which somebody came or not, whenever that is typed in."""
    return max(booking.starts_local.date(), booking.on)


def _visit_of(session: Session, booking: tables.Booking, visit_id: int | None) -> int | None:
    """Return the visit meant, or the one recorded on the day of the booking."""
    v = tables.Visit
    wanted = select(v.id).where(v.person_id == booking.person_id, stands(tables.Visit))
    if visit_id is None:
        day = booking.starts_local.date()
        return session.scalar(wanted.where(v.on == day).order_by(v.id.desc()))
    if session.scalar(wanted.where(v.id == visit_id)) is None:
        raise NotFound(f"There is no visit {visit_id} of this person.")
    return visit_id


def _end(
    act: Act,
    booking: tables.Booking,
    what: Ending,
    words: str,
    *,
    refold: bool = False,
    **more: Any,
) -> Next:
    act.add("booking_event", booking_id=booking.id, what=what, **more)
    for number in others_of(act.session, booking):
        act.touch("follow_up", number)
    return act.finish(what, words, follow_up_id=booking.follow_up_id, refold=refold)


def _say(starts: datetime, with_: str | None) -> str:
    who = f" with {with_.lower()}" if with_ else ""
    return f"{say_day(starts.date(), weekday=True)} at {starts:%H:%M}{who}"
