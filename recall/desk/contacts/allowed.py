"""Whether an attempt can be recorded: its channel, its outcome, whom it is about, who may ring."""

from __future__ import annotations

from collections.abc import Sequence
from typing import get_args

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.contacts.entries import Attempt
from recall.desk.core.acting import open_row
from recall.desk.core.session import Desk
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.loop.addressee import Person as Addressed
from recall.loop.addressee import contact_stopped
from recall.loop.outcomes import BY_ID, Channel, Outcome
from recall.records import tables
from recall.records.journal import claims
from recall.records.journal.claims import HOLDS as HOLDS
from recall.records.journal.claims import SILENT as SILENT
from recall.records.journal.claims import lost_from as lost_from

CHANNELS: tuple[Channel, ...] = get_args(Channel)
TAKE_THE_NEXT = "Take the next one; a claim runs out by itself."


def outcome_of(attempt: Attempt, desk: Desk) -> Outcome:
    """Return the outcome meant, or refuse what cannot be."""
    check_channel(attempt.channel)
    known: dict[str, Outcome] = {str(name): found for name, found in BY_ID.items()}
    found, until = known.get(attempt.outcome), attempt.until
    if found is None:
        hint = f"It may be: {', '.join(known)}."
        raise InputError(f"{attempt.outcome!r} is no outcome.", hint=hint)
    if until is not None and not found.asks_day:
        raise InputError(f"{attempt.outcome} takes no day.", hint="Leave the day out.")
    _check_hour(attempt, desk)
    if attempt.which and found.about != "one":
        raise InputError(
            f"{attempt.outcome} is about all that is in reach.", hint="Leave out which."
        )
    return found


def _check_hour(attempt: Attempt, desk: Desk) -> None:
    """Refuse a day that is not ahead, or today without an hour that is."""
    until, at = attempt.until, attempt.until_at
    if at is not None and until is None:
        raise InputError("An hour without its day.", hint="Give the day as well.")
    if until is None or until > desk.today:
        return
    if at is None or until < desk.today:
        hint = "Give a day after today, or an hour of today."
        raise InputError(f"{until} is not ahead.", hint=hint)
    if desk.clock.has_come(until, at):
        raise InputError(f"{at:%H:%M} today is not ahead.", hint="Give a later hour.")


def check_channel(channel: str) -> None:
    """Refuse what is no channel."""
    if channel not in CHANNELS:
        raise InputError(f"{channel!r} is no channel.", hint=f"It may be: {', '.join(CHANNELS)}.")


def meant(session: Session, row: tables.FollowUp, which: Sequence[int]) -> tables.FollowUp:
    """Return the follow-up that a contact names: the one in hand, or the first of those said.

    Raises:
        NotFound: one of those said is somebody else's.
    """
    said = [open_row(session, tables.FollowUp, number) for number in which]
    for one in said:
        if one.person_id != row.person_id:
            raise NotFound(f"Follow-up {one.id} is not this person's.")
    return said[0] if said else row


def may_be_contacted(desk: Desk, session: Session, row: tables.FollowUp, found: Outcome) -> None:
    """Refuse an attempt of ours that nobody may make, or that somebody else is making.

    What stops all contact, or says that somebody is worse, is taken down whoever has them in hand.
    """
    p = tables.Person
    wanted = select(p.born, p.deceased_on, p.objected_on, p.unsafe_on).where(p.id == row.person_id)
    born, died_on, objected_on, unsafe_on = session.execute(wanted).one()
    person = Addressed(born=born, died_on=died_on, objected_on=objected_on, unsafe_on=unsafe_on)
    if because := contact_stopped(person, desk.today):
        raise Refused(
            f"The person of follow-up {row.id} {because}.",
            hint="Log only what they do themselves; a clinician decides the rest.",
        )
    if found.moves_up or found.is_grave:
        return
    held_by = claims.held_by_another(session, row.person_id, desk.by.id, desk.now)
    if held_by is not None:
        handle = session.scalar(select(tables.Staff.handle).where(tables.Staff.id == held_by))
        raise Conflict(f"{handle} has follow-up {row.id} in hand.", hint=TAKE_THE_NEXT)
    if desk.in_hand is not None and claims.is_at_another_desk(
        session, row.id, desk.by.id, desk.now, desk.in_hand
    ):
        raise Conflict(claims.AT_ANOTHER_DESK, hint=TAKE_THE_NEXT)
