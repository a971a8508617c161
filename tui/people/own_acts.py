"""What somebody does by themselves: they ring, write or walk in, book, move or call off.

The sheets belong to one person's screen; what each is about was open there when it was read.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
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
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.people.person_card import PersonCard
    from recall.desk.worklists.call_card import CallCard

HOW = (
    ("phone", "They rang"),
    ("in_person", "They came in"),
    ("email", "They wrote an e-mail"),
    ("text", "They sent a text"),
    ("letter", "They wrote a letter"),
)


def call_cards(desk: Desk, *, ref: str) -> tuple[CallCard, ...]:
    """Return everything that is open for one person."""
    from recall.desk.worklists import call_card

    return call_card.call_cards_of(desk, ref)


def about_choices(rows: tuple[CallCard, ...], today: date) -> list[Choice]:
    """Return the choice of what a call was about."""
    return [Choice(f"{n}", _what(row, today)) for n, row in enumerate(rows)]


def their_outcomes() -> list[Choice]:
    """Return what may come of a call of theirs, by the keys of the call list."""
    theirs = [outcome for outcome in KEYED_OUTCOMES if not outcome.only_ours]
    return [Choice(outcome.id, outcome.short, outcome.key) for outcome in theirs]


def told(row: CallCard, outcome: str) -> Form:
    """Ask how they reached us, and for whatever an outcome asks for."""
    found = acts.outcome_of(outcome)
    fields = []
    if found.asks_day:
        hint = f"{CALL_AT}; empty: in {found.wait} days"
        fields.append(Field("until", "Call again on", "call_at", hint=hint))
    fields.append(Field("how", "How", "choice", choices=HOW))
    if found.is_grave:
        fields.append(Field("name", "Type the family name to go on", needed=True))
    fields.append(Field("note", "Note", hint="who told you, where it was not the person"))

    def store(desk: Desk, values: Values) -> Next:
        until, at = values.get("until") or (None, None)
        attempt = Attempt(values["how"], outcome, values["note"], until, by_them=True, until_at=at)
        return acts.log(desk, row=acts.as_seen(row, values), attempt=attempt)

    def check(values: Values) -> str:
        if "name" not in values or acts.same_name(values["name"], row.family_name):
            return ""
        return "That is not this person's family name: nothing was recorded."

    lines = [*acts.about(row), found.ask] if found.ask else acts.about(row)
    return Form(
        f"{found.words}.", fields, store, lines=lines, checks=Checks(check), does="Record it"
    )


def booking_choices(rows: tuple[CallCard, ...], today: date) -> list[Choice]:
    """Return what can be done about appointments: make one, move it, call it off, close it."""
    found = []
    if not any(row.booked_on for row in rows):
        rows = rows[:1]  # one appointment meets all that it can: it is made for what presses most
    for n, row in enumerate(rows):
        what, booked = _asked(row, today), row.booked_on
        if booked is None:
            found.append(Choice(f"book {n}", f"Book: {what}"))
            continue
        on = f"{short_day(booked, today)} {acts.booked(row.appointment)}".strip()
        if booked <= today:
            found.append(Choice(f"came {n}", f"Did they come on {on}? {what}"))
        found.append(Choice(f"move {n}", f"Move from {on}: {what}"))
        found.append(Choice(f"cancel {n}", f"Call off {on}: {what}"))
    return found


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


def _what(row: CallCard, today: date) -> str:
    at = acts.booked(row.appointment)
    booked = f", booked {short_day(row.booked_on, today)} {at}".rstrip() if row.booked_on else ""
    return f"{_asked(row, today)}{booked}"


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
