"""Tomorrow's list on paper, and as a neutral file for whatever sends reminders."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

from recall.config import Practice
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.core.sites import practice_at
from recall.desk.oversight.manager_lists import export
from recall.desk.post.printing import letters_folder
from recall.desk.worklists.appointments import AppointmentRow, day
from recall.letters.list_pages import Cell, Paper, Part, cell, make_lists
from recall.schedule.calendar import say_day

HEADINGS = ("At", "Min.", "With", "Who, what to know, what it is about", "Came?")
NO_NUMBER = "no number that may be used"
WIDTHS = (14, 12, 24, 0, 26)


@dataclass(frozen=True)
class Reminder:
    """One appointment in the file for reminders: nothing in it says what it is for."""

    appointment: int
    reference: str
    date: date
    time: str
    minutes: int
    name_to_address: str
    """The person, or whoever answers for them."""
    phone: str
    """As it is dialled: 00 for +, which spreadsheets would take for a sum."""
    practice: str
    """With the site, where the person belongs to one."""
    practice_phone: str
    practice_address: str


@dataclass(frozen=True)
class Reminders:
    """What came of writing the file."""

    path: Path
    written: int
    left_out: tuple[str, ...]
    """Whom it leaves out, by reference, with why."""

    @property
    def words(self) -> str:
        """Return the same in words."""
        out = f" Left out: {'; '.join(self.left_out)}." if self.left_out else ""
        return f"{self.written} in {self.path}.{out}"


@needs(Right.REACH)
def write_reminders(desk: Desk, on: date) -> Reminders:
    """Write whom to remind of a day's appointments, beside the database, for its owner alone.

    Left out is who may not be contacted, and who has no number that is safe.

    Raises:
        InputError: it cannot be written there.
    """
    waiting = [row for row in day(desk, on) if not row.ended]
    rows = [_reminder(desk, row) for row in waiting if not _why_not(row)]
    left_out = tuple(f"{row.ref}: {_why_not(row)}" for row in waiting if _why_not(row))
    path = export(desk, f"reminders-for-{on}", Reminder, rows)
    return Reminders(path, len(rows), left_out)


def _why_not(row: AppointmentRow) -> str:
    return row.contact_stopped or ("" if row.number else NO_NUMBER)


def _reminder(desk: Desk, row: AppointmentRow) -> Reminder:
    starts, practice = row.starts_local, practice_at(desk.config, row.site)
    return Reminder(
        appointment=row.id,
        reference=row.ref,
        date=starts.date(),
        time=f"{starts:%H:%M}",
        minutes=row.minutes,
        name_to_address=row.ask_for,
        phone=_dialled(row.number),
        practice=practice.name,
        practice_phone=practice.phone,
        practice_address=_address(practice),
    )


def _address(practice: Practice) -> str:
    return ", ".join((*practice.address, practice.postcode))


def _dialled(number: str) -> str:
    return f"00{number[1:]}" if number.startswith("+") else number


@needs(Right.REACH)
def print_day(desk: Desk, on: date) -> Path:
    """Make a PDF of a day's appointments in the letters folder; return where it is.

    Raises:
        LetterError: it cannot be made, or not written there.
    """
    parts = appointments_of(desk, on)
    title = f"Appointments, {say_day(on, weekday=True)}"
    count = sum(len(part.rows) for part in parts)
    told = (f"{desk.config.practice.name}. {count} by the bookings here.",)
    foot = f"Printed on {say_day(desk.today)}. Personal: shred it after the day."
    out = letters_folder(desk) / f"appointments-{on}.pdf"
    make_lists(Paper(title, told, parts, foot), out)
    return out


@needs(Right.LOOK)
def appointments_of(desk: Desk, on: date, heading: str = "") -> tuple[Part, ...]:
    """Return a day's appointments as they are printed: a part for each site that has any.

    One part alone where the practice is one place, or nobody is booked. The paper is for whoever
    treats the ear, whoever prints it: it has what is to be minded.
    """
    rows = [row for row in day(desk, on, clinical=True) if not row.is_off]
    several = {one.handle for one in desk.config.sites} if len(desk.config.sites) > 1 else set()
    by_site: dict[str, list[AppointmentRow]] = {}
    for row in rows:
        by_site.setdefault(row.site if row.site in several else "", []).append(row)
    order = [*(one.handle for one in desk.config.sites if one.handle in by_site), ""]
    return tuple(
        _part(desk, site, by_site.get(site, []), heading, several=bool(several))
        for site in order
        if site in by_site or not rows
    )


def _part(
    desk: Desk, site: str, rows: list[AppointmentRow], heading: str, *, several: bool
) -> Part:
    told: tuple[str, ...] = ()
    if several and rows:
        at = practice_at(desk.config, site)
        where = at.name if site else f"{at.name}: of no site"
        heading = ". ".join(filter(None, (heading, where)))
        told = (f"{_address(at)}. {at.phone}.",) if site else ()
    return Part(heading, told, HEADINGS, WIDTHS, tuple(map(_printed, rows)))


def _printed(row: AppointmentRow) -> tuple[Cell, ...]:
    """Return one appointment; what to know before the ear is treated stands right behind who."""
    mind = (f"! {each}" for each in row.cautions)
    about = f"born {say_day(row.born)}, {row.ref}"
    ring = f"{row.ask_for}, {row.number or NO_NUMBER}"
    return (
        cell(f"{row.starts_local:%H:%M}"),
        cell(str(row.minutes)),
        cell(row.with_),
        (*cell(about, strong=(row.name,)), *cell(ring, *dict.fromkeys(row.meets), strong=mind)),
        cell(row.ended.replace("_", " ")),
    )
