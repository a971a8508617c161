"""Reaching people: claim a follow-up, log what came of it, hold it back, do what else is next."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import date, datetime, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.contacts.address_doubt import addresses, doubted
from recall.desk.contacts.allowed import may_be_contacted, meant, outcome_of
from recall.desk.contacts.comes_back import comes_back
from recall.desk.contacts.contact_stopped import stop_contact
from recall.desk.contacts.entries import Attempt, must_not_wait
from recall.desk.contacts.matter_of import matter_of
from recall.desk.contacts.struck import strike
from recall.desk.contacts.the_number import with_a_number
from recall.desk.core.acting import Act, Next, in_words, open_row, own_row, row_of
from recall.desk.core.guarding import needs
from recall.desk.core.per_person import (
    also_about,
    also_written,
    counts_for,
    said_of,
    tracks_of,
)
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import Conflict, InputError, Refused
from recall.loop.facts import WRITTEN
from recall.loop.outcomes import Outcome
from recall.loop.reach import Tracks, contact_is_about, letter_counts, put_off_too, reached
from recall.loop.trail import PENDING
from recall.protocol.contact import PRESSING
from recall.protocol.contact_steps import CALL_STEPS
from recall.records import tables
from recall.records.journal import claims
from recall.schedule.calendar import say_day

HOLD = timedelta(days=7)
"""How long anybody may hold back what is overdue and does not press."""


@needs(Right.REACH)
def claim(desk: Desk, follow_up_id: int) -> datetime:
    """Take a follow-up in hand; return until when, after which the claim runs out by itself.

    Raises:
        Conflict: somebody else has it in hand, or another desk under this name, or it is closed.
    """
    with desk.store.write() as session:
        return claims.claim(session, follow_up_id, desk.by.id, desk.now, desk.in_hand)


@needs(Right.REACH)
def release(desk: Desk, follow_up_id: int) -> None:
    """Give a follow-up back before the claim runs out."""
    with desk.store.write() as session:
        claims.release(session, follow_up_id, desk.by.id, desk.in_hand)


@needs(Right.REACH)
def take_first(
    desk: Desk, follow_up_ids: Sequence[int], mine: datetime | None = None
) -> tuple[int, datetime] | None:
    """Take in hand the first whose person no other desk holds; return which and until when.

    Whoever was in hand before is given back: one desk rings one person. `mine` is until when that
    was; so another desk under the same name keeps whom it has.
    """
    now, by = desk.now, desk.by.id
    with desk.store.write() as session:
        if mine is not None:
            claims.release_all(session, by, mine)
        for number in follow_up_ids:
            if claims.is_at_another_desk(session, number, by, now):
                continue
            try:
                return number, claims.claim(session, number, by, now, ())
            except Conflict:
                continue
    return None


@needs(Right.REACH)
def give_all_back(desk: Desk, mine: datetime) -> None:
    """Give back whomever one has in hand, until an instant: the desk is left."""
    with desk.store.write() as session:
        claims.release_all(session, desk.by.id, mine)


@needs(Right.REACH, never_waits=must_not_wait)
def log_contact(desk: Desk, follow_up_id: int, version: int | None, attempt: Attempt) -> Next:
    """Log one attempt to reach a person, or their call or coming to us, and return what is next.

    Args:
        desk: who acts, on which day.
        follow_up_id: the follow-up that it was about.
        version: of the follow-up, as it was looked at; None asks for no check.
        attempt: how it was tried, and what came of it.

    Raises:
        Conflict: it was changed, closed or claimed by somebody else meanwhile.
        Refused: nobody may contact this person, or there is no number that can have been rung.
        InputError: no such channel or outcome, or a day that is none.
    """
    outcome_of(attempt, desk)
    with desk.store.write() as session:
        return _log(desk, session, follow_up_id, version, attempt)


@needs(Right.REACH)
def log_for_line(
    desk: Desk, follow_up_id: int, version: int | None, others: Sequence[int], attempt: Attempt
) -> tuple[Next, tuple[int, ...]]:
    """Log one call that nobody answered for whoever else is to be reached on that number.

    Returns what is next for the first, and for whom else it counts: not for whom another desk
    has in hand. It is taken back as one.

    Raises:
        Conflict: the first was changed, closed or claimed by somebody else meanwhile.
        Refused: nobody may contact the first person, or another outcome is meant.
    """
    desk, found = desk.as_one(), outcome_of(attempt, desk)
    if not found.comes_back:
        hint = "Record it for each of them."
        raise Refused(f"{found.words} is about one person, not about a number.", hint=hint)
    with desk.store.write() as session:
        counted = []
        for number in others:
            with suppress(Conflict, Refused):  # both are found before anything is written
                _log(desk, session, number, None, replace(attempt, contact_point_id=None))
                counted.append(number)
        done = _log(desk, session, follow_up_id, version, attempt)
    words = f"{done.words} The same for {len(counted)} more on this number." if counted else ""
    return replace(done, words=words or done.words), tuple(counted)


def _log(
    desk: Desk, session: Session, follow_up_id: int, version: int | None, attempt: Attempt
) -> Next:
    """Log one attempt inside a transaction."""
    found = outcome_of(attempt, desk)
    row = open_row(session, tables.FollowUp, follow_up_id, version)
    if not attempt.by_them:
        may_be_contacted(desk, session, row, found)
    act = Act(desk, session, row.person_id)
    attempt = with_a_number(act, found, attempt)
    attempt = comes_back(act, found, attempt)
    named = meant(session, row, attempt.which)
    tracks = tracks_of(session, row.person_id)
    about = contact_is_about(
        found, tracks, named.id, desk.today, desk.protocol.contact, attempt.which
    )
    made = _keep(act, named, attempt)
    _also(act, found, attempt, tracks, made, about)
    stopped = _take_effect(act, found, attempt)
    claims.release(session, follow_up_id, desk.by.id, desk.in_hand)
    words = in_words((f"{found.words}.", found.ask, stopped, _stays(act, found, tracks, about)))
    done = act.finish("contact", words, follow_up_id=named.id, made=made)
    done = replace(done, words=in_words((done.words, _too_late(act, done, tracks, about))))
    again = found.ends_number and done.step in CALL_STEPS and done.on == desk.today
    return replace(done, stays=again)


def _also(
    act: Act, found: Outcome, attempt: Attempt, tracks: Tracks, made: int, about: Sequence[int]
) -> None:
    """Let an attempt count for all that it was about, and a pause for what is out of reach."""
    today, rules = act.desk.today, act.desk.protocol.contact
    if attempt.channel in WRITTEN and attempt.outcome == "message_sent":
        also_written(act, "contact", made, letter_counts(tracks, about[0], today, rules))
    else:
        also_about(act, "contact", made, about[1:])
    until = attempt.until or today + timedelta(days=found.wait)
    for number in put_off_too(found, tracks, about):
        held = {"what": "held", "until": until, "why": f"{found.words}."}
        act.add("follow_up_event", follow_up_id=number, **held)


def _stays(act: Act, found: Outcome, tracks: Tracks, about: Sequence[int]) -> str:
    """Say what stays as it is where an outcome ends one thing and another is in reach."""
    if found.about != "one":
        return ""
    others = set(reached(tracks, about[0], act.desk.today, act.desk.protocol.contact)) - set(about)
    said = "; ".join(said_of(act.session, others))
    if not said:
        return ""
    later = "They are rung about it when a clinician has answered."
    presses = any(tracks[number].presses for number in others)
    waits = found.then in PENDING and not presses
    return in_words((f"Stays open: {said}.", later if waits else ""))


def _too_late(act: Act, done: Next, tracks: Tracks, about: Sequence[int]) -> str:
    """Say where they are rung again only after the latest day of what the call was about."""
    if done.on is None or done.step not in CALL_STEPS:
        return ""
    coming = [day for number in about if (day := tracks[number].latest) >= act.desk.today]
    if not coming or done.on <= min(coming):
        return ""
    return f"That is after the latest day, {say_day(min(coming))}."


def _keep(act: Act, row: tables.FollowUp, attempt: Attempt) -> int:
    """Make the row of an attempt, and return its number."""
    if attempt.adult_id is not None:
        own_row(act.session, tables.AdultFor, attempt.adult_id, row.person_id)
    if attempt.contact_point_id is not None:
        own_row(act.session, tables.ContactPoint, attempt.contact_point_id, row.person_id)
    return act.add(
        "contact",
        person_id=row.person_id,
        follow_up_id=row.id,
        round=row.round,
        step=row.step,
        step_no=row.step_no,
        channel=attempt.channel,
        outcome=attempt.outcome,
        until=attempt.until,
        until_at=f"{attempt.until_at:%H:%M}" if attempt.until_at else None,
        by_them=attempt.by_them,
        note=attempt.note.strip(),
        spoke_with=attempt.spoke_with.strip(),
        adult_id=attempt.adult_id,
        contact_point_id=attempt.contact_point_id,
    )


@needs(Right.REACH)
def hold(desk: Desk, follow_up_id: int, version: int | None, why: str, until: date) -> Next:
    """Hold contact back until a day, with the reason.

    Raises:
        InputError: no reason, or a day that is not ahead.
        Refused: it presses, and the day lies after its latest.
    """
    required(why, "Contact is held back without a reason.", hint="Say why.")
    if until <= desk.today:
        raise InputError(f"{until} is not ahead.", hint="Give a day after today.")
    with desk.store.write() as session:
        row = open_row(session, tables.FollowUp, follow_up_id, version)
        act = Act(desk, session, row.person_id)
        for number in counts_for(act, follow_up_id):
            one = row_of(session, tables.FollowUp, number)
            if until > _longest(desk, one) and not desk.allows(Right.DECIDE):
                raise Refused(
                    f"Follow-up {number} has its latest day on {one.latest}.",
                    hint="Hold it until then, or ask somebody who may decide.",
                )
            act.add(
                "follow_up_event", follow_up_id=number, what="held", until=until, why=why.strip()
            )
        claims.release(session, follow_up_id, desk.by.id, desk.in_hand)
        return act.finish(
            "held", f"Held back: {why.strip().rstrip('.')}.", follow_up_id=follow_up_id
        )


def _longest(desk: Desk, row: tables.FollowUp) -> date:
    """Return until when anybody may hold back: its latest day, or a week where it can wait.

    The week is common practice, no published source.
    """
    return row.latest if row.urgency in PRESSING else max(row.latest, desk.today + HOLD)


@needs(Right.REACH)
def note(desk: Desk, follow_up_id: int, text: str) -> Next:
    """Write something down about a follow-up; it changes nothing."""
    required(text, "The note is empty.")
    with desk.store.write() as session:
        row = row_of(session, tables.FollowUp, follow_up_id)
        act = Act(desk, session, row.person_id)
        act.note(text.strip(), "follow_up", follow_up_id)
        return act.finish("note", "Noted.", follow_up_id=follow_up_id)


@needs(Right.DECIDE)
def looked(desk: Desk, follow_up_ids: list[int]) -> list[Next]:
    """Record that a clinician looked at these before they are written to."""
    desk = desk.as_one()
    with desk.store.write() as session:
        return [
            _done(desk, session, number, "looked", "Looked at.", "") for number in follow_up_ids
        ]


@needs(Right.REACH)
def address_checked(
    desk: Desk,
    follow_up_id: int,
    version: int | None,
    how: str,
    *,
    still_there: bool | None = None,
) -> Next:
    """Record that the address and numbers were checked, how, and what was found.

    Found wrong, the person counts as moved: no letter goes out until a new address is recorded.
    An address recorded since the doubt arose is not the one that was asked about, and stays.
    What could not be found out settles nothing: what was in doubt is not written to either.

    Args:
        desk: who acts, on which day.
        follow_up_id: the follow-up for which it was checked.
        version: of the follow-up, as it was looked at.
        how: with whom or by what it was checked.
        still_there: whether the address on record is right; None: not known.
    """
    required(how, "The check is without words.", hint="Say how it was checked.")
    with desk.store.write() as session:
        row = open_row(session, tables.FollowUp, follow_up_id, version)
        act = Act(desk, session, row.person_id)
        found = _address_found(act, follow_up_id, still_there)
        why = f"{how.strip().rstrip('.')}. {found}"
        for number in counts_for(act, follow_up_id):
            act.add("follow_up_event", follow_up_id=number, what="address_checked", why=why)
        words = f"Address checked. {found}."
        return act.finish("address_checked", words, follow_up_id=follow_up_id)


def _address_found(act: Act, follow_up_id: int, still_there: bool | None) -> str:
    """Let what was found about the address count everywhere; return it in words."""
    if still_there:
        act.set("person", act.person_id, moved_on=None)
        return "The address on record is right"
    found = "Not known whether" if still_there is None else "No longer"
    doubt = doubted(act.session, follow_up_id, act.desk.today)
    if still_there is None and not doubt.came_back:
        return f"{found} at the address on record"
    kept = addresses(act.session, act.person_id, act.desk.today)
    if not kept:
        return "No address is on record"
    if doubt.since is not None and any(since > doubt.since for since in kept):
        return f"{found} at the former address; the one recorded since then stays"
    moved_on = act.session.scalar(
        select(tables.Person.moved_on).where(tables.Person.id == act.person_id)
    )
    if moved_on is None:
        act.set("person", act.person_id, moved_on=act.desk.today)
    return f"{found} at the address on record: no letter goes out until a new one is recorded"


@needs(Right.REACH)
def gp_told(desk: Desk, follow_up_id: int, version: int | None, how: str = "") -> Next:
    """Record that the GP or referrer was told that the person cannot be reached.

    Raises:
        Refused: the person did not agree to that.
    """
    with desk.store.write() as session:
        row = open_row(session, tables.FollowUp, follow_up_id, version)
        agreed = session.scalar(
            select(tables.Person.gp_may_be_told).where(tables.Person.id == row.person_id)
        )
        if agreed is False:
            raise Refused(
                f"The person of follow-up {follow_up_id} did not agree to the GP being told.",
                hint="A clinician decides without it.",
            )
        return _done(desk, session, follow_up_id, "gp_told", "GP or referrer told.", how)


def _done(desk: Desk, session: Session, follow_up_id: int, what: str, words: str, why: str) -> Next:
    row = open_row(session, tables.FollowUp, follow_up_id)
    act = Act(desk, session, row.person_id)
    for number in counts_for(act, follow_up_id):
        act.add("follow_up_event", follow_up_id=number, what=what, why=why.strip())
    return act.finish(what, words, follow_up_id=follow_up_id)


def _take_effect(act: Act, outcome: Outcome, attempt: Attempt) -> str:
    """Let an outcome about the person, or about a way to reach them, count everywhere at once."""
    today = act.desk.today
    if outcome.matter:
        return matter_of(act, outcome.matter, attempt.note.strip(), attempt.language)
    if outcome.stops_contact is not None:
        return stop_contact(act, outcome.stops_contact, today)
    if attempt.best_time.strip() and attempt.contact_point_id is not None:
        act.set("contact_point", attempt.contact_point_id, best_time=attempt.best_time.strip())
    if outcome.doubts_address:
        act.set("person", act.person_id, moved_on=today)
    if outcome.ends_number and attempt.contact_point_id is not None:
        return strike(act, outcome, attempt.contact_point_id)
    return ""
