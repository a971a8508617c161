"""The practice's calendar from its configuration and the public holidays of its country.

Public holidays are data, not a rule: they are proclaimed and moved year by year,
so they come from a kept library, and a practice can open or close any day itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from functools import partial
from pathlib import Path

import msgspec

from recall import config
from recall.errors import ConfigError
from recall.schedule.calendar import Calendar

HOLIDAYS = Path(__file__).with_name("uk_public_holidays.json")
"""Renewed by `RECALL_HOLIDAYS=write pytest tests/exchange/test_uk_public_holidays.py`."""


class _Table(msgspec.Struct):
    first: int
    last: int
    days: dict[str, dict[date, str]]
    """By subdivision; "" for the whole country."""


def public_holidays(country: str, subdivision: str, first: int, last: int) -> dict[date, str]:
    """Return the public holidays of the years `first` to `last`, by day, with their names.

    Raises:
        ConfigError: the country or its subdivision is not known.
    """
    known_here = _of_the_united_kingdom(first, last).get(subdivision) if country == "GB" else None
    if known_here is not None:
        return {day: name for day, name in known_here.items() if first <= day.year <= last}
    import holidays

    years = range(first, last + 1)
    try:
        found = holidays.country_holidays(country, subdiv=subdivision or None, years=years)
    except NotImplementedError:
        known = holidays.list_supported_countries().get(country)
        where, value = ("subdivision", subdivision) if known else ("country", country)
        choice = ", ".join(known) if known else "a two-letter code such as GB"
        raise ConfigError(
            f"calendar.{where}: no public holidays are known for {value!r}.",
            hint=f"It may be: {choice}.",
        ) from None
    return dict(sorted(found.items()))


def _of_the_united_kingdom(first: int, last: int) -> dict[str, dict[date, str]]:
    """Return the days by subdivision as they are written down here; nothing beyond those years.

    The library takes a third of a second to load every country, and a desk waits with it. A test
    holds what is written down against the library; `HOLIDAYS` says how it is renewed.
    """
    table = msgspec.json.decode(HOLIDAYS.read_bytes(), type=_Table)
    covered = table.first <= first and last <= table.last
    return table.days if covered else {}


def closed_days(closures: tuple[config.Closure, ...]) -> dict[date, str]:
    """Return every day on which the practice itself is closed, with why.

    >>> closed_days((config.Closure(from_=date(2026, 12, 24), why="holidays"),))
    {datetime.date(2026, 12, 24): 'holidays'}
    """
    from dateutil.rrule import DAILY, rrule

    return {
        at.date(): closure.why
        for closure in closures
        for at in rrule(DAILY, dtstart=closure.from_, until=closure.to or closure.from_)
    }


class WhenAsked(dict[date, str]):
    """Days with their names that are looked up when the first day is asked about.

    The libraries and their data take a good part of a desk's start, and most of what a desk
    does asks about no day.
    """

    def __init__(self, asked: Callable[[], dict[date, str]]) -> None:
        super().__init__()
        self._asked = asked
        self._known = False

    def _look_up(self) -> None:
        if not self._known:
            self.update(self._asked())
            self._known = True

    def __contains__(self, day: object) -> bool:
        self._look_up()
        return super().__contains__(day)

    def __getitem__(self, day: date) -> str:
        self._look_up()
        return super().__getitem__(day)

    def __iter__(self) -> Iterator[date]:
        self._look_up()
        return super().__iter__()


def practice_calendar(settings: config.Calendar, first: int, last: int) -> Calendar:
    """Return when the practice is open in the years `first` to `last`."""
    of_the_country = partial(public_holidays, settings.country, settings.subdivision, first, last)
    return Calendar(
        weekdays=settings.open_weekdays,
        holidays=WhenAsked(of_the_country),
        closures=WhenAsked(partial(closed_days, settings.closures)) if settings.closures else {},
        extra_open=frozenset(settings.extra_open),
    )
