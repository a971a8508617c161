"""Who came back in time and how soon, by kind of re-check: a view of the accounts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from recall.accounts.cohort import Period
from recall.accounts.rates import Returned, returned
from recall.care.dates import add
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.records.facts.asks import rechecks

MONTHS = 24
"""How far back the kinds of re-check are told."""


@dataclass(frozen=True)
class ReturnLine:
    """How people came back for one kind of re-check, without its curve."""

    kind: str
    people: int
    due: int
    in_time: int
    share: float | None
    low: float
    high: float
    otherwise: int
    half_days: float | None


@needs(Right.LOOK)
def came_back(desk: Desk) -> tuple[Returned, ...]:
    """Return each kind of re-check whose window opened in the last months, the most first."""
    since = add(desk.today, months=-MONTHS)
    with desk.store.read() as session:
        asks = rechecks(session, Period(since, date.max, "due"))
    return returned(asks, since, desk.today)


def return_line(found: Returned) -> ReturnLine:
    """Return how people came back as a plain line, for a spreadsheet."""
    told = found.in_time
    counted = found.people, told.of, told.hits, told.share, told.low, told.high
    return ReturnLine(found.kind, *counted, found.otherwise, found.half_days)
