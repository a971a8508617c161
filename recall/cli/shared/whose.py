"""Whose it is: what commands take in the place of a number, and say before anything else."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from recall.cli.shared.common import emit_lines, say
from recall.desk.core.row_number import row_number
from recall.errors import InputError, NotFound

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.people.whose import Table


def follow_up_of(desk: Desk, text: str) -> int:
    """Return the follow-up that a number means; of a person, the most pressing that is open.

    Raises:
        NotFound: nobody has this reference, or nothing is open for them.
    """
    if (number := row_number(text)) is not None:
        return number
    from recall.desk.worklists.call_card import call_cards_of

    cards = call_cards_of(desk, text)
    if not cards:
        raise NotFound(f"Nothing is open for {text}.", hint="Look: recall person card.")
    return cards[0].follow_up


def follow_ups_of(desk: Desk, texts: Sequence[str]) -> list[int]:
    """Return the follow-ups that numbers or references mean, each once, in their order.

    Raises:
        NotFound: nobody has a reference, or nothing is open for them.
    """
    return list(dict.fromkeys(follow_up_of(desk, text) for text in texts))


def called_off_of(desk: Desk, text: str) -> int:
    """Return the appointment that a number means, or the only one of a person that was called off.

    Raises:
        NotFound: nobody has this reference, or none to come was called off for them.
        InputError: there are several.
    """
    if (number := row_number(text)) is not None:
        return number
    from recall.desk.worklists.earlier import called_off

    return _only(set(called_off(desk, text)), "appointment that was called off", text)


def booking_of(desk: Desk, text: str) -> int:
    """Return the appointment that a number means, or the only one of a person.

    Raises:
        NotFound: nobody has this reference, or none is booked for them.
        InputError: there are several.
    """
    if (number := row_number(text)) is not None:
        return number
    from recall.desk.people.person_card import person
    from recall.desk.worklists.call_card import call_cards_of

    made = {each.booking_id for each in call_cards_of(desk, text) if each.booking_id is not None}
    made |= {each.id for each in person(desk, text).loose}
    return _only(made, "appointment", text)


def referral_of(desk: Desk, text: str) -> int:
    """Return the referral that a number means, or the only open one of a person.

    Raises:
        NotFound: nobody has this reference, or none is open for them.
        InputError: there are several.
    """
    if (number := row_number(text)) is not None:
        return number
    from recall.desk.people.person_card import person

    return _only({each.id for each in person(desk, text).referrals}, "referral", text)


def _only(found: set[int], what: str, text: str) -> int:
    if not found:
        raise NotFound(f"There is no {what} of {text}.", hint="Look: recall person card.")
    if len(found) > 1:
        numbers = ", ".join(f"[{number}]" for number in sorted(found))
        raise InputError(f"{text} has several: {numbers}.", hint="Give the number of one.")
    return next(iter(found))


def emit_whose(desk: Desk, ref: str) -> None:
    """Print whose it is, before what is said about them."""
    from recall.desk.people.whose import whose

    if ref:
        emit_lines(whose(desk, ref))


def emit_whose_row(desk: Desk, table: Table, number: int) -> None:
    """Print whose follow-up, appointment or referral it is."""
    from recall.desk.people.whose import whose_row

    emit_lines(whose_row(desk, table, number))


def say_whose(desk: Desk, ref: str) -> None:
    """Say whose it is beside what is printed, which is a document or data."""
    from recall.desk.people.whose import whose

    say(whose(desk, ref))


def say_whose_row(desk: Desk, table: Table, number: int) -> None:
    """Say whose it is beside what is printed, which is a document or data."""
    from recall.desk.people.whose import whose_row

    say(whose_row(desk, table, number))
