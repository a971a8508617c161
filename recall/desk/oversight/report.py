"""The register's month in numbers: what became of every ask, and what was done.

Asks are told as the accounts have them on the month's last day; nothing is read from search
columns.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, timedelta

from recall.accounts.cohort import Cohort, Day, Period
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.oversight.accounts import end_of, reading
from recall.desk.oversight.report_acts import acts
from recall.desk.oversight.report_asks import asks
from recall.desk.oversight.report_later import later
from recall.desk.oversight.report_lines import Line
from recall.desk.oversight.report_missing import missing
from recall.records.journal.head_file import head

Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Report:
    """A month's numbers."""

    first: date
    last: date
    lines: tuple[Line, ...]
    head: tuple[int, str] = (0, "")
    """The history's last line when it was made, and its digest: kept outside the register, so
    that a history that was cut or written anew is noticed."""


@needs(Right.LOOK)
def register_report(
    desk: Desk, month: date, appointments: int | None = None, progress: Progress | None = None
) -> Report:
    """Return the numbers of a month.

    Args:
        desk: whose register.
        month: any day of it.
        appointments: how many appointments the practice itself counts in it, where known.
        progress: told now and then how much was looked at.
    """
    first = month.replace(day=1)
    last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
    on = min(last, max(first, desk.today))
    day = Day(on, at_end=on < desk.today)
    with desk.store.read() as session:
        now = reading(desk, session, day)
        if progress is not None:
            progress(1, 2)
        then = reading(desk, session, day, end_of(desk.clock, on), Cohort(Period(first, last)))
        if progress is not None:
            progress(2, 2)
        done = acts(session, first, last, appointments)
        since = later(session, first, last, end_of(desk.clock, on)) if day.at_end else ()
        lines = (*asks(now, then, first, last), *done, *since, *missing(session))
        last_link = head(session)
    return Report(first, last, lines, last_link)
