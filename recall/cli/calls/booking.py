"""`recall book` and `recall booking`: appointments and their calendar files."""

from __future__ import annotations

from typing import Any

import click

from recall.cli.shared.acts import MOMENT, VERSION, act, opened
from recall.cli.shared.common import CONTEXT, acting, emit, emit_lines, gathered
from recall.cli.shared.numbers import NUMBER
from recall.cli.shared.whose import (
    booking_of,
    called_off_of,
    emit_whose_row,
    follow_up_of,
    say_whose_row,
)
from recall.desk.contacts.entries import Booking, MoveTo

_booking = click.argument("booking_id", metavar="BOOKING|REF")
_EARLIER = click.option(
    "--earlier", default="", help="When they would come earlier, if a time falls free."
)
_ALL_THE_SAME = click.option(
    "--all-the-same", is_flag=True, help="Though the rota does not have who sees them for it."
)
_side = click.argument("side", type=click.Choice(["person", "practice"]))


@click.command()
@click.argument("follow_up", metavar="FOLLOW_UP|REF")
@gathered(
    "booking",
    Booking,
    click.argument("starts_local", metavar="STARTS", type=MOMENT),
    click.option("--minutes", type=NUMBER, default=20, show_default=True),
    click.option("--with", "with_", metavar="HANDLE", help="Who sees them."),
    click.option("--why-late", default="", help="The reason, after the latest day."),
    click.option("--channel", help="How it was agreed; logs the contact as well."),
    click.option("--by-them", is_flag=True, help="They rang, wrote or walked in."),
    _EARLIER,
    _ALL_THE_SAME,
)
@VERSION
@acting
def book(follow_up: str, booking: Booking, version: int | None, **given: Any) -> None:
    """Make an appointment: recall book W1573 "15/9 10.30"."""
    from recall.desk.contacts.bookings import book as booked

    act(given, lambda d: booked(d, follow_up_of(d, follow_up), version, booking))


@click.group(context_settings=CONTEXT)
def booking() -> None:
    """An appointment: moved, called off, kept, missed; its slip and calendar file."""


@booking.command()
@_booking
@gathered(
    "to",
    MoveTo,
    click.argument("starts_local", metavar="STARTS", type=MOMENT),
    click.option("--minutes", type=NUMBER, help="As long as before where left out."),
    click.option("--with", "with_", metavar="HANDLE", help="Who sees them, if not who did."),
    click.option("--why-late", default="", help="The reason, after the latest day."),
    _EARLIER,
    _ALL_THE_SAME,
)
@_side
@click.option("--why", default="")
@acting
def move(booking_id: str, to: MoveTo, side: Any, why: str, **given: Any) -> None:
    """Move an appointment, by whose wish."""
    from recall.desk.contacts.bookings import move as moved

    act(given, lambda d: moved(d, booking_of(d, booking_id), to, side, why))


@booking.command("call-off")
@_booking
@_side
@click.option("--why", default="")
@acting
def call_off(booking_id: str, side: Any, why: str, **given: Any) -> None:
    """Call an appointment off, by whom."""
    from recall.desk.contacts.bookings import cancel

    act(given, lambda d: cancel(d, booking_of(d, booking_id), side, why))


@booking.command()
@_booking
@click.option("--visit", "visit_id", type=NUMBER, help="The visit that was closed then.")
@acting
def attended(booking_id: str, visit_id: int | None, **given: Any) -> None:
    """Record that they came."""
    from recall.desk.contacts.bookings import record_attended

    act(given, lambda d: record_attended(d, booking_of(d, booking_id), visit_id))


@booking.command()
@_booking
@click.option("--not-brought", is_flag=True, help="Who was to bring them did not.")
@acting
def missed(booking_id: str, not_brought: bool, **given: Any) -> None:
    """Record that nobody came; a child was not brought."""
    from recall.desk.contacts.bookings import record_missed

    act(given, lambda d: record_missed(d, booking_of(d, booking_id), not_brought=not_brought))


@booking.command()
@_booking
@click.argument("wish", default="")
@acting
def earlier(booking_id: str, wish: str, **given: Any) -> None:
    """Record when they would come earlier; nothing takes the wish back."""
    from recall.desk.contacts.bookings import wish_earlier

    act(given, lambda d: wish_earlier(d, booking_of(d, booking_id), wish))


@booking.command()
@_booking
@acting
def slip(booking_id: str, **given: Any) -> None:
    """Print what goes on the appointment, with what to know before the ear is treated."""
    from recall.desk.contacts.calendar_files import slip as words

    with opened(given, reading=True) as desk:
        number = booking_of(desk, booking_id)
        say_whose_row(desk, "appointment", number)
        emit_lines(words(desk, number))


@booking.command()
@_booking
@acting
def offer(booking_id: str, **given: Any) -> None:
    """Say whom to ring about the time of an appointment that was called off."""
    from recall.desk.worklists.earlier import freed

    with opened(given) as desk:
        number = called_off_of(desk, booking_id)
        found = freed(desk, number)
        emit_whose_row(desk, "appointment", number)
    emit_lines(found.words)
    for place, wish in enumerate(found.wishes, 1):
        emit_lines(f"{place}. [{wish.id}] {wish.words}")


@booking.command()
@click.argument("booking_id", metavar="[BOOKING|REF]", required=False)
@acting
def calendar(booking_id: str | None, **given: Any) -> None:
    """Print the iCalendar file of a booking, or of the whole day where none is named."""
    from recall.desk.contacts.calendar_files import ics_of_booking, ics_of_day

    with opened(given, reading=True) as desk:
        if booking_id is None:
            content = ics_of_day(desk)
        else:
            number = booking_of(desk, booking_id)
            content = ics_of_booking(desk, number)
            say_whose_row(desk, "appointment", number)
    emit(content.decode())
