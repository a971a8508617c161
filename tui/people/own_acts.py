"""What somebody does by themselves: they ring, write or walk in, book, move or call off.

The sheets belong to one person's screen; what each is about was open there when it was read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from recall.desk.contacts.entries import Attempt
from recall.exchange.typed_days import CALL_AT
from tui.calls import acts, booking_sheets
from tui.commands.outcomes import KEYED_OUTCOMES
from tui.dialogs.choose import Choice
from tui.dialogs.form import Checks, Field, Form, Values
from tui.people import changes
from tui.words.text import plain, short_day

if TYPE_CHECKING:
    from recall.desk.contacts.spoken_of import SpokenOf
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.people.person_card import PersonCard
    from recall.desk.worklists.call_card import CallCard
    from recall.loop.outcomes import Outcome

HOW = (
    ("phone", "They rang"),
    ("in_person", "They came in"),
    ("email", "They wrote an e-mail"),
    ("text", "They sent a text"),
    ("letter", "They wrote a letter"),
)
OURS = ("no_answer", "left_message", "somebody_else_answered")
"""Outcomes of a call of ours that may be recorded of anybody, in the list of calls or not."""


def call_cards(desk: Desk, *, ref: str) -> tuple[CallCard, ...]:
    """Return everything that is open for one person."""
    from recall.desk.worklists import call_card

    return call_card.call_cards_of(desk, ref)


@dataclass(frozen=True)
class Call:
    """What one call is about: everything that is in reach of one another."""

    rows: tuple[CallCard, ...]
    about: tuple[SpokenOf, ...]


def spoken_of(desk: Desk, *, ref: str) -> tuple[Call, ...]:
    """Return what is open for one person, by the calls that would be about it."""
    from recall.desk.contacts import spoken_of as about

    found: list[Call] = []
    left = {row.follow_up: row for row in call_cards(desk, ref=ref)}
    while left:
        said = about.spoken_of(desk, next(iter(left)))
        rows = tuple(left.pop(one.follow_up) for one in said if one.follow_up in left)
        found.append(Call(rows, said))
    return tuple(found)


def outcomes() -> list[Choice]:
    """Return what may come of a call of theirs or ours, by the keys of the call list.

    What strikes the number that was rung belongs to the call list, where that number stands.
    """
    some = [found for found in KEYED_OUTCOMES if not found.only_ours or found.id in OURS]
    return [
        Choice(
            found.id,
            f"You rang: {found.short.lower()}" if found.id in OURS else found.short,
            found.key,
        )
        for found in some
    ]


def told(calls: Sequence[Call], outcome: str) -> Form:
    """Ask how they reached us, of what it was said, and for whatever an outcome asks for.

    What presses most is what a call is about, unless another is chosen.
    """
    found, first = acts.outcome_of(outcome), calls[0].rows[0]
    choices = _about(calls, found)
    ours = found.only_ours
    hint = f"{CALL_AT}; empty: in {found.wait} days"
    asked = (
        (found.asks_day, Field("until", "Call again on", "call_at", hint=hint)),
        (found.is_grave, Field("name", "Type the family name to go on", needed=True)),
        (True, Field("note", "Note", hint="who told you, where it was not the person")),
        (not ours, Field("how", "How", "choice", choices=HOW)),
        (len(choices) > 1, Field("which", "About", "choice", choices=choices)),
    )

    def store(desk: Desk, values: Values) -> Next:
        which = acts.numbers_of(values.get("which", choices[0][0]))
        row = next(row for call in calls for row in call.rows if row.follow_up == which[0])
        acts.doubt_late(desk, row, found, values)
        until, at = values.get("until") or (None, None)
        how, note = values.get("how", HOW[0][0]), values["note"]
        attempt = Attempt(how, outcome, note, until, by_them=not ours, until_at=at)
        if found.about == "one":
            attempt = replace(attempt, which=which)
        return acts.log(desk, row=acts.as_seen(row, values), attempt=attempt)

    def check(values: Values) -> str:
        if "name" not in values or acts.same_name(values["name"], first.family_name):
            return ""
        return "That is not this person's family name: nothing was recorded."

    lines = [*acts.about(first), found.ask] if found.ask else acts.about(first)
    checks = Checks(check, live=partial(acts.read_as, first) if found.asks_day else None)
    fields = [field for is_asked, field in asked if is_asked]
    return Form(f"{found.words}.", fields, store, lines=lines, checks=checks, does="Record it")


def _about(calls: Sequence[Call], found: Outcome) -> list[tuple[str, str]]:
    """Return of what an outcome may be said: one thing where it ends one, else all in reach."""
    if found.about == "one":
        each = [(f"{one.follow_up}", plain(one.words)) for call in calls for one in call.about]
        return acts.which_of(calls[0].about) + each[len(calls[0].about) :]
    return [
        (" ".join(f"{one.follow_up}" for one in call.about), _words(call.about)) for call in calls
    ]


def _words(about: Sequence[SpokenOf]) -> str:
    more = f", and {len(about) - 1} more" if len(about) > 1 else ""
    return f"{plain(about[0].words)}{more}"


def booking_choices(rows: tuple[CallCard, ...], today: date) -> list[Choice]:
    """Return what can be done about appointments: make one, move it, call it off, close it.

    One appointment is one line, however much it meets.
    """
    found = []
    if not any(row.booked_on for row in rows):
        rows = rows[:1]  # one appointment meets all that it can: it is made for what presses most
    for n, row in enumerate(rows):
        booked, met = row.booked_on, _met_with(rows, row)
        if booked is None:
            found.append(Choice(f"book {n}", f"Book: {_asked(row, today)}"))
        if booked is None or met[0] is not row:
            continue
        what = _all_asked(met, today)
        on = f"{short_day(booked, today)} {acts.booked(row.appointment)}".strip()
        if booked <= today:
            found.append(Choice(f"came {n}", f"Did they come on {on}? {what}"))
        found.append(Choice(f"move {n}", f"Move from {on}: {what}"))
        found.append(Choice(f"cancel {n}", f"Call off {on}: {what}"))
    return found


def _met_with(rows: Sequence[CallCard], row: CallCard) -> list[CallCard]:
    """Return everything that a row's appointment is for, the row itself with it."""
    if row.booking_id is None:
        return [row]
    return [each for each in rows if each.booking_id == row.booking_id]


def _all_asked(met: Sequence[CallCard], today: date) -> str:
    why = " ".join(dict.fromkeys(plain(each.why) for each in met))
    return f"{why} By {short_day(min(each.latest for each in met), today)}"


def booking_sheet(rows: tuple[CallCard, ...], chosen: str) -> Form:
    """Return the sheet of a choice of `booking_choices`."""
    does, _, place = chosen.partition(" ")
    row = rows[int(place)]
    if does == "book":
        return booking_sheets.booking(row, HOW[0][0], by_them=True)
    makers = {"came": acts.attendance, "move": booking_sheets.moving, "cancel": _open_call_off}
    return makers[does](row)


def loose_choices(card: PersonCard, today: date) -> list[Choice]:
    """Return the appointments that may be called off though what they were for is closed."""
    return [
        Choice(
            f"loose {n}",
            f"Call off {short_day(each.starts_local.date(), today)} {acts.booked(each)}: "
            "what it was for is closed",
        )
        for n, each in enumerate(card.loose)
    ]


def loose_sheet(card: PersonCard, chosen: str) -> Form:
    """Return the sheet that calls such an appointment off."""
    each = card.loose[int(chosen.partition(" ")[2])]
    lines = (*changes.about(card), f"Booked: {acts.booked(each, whole=True)}.")
    return _calling_off(each.id, lines)


def _asked(row: CallCard, today: date) -> str:
    return f"{plain(row.why)} By {short_day(row.latest, today)}"


def _open_call_off(row: CallCard) -> Form:
    stays = "The follow-up stays open and comes back into the list."
    return _calling_off(row.booking_id or 0, (*acts.about_booked(row), stays))


def _calling_off(booking_id: int, lines: Sequence[str]) -> Form:
    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import bookings

        return bookings.cancel(desk, booking_id, values["whose"], values["why"])

    fields = (
        Field("why", "Why"),
        Field("whose", "Whose wish", "choice", choices=booking_sheets.WHOSE),
    )
    return Form("Call the appointment off", fields, store, lines=lines, does="Call it off")
