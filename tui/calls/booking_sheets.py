"""The sheets that make and move an appointment, and what they say while one types."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import partial
from typing import TYPE_CHECKING

from recall.desk.contacts.entries import Booking, MoveTo
from recall.errors import InputError, NotFound, RecallError, Refused
from recall.exchange.typed_days import WHEN
from recall.loop.outcomes import DIALLED
from recall.schedule.calendar import say_day
from tui.calls.acts import about, about_booked
from tui.dialogs.form import SURE, Checks, Doubt, Field, Form, Values, newest
from tui.words.text import full_day

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.worklists.call_card import CallCard
    from recall.desk.worklists.taken import Taken

MINUTES = 20
"""How long an appointment is where nobody says otherwise: the practice's own custom."""
WHY_LATE = "First day that they could come"
"""The usual reason for a day after the latest; filled in, to be changed where it was another."""
WHOSE = (("person", "They ask for it"), ("practice", "The practice does"))
_EARLIER = Field("earlier", "Would come earlier", hint="when: any time, mornings; empty: no wish")


@dataclass(frozen=True)
class Window:
    """The days of what an appointment is for, and the appointment that is moved."""

    earliest: date | None
    latest: date | None
    booking_id: int | None = None
    minutes: int = MINUTES
    with_: str = ""
    do: tuple[str, ...] = ()
    """What is to be done."""


def booking(row: CallCard, channel: str, *, by_them: bool = False) -> Form:
    """Ask for an appointment's day and time."""
    days = Window(row.earliest, row.latest, do=row.do)
    rung = None if by_them or channel not in DIALLED else row.contact_point_id

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import bookings

        _doubt(days, desk, values)
        made = Booking(
            values["when"],
            MINUTES if values["minutes"] is None else values["minutes"],
            values["with"] or None,
            values["why"],
            channel=channel,
            by_them=by_them,
            contact_point_id=rung,
            earlier=values["earlier"],
            all_the_same=values[SURE],
        )
        return bookings.book(desk, row.follow_up, newest(values, row.version), made)

    fields = (
        _when(row.offer_on),
        Field("minutes", "Minutes", "number", value=f"{MINUTES}"),
        Field("with", "With", "handle", hint="empty: nobody in particular"),
        _why_late(row.latest),
        _EARLIER,
    )
    title, lines = "Book an appointment", (*about(row), _due(row))
    return Form(title, fields, store, lines=lines, does="Book", checks=_checks(days))


def moving(row: CallCard) -> Form:
    """Ask where somebody's appointment is moved to, and by whose wish."""
    days = Window(row.earliest, row.latest, row.booking_id, do=row.do)
    if row.appointment is not None:
        days = replace(days, minutes=row.appointment.minutes, with_=row.appointment.handle)
    return move_sheet(days, (*about_booked(row), _due(row)))


def move_sheet(days: Window, lines: tuple[str, ...], typed: str = "") -> Form:
    """Ask where an appointment is moved to; `typed` is a time that is offered already."""

    def store(desk: Desk, values: Values) -> Next:
        from recall.desk.contacts import bookings

        _doubt(days, desk, values)
        to = MoveTo(
            values["when"],
            values["minutes"],
            values["with"] or None,
            values["why_late"],
            values["earlier"],
            values[SURE],
        )
        return bookings.move(desk, days.booking_id or 0, to, values["whose"], values["why"])

    fields = (
        replace(_when(None), value=typed),
        Field("whose", "Whose wish", "choice", choices=WHOSE),
        Field("why", "Why"),
        Field("minutes", "Minutes", "number", hint=f"empty: {days.minutes} as before"),
        Field("with", "With", "handle", hint=f"empty: {days.with_ or 'nobody in particular'}"),
        *([_why_late(days.latest, "why_late")] if days.latest else ()),
        _EARLIER,
    )
    title = "Move the appointment"
    return Form(title, fields, store, lines=lines, does="Move it", checks=_checks(days))


def _when(offered: date | None) -> Field:
    alone = f"; a time alone is on {full_day(offered)}" if offered else ""
    return Field("when", "Day and time", "when", hint=WHEN + alone, needed=True, offered=offered)


def _due(row: CallCard) -> str:
    return f"To be seen: {window(row)}." if not row.late_by_days else f"This {window(row)}."


def _why_late(latest: date, name: str = "why") -> Field:
    return Field(name, f"Why, if it is after {full_day(latest)}", value=WHY_LATE)


def window(row: CallCard) -> str:
    """Return the days of a window in words; of one that has gone by, only until when it was."""
    if row.late_by_days:
        return f"was due by {full_day(row.latest)}: as soon as they can"
    return f"{full_day(row.earliest)} to {full_day(row.latest)}; aim for {full_day(row.target)}"


def _checks(days: Window) -> Checks:
    live: Callable[[Desk, Values], str] = partial(_said, days)
    return Checks(blame=partial(blamed, days), live=live)


def _said(days: Window, desk: Desk, values: Values) -> str:
    """Say how a day and time is read, whether it is taken, and where it lies."""
    from recall.desk.worklists.taken import AS_FAR

    when = values.get("when")
    if when is None:
        return ""
    day = when.date()
    words = f"{say_day(day, weekday=True)} at {when:%H:%M}"
    none = _no_time(desk, when)
    if none:
        return f"! {words}: {none}. It would be refused."
    taken = _taken(days, desk, values)
    parts = [f"{words}: {taken.words or f'free, {AS_FAR}'}".rstrip(".") + "."]
    if excluded := _excluded(days, desk, values):
        parts.append(excluded)
    if days.latest and day > days.latest:
        parts.append(f"Late: after the latest day, {full_day(days.latest)}.")
    elif days.earliest and day < days.earliest:
        parts.append(f"Before the earliest day, {full_day(days.earliest)}.")
    return " ".join(parts)


def _no_time(desk: Desk, when: datetime) -> str:
    """Return why nobody can be booked then, whatever else is booked; nothing where one can."""
    from recall.desk.contacts.booking_times import is_by_day

    if when.date() < desk.today:
        return "that day has gone by"
    return desk.calendar.closed_because(when.date()) or (
        "" if is_by_day(when.time()) else "that is at night"
    )


def _taken(days: Window, desk: Desk, values: Values) -> Taken:
    from recall.desk.worklists.taken import taken

    minutes = values.get("minutes") or days.minutes
    who = values.get("with") or days.with_
    return taken(desk, values["when"], minutes, who, but=days.booking_id)


def _doubt(days: Window, desk: Desk, values: Values) -> None:
    """Ask once where somebody would see two people at once, or the rota does not have them."""
    if values[SURE]:
        return
    found = _taken(days, desk, values)
    wrong = _excluded(days, desk, values), found.words if found.same else ""
    if any(wrong):
        raise Doubt(" ".join(filter(None, wrong)))


def _excluded(days: Window, desk: Desk, values: Values) -> str:
    """Return that the rota does not have who would see them that day for what is to be done."""
    from recall.desk.core.rota import who_is_excluded

    who = values.get("with") or days.with_
    return who_is_excluded(desk, who, values["when"].date(), days.do)


def blamed(days: Window, error: RecallError, values: Values) -> str:
    """Return which field is to be typed anew, as far as it can be told."""
    from recall.desk.contacts.booking_times import is_by_day

    reason = "why_late" if "why_late" in values else "why"
    if isinstance(error, Doubt):
        return "when"
    if isinstance(error, InputError):
        return "with" if isinstance(error, NotFound) else "minutes"
    if not isinstance(error, Refused):
        return ""
    when = values["when"]
    is_late = days.latest is not None and when.date() > days.latest
    return reason if is_by_day(when.time()) and is_late and not values[reason] else "when"
