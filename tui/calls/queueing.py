"""What the call list asks of the register, and what each step means in words."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from recall.loop.outcomes import DIALLED, Outcome
from recall.protocol.contact_steps import STEP
from tui.words.signs import CHANNEL_WORDS
from tui.words.text import plain

if TYPE_CHECKING:
    from datetime import datetime

    from recall.desk.contacts.spoken_of import SpokenOf
    from recall.desk.core.done import Mine
    from recall.desk.core.session import Desk
    from recall.desk.people.person_card import PersonCard
    from recall.desk.worklists.call_card import CallCard
    from recall.desk.worklists.call_lines import Line


NO_NUMBER = (
    "No number is recorded, so nobody can be rung: look for one (Enter, then c), "
    "or take another way (v)."
)


SAY_BOTH = "Press what came of it here too, or ring again."
OFFER_TOO = "They are still on the line: offer a day for this too (b), or go on (Down)."


def cannot_be_rung(row: CallCard, channel: str, outcome: Outcome) -> bool:
    """Return whether an outcome would be of a call that nobody can have made."""
    return channel in DIALLED and not row.numbers and not outcome.needs_no_number


def day(desk: Desk) -> tuple[tuple[Line, ...], Mine]:
    """Return whom to reach today by number, the most pressing first, and what is done."""
    from recall.desk.core import done
    from recall.desk.worklists import call_lines

    return call_lines.call_lines(desk), done.done_today(desk)


def make_ready(_desk: Desk) -> None:
    """Import what recording an outcome takes, while nobody waits for it."""
    from recall.desk.contacts import contacting  # noqa: F401
    from recall.desk.core import replanning  # noqa: F401


def rows(
    desk: Desk, *, numbers: Sequence[int], on_the_line: int | None = None
) -> dict[int, CallCard | None]:
    """Return some rows of the list; None for one that no longer belongs there."""
    from recall.desk.worklists import call_card

    found: dict[int, CallCard | None] = dict.fromkeys(numbers)
    cards = call_card.call_cards(desk, numbers, on_the_line)
    found.update({row.follow_up: row for row in cards})
    return found


def spoken_of(desk: Desk, *, row: CallCard) -> tuple[SpokenOf, ...]:
    """Return everything that a call to the person in hand is about."""
    from recall.desk.contacts import spoken_of as about

    return about.spoken_of(desk, row.follow_up)


def card(desk: Desk, *, ref: str) -> PersonCard:
    """Return everything on one person."""
    from recall.desk.people import person_card

    return person_card.person(desk, ref)


def is_receptions(step: str | None) -> bool:
    """Return whether a step is done by whoever works the list of calls."""
    return step is not None and STEP[step].who == "reception"


def with_other(
    row: CallCard, handle: str, mine: Sequence[datetime], has_come: Callable[[datetime], bool]
) -> str:
    """Return in words that another desk has the person in hand, or nothing.

    `mine` is until when this desk's own claims are: under one name, they tell it from another.
    One of that name that has gone silent is said to be so: whom it has may be taken over.
    """
    if not row.claim_by or row.claim_until is None:
        return ""
    until = f"until {row.claim_until:%H:%M}: take the next one."
    if row.claim_by != handle:
        return f"With {row.claim_by} {until}"
    if row.claim_until in tuple(mine):
        return ""
    from recall.desk.contacts.allowed import HOLDS, lost_from

    if has_come(lost_from(row.claim_until)):
        last = row.claim_until - HOLDS
        return f"A desk under your name has been silent since {last:%H:%M}: c takes them over."
    return f"In hand at another desk under your name {until}"


def what_now(row: CallCard, channel: str) -> str:
    """Return in one sentence what to do about the person in hand."""
    step = STEP.get(row.step)
    if step is None or not step.task:
        return row.next
    if step.is_call or row.at_home:
        if not row.number and channel in DIALLED:
            return NO_NUMBER
        if row.spoken is not None and row.spoken.reached:
            return f"{plain(row.spoken.words)}. {SAY_BOTH}"
        whom = plain(row.ask_for) or "the person"
        said = f"{row.next} " if row.hour is not None else ""
        where = f": {plain(row.number)}" if channel in DIALLED else ""
        way = CHANNEL_WORDS[channel]
        by = way if channel == "in_person" else f"by {way}"
        return f"{said}Reach {whom} {by}{where}. Then press what came of it."
    return step.task
