"""The number that was rung: the one that was shown, and nobody is rung where there is none."""

from __future__ import annotations

from dataclasses import replace

from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.contacts.struck import first_number
from recall.desk.core.acting import Act, ref_of
from recall.errors import Refused
from recall.loop.outcomes import DIALLED, Outcome

NO_NUMBER = "No number is recorded for {who}, so nobody can have been rung: nothing was recorded."
INSTEAD = "Record a number, or take down what they told us as a call of theirs."


def with_a_number(act: Act, outcome: Outcome, attempt: Attempt) -> Attempt:
    """Return an attempt with the number that it ends, or as a call of theirs where it must be.

    Raises:
        Refused: a call of ours, though there is no number on which it can have been made.
    """
    if attempt.by_them or attempt.contact_point_id is not None or attempt.channel not in DIALLED:
        return attempt
    number = first_number(act)
    if number is not None:
        return replace(attempt, contact_point_id=number) if outcome.ends_number else attempt
    if outcome.needs_no_number:
        return replace(attempt, by_them=True)
    who = ref_of(act.session, act.person_id)
    raise Refused(NO_NUMBER.format(who=who), hint=INSTEAD)


def is_theirs(act: Act, booking: Booking) -> bool:
    """Return whether an appointment was agreed on a call of theirs: without a number it was."""
    if booking.by_them or booking.channel not in DIALLED:
        return booking.by_them
    return first_number(act) is None
