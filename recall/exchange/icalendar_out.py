"""Bookings as iCalendar files (RFC 5545): one booking, or a day of them.

Whoever sees a calendar over somebody's shoulder learns the time and the
practice, nothing clinical. Times are written in UTC, so that no reader has to
know the practice's zone.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import msgspec

from recall.config import Practice

_PRODUCT = "-//ear-recall//bookings//EN"
_OCTETS = 75


class Appointment(msgspec.Struct, frozen=True, kw_only=True):
    """What a calendar is told about a booking."""

    reference: str
    """Stable for this booking: a file sent again replaces the entry."""
    starts_local: datetime
    """Wall time, without a zone."""
    zone: str
    minutes: int
    revision: int = 0
    """Counts moves and cancellations, so that readers take the newest."""
    is_cancelled: bool = False
    who: str = ""
    """For the practice's own day: the person's reference, never the name."""


def booking_calendar(appointment: Appointment, practice: Practice, *, now: datetime) -> bytes:
    """Return the file for the person: one appointment at the practice."""
    return _calendar([_event(appointment, practice, now, f"Appointment at {practice.name}")])


def day_calendar(
    appointments: Iterable[Appointment], practice: Practice, *, now: datetime
) -> bytes:
    """Return the practice's own file: a day's appointments by reference."""
    ordered = sorted(appointments, key=lambda a: (a.starts_local, a.reference))
    events = (_event(a, practice, now, f"Appointment {a.who}".strip()) for a in ordered)
    return _calendar(events)


def _event(a: Appointment, practice: Practice, now: datetime, summary: str) -> list[str]:
    """Return the lines of one appointment."""
    starts = a.starts_local.replace(tzinfo=ZoneInfo(a.zone)).astimezone(UTC)
    where = ", ".join((*practice.address, practice.postcode))
    return [
        "BEGIN:VEVENT",
        f"UID:{_escape(a.reference)}@ear-recall",
        f"DTSTAMP:{_utc(now)}",
        f"DTSTART:{_utc(starts)}",
        f"DTEND:{_utc(starts + timedelta(minutes=a.minutes))}",
        f"SEQUENCE:{a.revision}",
        f"STATUS:{'CANCELLED' if a.is_cancelled else 'CONFIRMED'}",
        "CLASS:PRIVATE",
        f"SUMMARY:{_escape(summary)}",
        f"LOCATION:{_escape(where)}",
        f"CONTACT:{_escape(f'{practice.name}, {practice.phone}')}",
        "END:VEVENT",
    ]


def _calendar(events: Iterable[list[str]]) -> bytes:
    """Return a whole calendar object, its lines folded."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_PRODUCT}", "METHOD:PUBLISH"]
    for event in events:
        lines += event
    lines.append("END:VCALENDAR")
    return b"".join(part + b"\r\n" for line in lines for part in _folded(line))


def _utc(instant: datetime) -> str:
    """Return an instant as RFC 5545 writes UTC (3.3.5, form 2)."""
    return instant.astimezone(UTC).strftime("%Y%m%dT%H%M%SZ")


def _escape(text: str) -> str:
    """Return TEXT (3.3.11): backslash, semicolon, comma and line break escaped.

    Other control characters have no form there and are left out.
    """
    text = text.replace("\r\n", "\n").replace("\r", "\n").replace("\\", "\\\\")
    text = text.replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")
    return "".join(c for c in text if c == "\t" or (ord(c) >= 32 and c != "\x7f"))


def _folded(line: str) -> Iterator[bytes]:
    """Yield a content line in parts of at most 75 octets (3.1), never inside a character."""
    part = b""
    for character in line:
        octets = character.encode("utf-8", "replace")
        if len(part) + len(octets) > _OCTETS:
            yield part
            part = b" "
        part += octets
    yield part
