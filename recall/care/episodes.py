"""Episodes of an infection: which looks that found it belong together, and how many there were."""

from __future__ import annotations

from datetime import date, timedelta

from recall.care.dates import months_before

ONE_EPISODE = timedelta(weeks=3)
"""A look that found an infection within this time of an episode's first one is the same episode:
acute otitis externa lasts 3 weeks at most (guidelines.co.uk), an acute otitis media a week."""


def with_day(days: tuple[date, ...], on: date) -> tuple[date, ...]:
    """Return the days of the last 12 months with another one."""
    if not days:
        return (on,)
    start = months_before(on, 12)
    return (*[day for day in days if day > start], on)


def within_a_year(days: tuple[date, ...], on: date) -> int:
    """Return how many of some days lie in the past 12 months; one on that very day is too old."""
    if not days:
        return 0
    start = months_before(on, 12)
    return sum([day > start for day in days])


def episodes(days: tuple[date, ...], on: date, months: int) -> int:
    """Return how many episodes of an infection began in the last months.

    Counted from the first of those months on, so that a look more never makes them fewer.
    """
    if not days:
        return 0
    start, last, found = months_before(on, months), None, 0
    for day in days:
        if day > start and (last is None or day - last >= ONE_EPISODE):
            last, found = day, found + 1
    return found


def began_on(days: tuple[date, ...]) -> date | None:
    """Return the first day of the last episode: one look after another, each within its time."""
    first: date | None = None
    for day in reversed(days):
        if first is not None and first - day >= ONE_EPISODE:
            break
        first = day
    return first
