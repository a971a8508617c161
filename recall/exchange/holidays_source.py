"""The practice's calendar from its configuration and the public holidays of its country.

Public holidays are data, not a rule: they are proclaimed and moved year by year,
so they come from a kept library, and a practice can open or close any day itself.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import partial

from recall import config
from recall.errors import ConfigError
from recall.schedule.calendar import Calendar


def public_holidays(country: str, subdivision: str, first: int, last: int) -> dict[date, str]:
    """Return the public holidays of the years `first` to `last`, by day, with their names.

    Raises:
        ConfigError: the country or its subdivision is not known.
    """
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


class HolidaysWhenAsked(dict[date, str]):
    """Public holidays that are looked up when the first day is asked about.

    The library and its data take a good part of a desk's start, and most of what a desk
    does asks about no day.
    """

    def __init__(self, country: str, subdivision: str, first: int, last: int) -> None:
        super().__init__()
        self._asked = partial(public_holidays, country, subdivision, first, last)
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


def practice_calendar(settings: config.Calendar, first: int, last: int) -> Calendar:
    """Return when the practice is open in the years `first` to `last`."""
    return Calendar(
        weekdays=settings.open_weekdays,
        holidays=HolidaysWhenAsked(settings.country, settings.subdivision, first, last),
        closures=dict(day for closure in settings.closures for day in _days(closure)),
        extra_open=frozenset(settings.extra_open),
    )


def _days(closure: config.Closure) -> list[tuple[date, str]]:
    """Return every day of a closure with its reason."""
    length = ((closure.to or closure.from_) - closure.from_).days
    return [(closure.from_ + timedelta(days=n), closure.why) for n in range(length + 1)]
