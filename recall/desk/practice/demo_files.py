"""The invented practice's files, laid out for the day on which that is done.

They are written for one Monday. The days in them move by as many working days as lie between it
and the day for which they are laid out, so that nobody is seen on a Sunday; ages stay as they are.

    python -m recall.desk.practice.demo_files FOLDER

lays them out for today, or the last day on which the practice was open, and prints that day.
"""

from __future__ import annotations

import csv
import io
import re
import sys
from datetime import date, timedelta
from pathlib import Path

import recall
from recall import output
from recall.clock import Clock
from recall.config import FILE_NAME, load
from recall.errors import StorageError
from recall.exchange.holidays_source import practice_calendar
from recall.schedule.calendar import Calendar

WRITTEN_FOR = date(2027, 3, 8)
"""The Monday that the files take for today."""
WEEK, WORKING = 7, 5
_DAY = timedelta(days=1)
_CELL = re.compile(r"(\d\d)/(\d\d)/(\d{4})")
_INSIDE = re.compile(r"\b\d{4}-\d\d-\d\d\b")
_LIVE = re.compile(r"(?<=went_live = )\d{4}-\d\d-\d\d")
_CLOSED = re.compile(r"((?:from|to) = )(\d{4})(?=-)")


def source() -> Path:
    """Return the folder of the invented practice's files, in a checkout or installed."""
    package = Path(recall.__file__).resolve().parent
    for folder in (package / "_demo", package.parent / "demo" / "practice"):
        if (folder / FILE_NAME).is_file():
            return folder
    raise StorageError(
        "The invented practice is missing from this installation.",
        hint="Install the program again.",
    )


def lay_out(folder: Path, on: date = WRITTEN_FOR) -> Path:
    """Write the practice's files into a folder for a day; return the configuration file."""
    settings = folder / FILE_NAME
    output.write(settings, _settings(on), named_here=True)
    calendar = _calendar(settings, on)
    for file in sorted(source().glob("*.csv")):
        output.write(folder / file.name, _table(file, on, calendar), named_here=True)
    return settings


def lay_out_for_today(folder: Path, today: date) -> date:
    """Lay the files out for a day, or the last one before it on which the practice was open."""
    settings = folder / FILE_NAME
    output.write(settings, _settings(today), named_here=True)
    calendar, on = _calendar(settings, today), today
    while not calendar.is_open(on):
        on -= _DAY
    lay_out(folder, on)
    return on


def moved(day: date, on: date) -> date:
    """Return a day of the files as it is when they are laid out for a day.

    >>> moved(WRITTEN_FOR, date(2027, 6, 9)), moved(WRITTEN_FOR - _DAY, date(2027, 6, 9))
    (datetime.date(2027, 6, 9), datetime.date(2027, 6, 8))
    """
    return _of_working_day(_working_day(day) + _working_day(on) - _working_day(WRITTEN_FOR))


def _working_day(day: date) -> int:
    """Return which working day it is, counted from the first Monday; a weekend is its Friday."""
    weeks, weekday = divmod(day.toordinal() - 1, WEEK)
    return weeks * WORKING + min(weekday, WORKING - 1)


def _of_working_day(number: int) -> date:
    weeks, weekday = divmod(number, WORKING)
    return date.fromordinal(weeks * WEEK + weekday + 1)


def _calendar(settings: Path, on: date) -> Calendar:
    return practice_calendar(load(settings).calendar, on.year - 1, on.year + 1)


def _settings(on: date) -> bytes:
    """Return the configuration, with the day of going live and the closed weeks of the years."""
    text = (source() / FILE_NAME).read_text("utf-8")
    years = on.year - WRITTEN_FOR.year
    text = _CLOSED.sub(lambda found: f"{found[1]}{int(found[2]) + years}", text)
    text = _LIVE.sub(lambda found: moved(date.fromisoformat(found[0]), on).isoformat(), text)
    return text.encode("utf-8")


def _table(file: Path, on: date, calendar: Calendar) -> bytes:
    """Return one file as it is written for a day."""
    if on == WRITTEN_FOR:
        return file.read_bytes()
    with file.open(encoding="utf-8", newline="") as opened:
        rows = csv.DictReader(opened)
        text = io.StringIO(newline="")
        out = csv.DictWriter(text, rows.fieldnames or ())
        out.writeheader()
        for row in rows:
            new = {name: _cell(name, value, on) for name, value in row.items()}
            if row.get("status") == "made":
                new["on"] = _open_day(new["on"], calendar)
            out.writerow(new)
    return text.getvalue().encode("utf-8")


def _cell(name: str, value: str, on: date) -> str:
    """Return a cell with its days moved; what is no day of the calendar stays as it is."""
    if found := _CELL.fullmatch(value):
        try:
            day = date(*(int(part) for part in reversed(found.groups())))
        except ValueError:
            return value
        return _written(day + (on - WRITTEN_FOR) if name == "born" else moved(day, on))
    return _INSIDE.sub(lambda day: moved(date.fromisoformat(day[0]), on).isoformat(), value)


def _open_day(value: str, calendar: Calendar) -> str:
    """Return a day on which somebody is booked, or the next one that is open."""
    day = date(*(int(part) for part in reversed(value.split("/"))))
    while not calendar.is_open(day):
        day += _DAY
    return _written(day)


def _written(day: date) -> str:
    return f"{day:%d/%m/%Y}"


if __name__ == "__main__":
    sys.stdout.write(f"{lay_out_for_today(Path(sys.argv[1]), Clock().today())}\n")
