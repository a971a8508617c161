"""A person's wax cycle in plain words."""

from __future__ import annotations

from recall.cycle.forecast import LONGEST_DAYS, Forecast, TooLittle

_MONTH = 30.4375


def cycle_words(forecast: Forecast | TooLittle, check_days: int | None) -> str:
    """Return one sentence for the recall: what was seen so far, and when to look next."""
    if isinstance(forecast, TooLittle) or check_days is None:
        return forecast.says if isinstance(forecast, TooLittle) else ""
    seen = _span(forecast.soonest_days, forecast.longest_days)
    visits = "1 visit" if forecast.visits == 1 else f"{forecast.visits} visits"
    return f"Wax has come back within about {seen} ({visits}); next check at {length(check_days)}."


def spread_words(forecast: Forecast) -> str:
    """Return what is expected of the next gap: its middle and its 90% spread."""
    spread = _span(forecast.low_days, forecast.high_days)
    return f"Next time: most likely after about {length(forecast.middle_days)} (9 in 10: {spread})."


def length(days: float) -> str:
    """Return a length of time as one would say it.

    >>> length(45), length(152), length(31)
    ('6 weeks', '5 months', '4 weeks')
    """
    count, unit = _counted(days, _in_weeks(days))
    return f"{count} {unit}{'' if count == 1 else 's'}"


def _in_weeks(days: float) -> bool:
    return days < 2.5 * _MONTH


def _counted(days: float, weeks: bool) -> tuple[int, str]:
    return (max(1, round(days / 7)), "week") if weeks else (max(1, round(days / _MONTH)), "month")


def _span(low: float, high: float) -> str:
    """Return "5 to 8 months", in one unit for both ends."""
    if high >= LONGEST_DAYS:
        return f"{length(low)} or longer"
    weeks = _in_weeks(high)
    first, last = _counted(low, weeks)[0], _counted(high, weeks)[0]
    return length(high) if first == last else f"{first} to {length(high)}"
