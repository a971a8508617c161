"""Why a letter must not go out after all, looked at when it is printed and when it is posted.

Between writing and posting people die, object, move, book, come, or ask to be called; every
letter is held against the register as it stands at that moment, and against the other letters of
the week in which it leaves: a batch that is posted late may not bring a person a second one.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.session import Desk
from recall.desk.post.choosing import letter_may_help
from recall.desk.post.occasions import CONFIRMATION, OWN_CONTACT
from recall.desk.post.weekly import one_too_many
from recall.letters.data import TO_COLLEAGUES
from recall.loop.addressee import addressees, own_contact_asked
from recall.loop.facts import Facts
from recall.loop.status import status_on
from recall.loop.steps import Step
from recall.protocol.contact_steps import STEP
from recall.records import tables
from recall.records.facts.booked import not_ended
from recall.records.facts.cases import pages
from recall.records.facts.events import facts_for
from recall.records.people.addresses import Reachable, reachable

_DAY = timedelta(days=1)
REST_OF_WEEK = timedelta(days=6)
"""A week's letters are written for the whole of it: a step may lie so far ahead."""


def no_longer(
    desk: Desk, session: Session, letters: Sequence[tables.Letter], week: date
) -> dict[int, str]:
    """Return the letters that must not leave in a week as things stand now, each with the reason.

    A person's one recall letter of the week is looked for among those that may go.
    """
    by_person: dict[int, Reachable] = {}
    for some in pages(sorted({letter.person_id for letter in letters})):
        by_person |= reachable(session, some, desk.today)
    ids = sorted({letter.follow_up_id for letter in letters if letter.follow_up_id})
    facts: dict[int | None, Facts] = dict(facts_for(session, ids).items())
    bookings = _open_bookings(session, letters)
    referrals = _open_referrals(session, letters)
    found: dict[int, str] = {}
    for letter in letters:
        known = by_person.get(letter.person_id)
        if known is None:
            because = "the person is no longer in the register"
        elif letter.kind in TO_COLLEAGUES:
            because = _colleagues(letter, known, referrals)
        else:
            because = _addressed(desk, letter, known) or _asked(
                desk, letter, facts[letter.follow_up_id], known, bookings
            )
        if because:
            found[letter.id] = because
    return found | one_too_many(session, [x for x in letters if x.id not in found], week)


def _colleagues(letter: tables.Letter, known: Reachable, referrals: set[int]) -> str:
    """A letter to a colleague goes out whatever the person wishes of letters to themselves."""
    if letter.kind != "referral":
        return ""
    if letter.referral_id not in referrals:
        return "the referral has ended"
    return "has died" if known.person.died_on is not None else ""


def _addressed(desk: Desk, letter: tables.Letter, known: Reachable) -> str:
    """Say why nobody may be written to there any more."""
    to = addressees(known.person, desk.today, desk.protocol.contact)
    if not to.to:
        return to.none_because
    homes = {one.home: one.adults for one in to.to}
    if letter.contact_point_id not in homes:
        return "the address has changed or is not safe"
    adults = homes[letter.contact_point_id]
    return "" if letter.adult_id == (adults[0] if adults else None) else "others are written to"


def _asked(
    desk: Desk, letter: tables.Letter, facts: Facts, known: Reachable, bookings: set[int]
) -> str:
    """Say why there is nothing to write about any more."""
    now = status_on(facts, desk.today, desk.protocol.contact)
    if now.step is not None and now.step.at is not None and not now.step.promised:
        # One more call this afternoon, which nobody may come to: no letter is taken off for it.
        now = status_on(facts, desk.today + _DAY, desk.protocol.contact)
    if now.step is None:
        return "the follow-up is closed"
    if letter.step == CONFIRMATION:
        return "" if letter.round in bookings else "the appointment no longer stands"
    if letter.step == OWN_CONTACT:
        asked = own_contact_asked(known.person, desk.today, desk.protocol.contact)
        return "" if asked else "their own contact is known"
    if now.word == "booked":
        return f"booked: {now.why}"
    return _not_asked(desk, letter, facts, now.step, now.why)


def _not_asked(desk: Desk, letter: tables.Letter, facts: Facts, step: Step, why: str) -> str:
    """Say why the step of a letter is not what is to be done now."""
    if (step.kind, step.round) != (letter.step, letter.round):
        return f"something else is next: {why}"
    if STEP[step.kind].about_address and not letter_may_help(facts.usable_on(desk.today)):
        return "the address itself is in doubt"
    return f"put off: {why}" if step.on > desk.today + REST_OF_WEEK else ""


def _open_bookings(session: Session, letters: Sequence[tables.Letter]) -> set[int]:
    """Return the appointments meant by confirmations that have not ended."""
    ids = [letter.round for letter in letters if letter.step == CONFIRMATION]
    wanted = select(tables.Booking.id).where(*not_ended())
    return {
        n for some in pages(ids) for n in session.scalars(wanted.where(tables.Booking.id.in_(some)))
    }


def _open_referrals(session: Session, letters: Sequence[tables.Letter]) -> set[int]:
    ids = [letter.referral_id for letter in letters if letter.referral_id]
    wanted = select(tables.Referral.id).where(tables.Referral.is_open)
    return {
        n
        for some in pages(ids)
        for n in session.scalars(wanted.where(tables.Referral.id.in_(some)))
    }
