"""Day or month first: the order belongs to the file, and all of its dates are looked at for it.

Of a date such as 03/04/2026 both orders are possible; 25/04/2026 settles it for the whole file.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any, Literal, NamedTuple

import msgspec

from recall.config import DateFormat, FileMap, Import
from recall.errors import InputError
from recall.exchange.cells import Cells, numbers_of_day

Order = Literal["day", "month"]
DAYS: tuple[Callable[..., Any], ...] = (Cells.day, Cells.past_day, Cells.when)
_MARK = "\0"


class Seen(NamedTuple):
    """Where a date was first seen."""

    line: int
    heading: str
    cell: str


@dataclass
class DayOrder:
    """What the dates of a file say of their order."""

    date_format: str
    dated_at: int = 0
    """Where the cell stands whose day the register may know."""
    settled: Seen | None = None
    """A date that is possible as set alone."""
    against: Seen | None = None
    """A date that is possible the other way alone."""
    open: Seen | None = None
    """A date that is possible both ways, and not the same day."""
    known: set[str] = field(default_factory=set)
    """The dates that were looked at."""

    def look(self, line: int, heading: str, cell: str) -> None:
        """Let a date add to what is known."""
        if cell in self.known:
            return
        self.known.add(cell)
        both = both_ways(cell, self.date_format)
        if both is None:
            return
        seen, (as_set, other) = Seen(line, heading, cell), both
        if as_set and not other:
            self.settled = self.settled or seen
        elif other and not as_set:
            self.against = self.against or seen
        elif as_set != other:
            self.open = self.open or seen

    def refuse_other_order(self, name: str) -> None:
        """Let nothing of a file land of which a date says that it has the other order.

        Raises:
            InputError: with where it stands.
        """
        if self.against is None:
            return
        line, heading, cell = self.against
        other = swapped(self.date_format)
        hint = f"Correct it there, or say what comes first in this file: --{order_of(other)}-first."
        beside = ""
        if self.settled:
            beside = (
                f" Line {self.settled.line} has {self.settled.cell}: the file mixes two orders."
            )
            hint = "Have it exported again, with one order of day and month throughout."
        raise InputError(
            f"{name}: nothing has landed. Line {line}, {heading}: {cell} is no day as "
            f"{self.date_format}, and is one as {other}.{beside}",
            hint=hint,
        )


def both_ways(cell: str, date_format: str) -> tuple[date | None, date | None] | None:
    """Return a date as set and the other way round; nothing where no order is in question.

    >>> both_ways("3/4/2026", "DD/MM/YYYY")
    (datetime.date(2026, 4, 3), datetime.date(2026, 3, 4))
    """
    found = numbers_of_day(cell.strip(), date_format)
    if found is None or swapped(date_format) == date_format:
        return None
    year, month, day = found
    return _date(year, month, day), _date(year, day, month)


def _date(year: int, month: int, day: int) -> date | None:
    try:
        return date(year, month, day)
    except ValueError:
        return None


def swapped(date_format: str) -> str:
    """Return a format with day and month in each other's place.

    >>> swapped("DD/MM/YYYY"), swapped("DD MON YYYY"), swapped("YYYY-MM-DD")
    ('MM/DD/YYYY', 'DD MON YYYY', 'YYYY-MM-DD')
    """
    if "MON" in date_format or date_format.startswith("Y"):
        return date_format
    return date_format.replace("DD", _MARK).replace("MM", "DD").replace(_MARK, "MM")


def order_of(date_format: str) -> Order:
    """Return which comes first in a format."""
    month = date_format.find("MM")
    return "month" if 0 <= month < date_format.find("DD") else "day"


def with_order(imports: Import, kind: str, order: Order | None) -> Import:
    """Return how files are read, with an order for one kind of them."""
    given: FileMap = getattr(imports, kind)
    as_set = given.date_format or imports.date_format
    if order is None or order_of(as_set) == order:
        return imports
    other: DateFormat = swapped(as_set)
    mine = msgspec.structs.replace(given, date_format=other)
    return msgspec.structs.replace(imports, **{kind: mine})
