"""What the keys of the day's list do at the desk, and the sheets that ask for more first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from recall.schedule.calendar import say_day
from tui.calls.booking_sheets import WHOSE, Window, move_sheet
from tui.dialogs.choose import Choice
from tui.dialogs.form import Field, Form, Values
from tui.words.text import full_day

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.worklists.appointments import AppointmentRow
    from recall.desk.worklists.earlier import EarlierWish, Freed


NOBODY_FITS = "Nobody who would come earlier fits it: with whom, how long, from when due."


@dataclass(frozen=True)
class Day:
    """A day's appointments, and what is free between them."""

    on: date
    rows: Sequence[AppointmentRow]
    free: Sequence[str]
    diary: str
    """What the practice's own diary has, where it is not what is booked here."""
    closed: str
    """Why the practice is closed on it; empty where it is open."""


def look(desk: Desk, *, on: date | None) -> Day:
    """Return a day's appointments."""
    from recall.desk.worklists.appointments import day
    from recall.desk.worklists.diary import counted
    from recall.desk.worklists.taken import free_words

    on = on or desk.today
    closed = desk.calendar.closed_because(on) or ""
    said = counted(desk, on)
    return Day(on, day(desk, on), free_words(desk, on), said.words if said else "", closed)


def free_title(on: date) -> str:
    """Return over what the free times of a day stand: how far they can be told."""
    from recall.desk.worklists.taken import AS_FAR

    return f"Free on {say_day(on, weekday=True)}, {AS_FAR}"


def came(desk: Desk, *, number: int) -> Next:
    """Record that they came."""
    from recall.desk.contacts import bookings

    return bookings.record_attended(desk, number)


def missed(desk: Desk, *, number: int, not_brought: bool) -> Next:
    """Record that nobody came; a child was not brought, whichever key says it."""
    from recall.desk.contacts import bookings

    return bookings.record_missed(desk, number, not_brought=not_brought)


def about(row: AppointmentRow) -> tuple[str, ...]:
    """Return who it is and when they come, for a sheet."""
    starts = row.starts_local
    whose = f" with {row.with_}" if row.with_ else ""
    when = f"{say_day(starts.date(), weekday=True)} at {starts:%H:%M}, {row.minutes} minutes"
    who = f"{row.name}, born {full_day(row.born)}, {row.postcode or 'no postcode'}"
    return (who, f"Booked: {when}{whose}.")


def moving(row: AppointmentRow) -> Form:
    """Ask where an appointment is moved to."""
    return move_sheet(_window(row), about(row))


def _window(row: AppointmentRow | EarlierWish) -> Window:
    return Window(row.earliest, row.latest, row.id, row.minutes, row.with_, row.do or ())


def calling_off(row: AppointmentRow) -> Form:
    """Ask by whose wish it is called off, and why."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import bookings

        return bookings.cancel(desk, row.id, values["whose"], values["why"])

    fields = (Field("why", "Why"), Field("whose", "Whose wish", "choice", choices=WHOSE))
    lines = (*about(row), "What it was for stays open and comes back into the list.")
    return Form("Call the appointment off", fields, store, lines=lines, does="Call it off")


def wishing(row: AppointmentRow) -> Form:
    """Ask when they would come earlier."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import bookings

        return bookings.wish_earlier(desk, row.id, values["wish"])

    hint = "any time, mornings, not Tuesdays; empty: no wish"
    fields = (Field("wish", "When they would come earlier", value=row.earlier, hint=hint),)
    return Form("Would come earlier", fields, store, lines=about(row))


def counting(on: date) -> Form:
    """Ask how many appointments the practice's own diary has for a day."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.worklists.diary import say_count

        return say_count(desk, values["count"], on)

    fields = (Field("count", "In the diary", "number", needed=True),)
    lines = (
        f"{say_day(on, weekday=True)}: the practice's own diary, of the people followed here.",
        "Those that were called off or moved are not counted.",
    )
    return Form("How many the diary has", fields, store, lines=lines)


def other_day() -> Form:
    """Ask for a day to look at."""
    fields = (Field("day", "Day", "day", hint="15/9, tue, +7, or yesterday", needed=True),)
    return Form("Go to a day", fields, lambda _desk, values: values["day"], does="Go there")


def print_day(desk: Desk, *, on: date) -> str:
    """Make a PDF of a day's list; return where it is."""
    from recall.desk.oversight import day_sheets

    return f"Written: {day_sheets.print_day(desk, on)}"


def write_reminders(desk: Desk, *, on: date) -> str:
    """Write the file for whatever sends reminders; return where it is and whom it leaves out."""
    from recall.desk.oversight import day_sheets

    return f"Written: {day_sheets.write_reminders(desk, on).words}"


def who_would_come(desk: Desk, *, number: int) -> Freed:
    """Return who would take the time of an appointment that was called off."""
    from recall.desk.worklists.earlier import freed

    return freed(desk, number)


def wish_choices(freed: Freed) -> list[Choice]:
    """Return whom to ring, in order."""
    return [Choice(f"{n}", wish.words) for n, wish in enumerate(freed.wishes)]


def taking(freed: Freed, chosen: str) -> Form:
    """Ask whether somebody takes the time: their appointment is moved there."""
    wish, at = freed.wishes[int(chosen)], freed.starts_local
    who = f"{wish.name}, born {full_day(wish.born)}, {wish.postcode or 'no postcode'}"
    ring = f"Ring {wish.ask_for}: {wish.number or 'no number is recorded'}."
    typed = f"{at.day}/{at.month}/{at.year} {at:%H:%M}"
    return move_sheet(_window(wish), (who, ring, freed.words), typed)
