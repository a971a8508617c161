"""Whom the week's letters go to: confirmed plans whose next step is a letter, backlog in portions.

A person gets one recall letter a week, the most pressing; it does the letter step that is due or
next of everything else in reach. What is about a missed appointment is beside that.

What should have gone out before its visit was taken in is backlog: no first import prints
years of letters at once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.desk.post.weekly import A_WEEK, backlog_so_far, is_recall, leaves_in, told_in_week
from recall.desk.worklists.day_list import in_order, rows_by, statuses_of
from recall.desk.worklists.status_on import (
    FollowUpStatus,
    has_gone_by,
    statuses,
    statuses_then,
)
from recall.loop.booking_rules import open_booking
from recall.loop.facts import Contact, Facts, Returned
from recall.loop.outcomes import BY_ID
from recall.loop.reach import LetterStep, letter_counts
from recall.protocol.contact import PRESSING
from recall.protocol.contact_steps import CONTACT_STEPS, LOOK_THROUGH, STEP
from recall.records.facts.cases import pages
from recall.records.tables import (
    AlsoAbout,
    Booking,
    BookingEvent,
    Due,
    FollowUp,
    FollowUpDue,
    Letter,
    Visit,
)

_WITH_A_LETTER = tuple(step.kind for step in CONTACT_STEPS if step.letter)
Key = tuple[int, int, str]
"""Follow-up, round and step: for each there is one letter to each home."""


@dataclass(frozen=True)
class AlsoDone:
    """A follow-up that a letter counts for beside the one that it names."""

    about: FollowUpStatus
    step: LetterStep


@dataclass(frozen=True)
class Chosen:
    """A follow-up about which a letter is written this week."""

    about: FollowUpStatus
    follow_up_id: int
    step: str
    round: int
    """Of the contact run; for the confirmation of an appointment, the appointment's number."""
    is_backlog: bool = False
    starts_local: datetime | None = None
    """The appointment that it confirms, or that was missed."""
    also: tuple[AlsoDone, ...] = ()
    """What else the letter is about, each with the step that it does there."""
    nearest: date | None = None
    """The latest day of whatever is next to be late for the person and is not booked."""

    @property
    def key(self) -> Key:
        """Return what there is one letter for."""
        return self.follow_up_id, self.round, self.step


@dataclass(frozen=True)
class Choice:
    """This week's letters, and what is left for later."""

    chosen: tuple[Chosen, ...]
    backlog_left: int
    unconfirmed: int
    """Follow-ups that would get a letter if a clinician confirmed their plan."""


def choose(desk: Desk, session: Session, week_on: date) -> Choice:
    """Return the follow-ups that get a letter in a week, the most pressing first."""
    week = leaves_in(week_on, desk.today)
    last = max(week_on + A_WEEK - timedelta(days=1), desk.today)
    due = [s for s in _may_be_written(desk, session, last) if _is_due(s, last)]
    written = written_for(session, [s.follow_up_id for s in due if s.follow_up_id])
    open_ones = [s for s in due if _key(s) not in written]
    may_go = in_order((s for s in open_ones if _may_go(s)), desk.today, "open")
    ids = [s.follow_up_id for s in may_go if s.follow_up_id]
    taken_in, missed = _taken_in(session, ids), _missed(session, ids)
    room = max(0, desk.config.letters.backlog_per_week - backlog_so_far(session, week))
    told = told_in_week(session, {s.person_id for s in may_go}, week)
    chosen, left = _one_each([_chosen(s, taken_in, missed) for s in may_go], told, room)
    return Choice(
        chosen=tuple(with_others(desk, session, chosen)),
        backlog_left=left,
        unconfirmed=len(open_ones) - len(may_go),
    )


def _one_each(found: Sequence[Chosen], told: set[int], room: int) -> tuple[list[Chosen], int]:
    """Return one recall letter for each person who has none, and how many people's backlog waits.

    It is the most pressing for which there is room: whoever waits for a later portion is written
    to about what has come due since.
    """
    chosen: list[Chosen] = []
    done: set[tuple[int, str]] = {(person_id, "recall") for person_id in told}
    left: set[tuple[int, str]] = set()
    for one in found:
        act = one.about.person_id, "recall" if is_recall(one.step) else f"{one.starts_local}"
        if act in done:
            continue
        if one.is_backlog and not room:
            left.add(act)
            continue
        room -= one.is_backlog
        done.add(act)
        chosen.append(one)
    return chosen, len(left - done)


def with_others(desk: Desk, session: Session, chosen: Sequence[Chosen]) -> list[Chosen]:
    """Return letters with what else each is about: what is in reach and may be written about."""
    open_of = _open_of(session, {c.about.person_id for c in chosen})
    numbers = [n for mine in open_of.values() for n in mine]
    known = {s.follow_up_id: s for s in statuses_of(desk, session, numbers) if s.follow_up_id}
    written = written_for(session, numbers)
    rules = desk.protocol.contact
    found = []
    for one in chosen:
        tracks = {n: known[n].facts for n in open_of[one.about.person_id] if n in known}
        does = _done_too(one, known, letter_counts(tracks, one.follow_up_id, desk.today, rules))
        also = tuple(
            AlsoDone(known[n], step)
            for n, step in does.items()
            if _may_go(known[n]) and (n, step.round, step.kind) not in written
        )
        days = (known[n].facts.latest for n in tracks if _is_asked(known[n], desk.today))
        found.append(replace(one, also=also, nearest=min(days, default=None)))
    return found


def _is_asked(found: FollowUpStatus, on: date) -> bool:
    """Return whether something waits for an appointment: it is not booked, nor of before."""
    step = found.status.step
    booked = open_booking([event for event in found.facts.events if event.on <= on])
    return booked is None and step is not None and step.kind != LOOK_THROUGH


def _done_too(
    one: Chosen, known: Mapping[int, FollowUpStatus], does: Mapping[int, LetterStep]
) -> dict[int, LetterStep]:
    """Return what a letter does elsewhere: an invitation no query and no missed day, and so on."""
    if STEP[one.step].about_address:
        steps = {n: known[n].status.step for n in known}
        return {
            n: LetterStep(step.kind, step.round)
            for n, step in steps.items()
            if step and n != one.follow_up_id and step.kind == one.step
            if known[n].person_id == one.about.person_id
        }
    recall = is_recall(one.step)
    return {n: step for n, step in does.items() if is_recall(step.kind) == recall}


def _open_of(session: Session, person_ids: set[int]) -> dict[int, list[int]]:
    """Return the open follow-ups of some people."""
    found: dict[int, list[int]] = {person_id: [] for person_id in person_ids}
    for some in pages(sorted(person_ids)):
        wanted = select(FollowUp.person_id, FollowUp.id).where(
            FollowUp.person_id.in_(some), FollowUp.is_open, FollowUp.void_at.is_(None)
        )
        for person_id, number in session.execute(wanted.order_by(FollowUp.id)):
            found[person_id].append(number)
    return found


def _may_be_written(desk: Desk, session: Session, last: date) -> list[FollowUpStatus]:
    """Return, from facts, how those stand whose step by a day may be a letter."""
    if has_gone_by(desk, session):
        return statuses_then(desk, session)
    rows = rows_by(desk, session, "come", last, _WITH_A_LETTER)
    return statuses(desk, session, [r.number for r in rows if STEP[r.step].letter])


def written_for(session: Session, follow_up_ids: Sequence[int]) -> set[Key]:
    """Return the letters there are, held ones too: each is written once for a round and step.

    One that was pulled never left the house: where its step comes again, it is written anew.
    """
    found: set[Key] = set()
    for some in pages(sorted(set(follow_up_ids))):
        wanted = select(Letter.follow_up_id, Letter.round, Letter.step).where(
            Letter.follow_up_id.in_(some), Letter.void_at.is_(None), Letter.pulled_why.is_(None)
        )
        found |= {
            (number, turn, step)
            for number, turn, step in session.execute(wanted)
            if number is not None and step is not None
        }
        also = (
            select(AlsoAbout.follow_up_id, AlsoAbout.round, AlsoAbout.step)
            .join_from(AlsoAbout, Letter, AlsoAbout.letter_id == Letter.id)
            .where(AlsoAbout.follow_up_id.in_(some), AlsoAbout.void_at.is_(None))
            .where(Letter.void_at.is_(None), Letter.pulled_why.is_(None))
        )
        found |= {(number, turn, step) for number, turn, step in session.execute(also)}
    return found


def letter_may_help(facts: Facts) -> bool:
    """Say whether asking at the address itself may help: where only the number is in doubt."""
    if facts.moved_on is not None or "letter" not in facts.channels:
        return False
    contacts = [BY_ID[e.outcome] for e in facts.events if isinstance(e, Contact)]
    ended = [outcome.ends for outcome in contacts if outcome.ends]
    back = any(isinstance(e, Returned) for e in facts.events)
    return ended[-1:] == ["number"] and not back


def _is_due(found: FollowUpStatus, last: date) -> bool:
    step = found.status.step
    if found.follow_up_id is None or step is None or step.on > last:
        return False
    row = STEP[step.kind]
    if row.about_address:
        return letter_may_help(found.facts.usable_on(last))
    return row.is_letter


def _may_go(found: FollowUpStatus) -> bool:
    """Say whether a clinician has confirmed the plan, or it presses and was typed in here.

    What is urgent waits for nobody; what a file says may be years old, and is looked at first.
    """
    pressing = found.status.urgency in PRESSING
    return found.is_confirmed or (pressing and found.waits == {"entered"})


def _key(found: FollowUpStatus) -> Key:
    step = found.status.step
    assert step is not None and found.follow_up_id is not None
    return found.follow_up_id, step.round, step.kind


def _taken_in(session: Session, follow_up_ids: Sequence[int]) -> dict[int, datetime]:
    """Return when the last imported visit that asked was taken in, by follow-up."""
    found: dict[int, datetime] = {}
    for some in pages(follow_up_ids):
        wanted = (
            select(FollowUpDue.follow_up_id, func.max(Visit.recorded_at))
            .join_from(FollowUpDue, Due, FollowUpDue.due_id == Due.id)
            .join(Visit, Due.visit_id == Visit.id)
            .where(FollowUpDue.follow_up_id.in_(some), FollowUpDue.left_at.is_(None))
            .where(Visit.source == "imported")
            .group_by(FollowUpDue.follow_up_id)
        )
        found |= {row[0]: row[1] for row in session.execute(wanted)}
    return found


def _missed(session: Session, follow_up_ids: Sequence[int]) -> dict[int, datetime]:
    """Return when the last appointment that was not kept was to begin, by follow-up."""
    found: dict[int, datetime] = {}
    for some in pages(follow_up_ids):
        wanted = (
            select(Booking.follow_up_id, Booking.starts_local)
            .join_from(Booking, BookingEvent, BookingEvent.booking_id == Booking.id)
            .where(Booking.follow_up_id.in_(some), Booking.void_at.is_(None))
            .where(BookingEvent.void_at.is_(None))
            .where(BookingEvent.what.in_(("did_not_attend", "was_not_brought")))
            .order_by(Booking.starts_local)
        )
        found |= {row.follow_up_id: row.starts_local for row in session.execute(wanted)}
        too = (
            select(AlsoAbout.follow_up_id, Booking.starts_local)
            .join_from(AlsoAbout, Booking, AlsoAbout.booking_id == Booking.id)
            .join(BookingEvent, BookingEvent.booking_id == Booking.id)
            .where(AlsoAbout.follow_up_id.in_(some), AlsoAbout.void_at.is_(None))
            .where(Booking.void_at.is_(None), BookingEvent.void_at.is_(None))
            .where(BookingEvent.what.in_(("did_not_attend", "was_not_brought")))
            .order_by(Booking.starts_local)
        )
        for number, starts in session.execute(too):
            found[number] = max(starts, found.get(number, starts))
    return found


def _chosen(
    found: FollowUpStatus, taken_in: dict[int, datetime], missed: dict[int, datetime]
) -> Chosen:
    number, turn, step = _key(found)
    at = taken_in.get(number)
    due_on = found.status.next_step_on
    late = at is not None and due_on is not None and due_on < at.date()
    starts = missed.get(number) if STEP[step].letter == "missed" else None
    return Chosen(found, number, step, turn, is_backlog=late, starts_local=starts)
