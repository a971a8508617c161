"""The practice's rota from its settings: who gives how many minutes for follow-up, and for what."""

from __future__ import annotations

from collections.abc import Collection
from datetime import date

from recall import config
from recall.ahead.work import BY_TELEPHONE, Hours
from recall.config import site_meant
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk, staff
from recall.desk.core.sites import named
from recall.exchange.holidays_source import closed_days
from recall.schedule.calendar import say_day


@needs(Right.LOOK)
def rota_of(desk: Desk) -> tuple[Hours, ...]:
    """Return who gives how many minutes on which days; without a rota, nobody by name."""
    capacity, weekdays = desk.config.capacity, sorted(desk.calendar.weekdays)
    if not capacity.rota:
        a_day = capacity.per_week * capacity.appointment / max(1, len(weekdays))
        return (Hours(who="", minutes=dict.fromkeys(weekdays, round(a_day))),)
    known = _sites(desk)
    here = [one for one in capacity.rota if one.who.lower() in known]
    sites = desk.config.sites
    return tuple(_hours(one, site_meant(sites, one.site) or known[one.who.lower()]) for one in here)


@needs(Right.LOOK)
def where_on(desk: Desk, day: date) -> dict[str, frozenset[str]]:
    """Return at which sites each practitioner is on a day, by the lines of the rota that say so."""
    found: dict[str, set[str]] = {}
    weekday, sites = config.WEEKDAYS[day.weekday()], desk.config.sites
    for one in desk.config.capacity.rota:
        if one.site and one.minutes.get(weekday) and day not in closed_days(one.away):
            found.setdefault(one.who.lower(), set()).add(site_meant(sites, one.site))
    return {who: frozenset(handles) for who, handles in found.items()}


@needs(Right.LOOK)
def elsewhere_words(desk: Desk, who: str, day: date, site: str) -> str:
    """Return in words that the rota has a practitioner at another site than a person's that day.

    Nothing where it has them there, or nowhere, or the person belongs to no site.
    """
    at = where_on(desk, day).get(who.lower(), frozenset())
    if not site or not at or site in at:
        return ""
    sites = desk.config.sites
    return (
        f"By the rota {who.lower()} is at {named(sites, at)} on {say_day(day)}, "
        f"not at {named(sites, frozenset({site}))}."
    )


@needs(Right.LOOK)
def lacks(desk: Desk, who: str, day: date, do: Collection[str]) -> frozenset[str]:
    """Return what of some things a practitioner does not do on a day, by the rota.

    Of a day on which the rota does not have them by all their lines; nothing where it says nothing.
    """
    lines = [one for one in desk.config.capacity.rota if one.who.lower() == who.lower()]
    there = _there(desk, who, day) or lines
    if not there or any(not one.does for one in there):
        return frozenset()
    return frozenset(do) - {thing for one in there for thing in one.does} - BY_TELEPHONE


@needs(Right.LOOK)
def who_is_excluded(desk: Desk, who: str | None, day: date, do: Collection[str]) -> str:
    """Return in words that the rota does not have a practitioner on a day for what is to be done.

    Nothing where it does, or says nothing of them; of nobody in particular it says nothing.
    """
    if not who:
        return ""
    if _there(desk, who, day) == []:
        return f"By the rota {who.lower()} is not in on {say_day(day, weekday=True)}."
    missing = sorted(lacks(desk, who, day, do))
    what = " or ".join(each.replace("_", " ") for each in missing)
    return f"By the rota {who.lower()} does no {what}." if what else ""


def _there(desk: Desk, who: str, day: date) -> list[config.Rota] | None:
    """Return the lines of the rota by which a practitioner is in on a day; None: it has none."""
    lines = [one for one in desk.config.capacity.rota if one.who.lower() == who.lower()]
    weekday = config.WEEKDAYS[day.weekday()]
    there = [o for o in lines if o.minutes.get(weekday) and day not in closed_days(o.away)]
    return there if lines else None


@needs(Right.LOOK)
def not_here(desk: Desk) -> tuple[str, ...]:
    """Return who stands on the rota and is not on the staff table, or has left: not counted."""
    known = _sites(desk) if desk.config.capacity.rota else {}
    return tuple(one.who for one in desk.config.capacity.rota if one.who.lower() not in known)


def _sites(desk: Desk) -> dict[str, str]:
    members = staff(desk.store)
    return {m.handle: m.site for m in members if m.left_on is None or m.left_on > desk.today}


def _hours(one: config.Rota, site: str) -> Hours:
    return Hours(
        who=one.who.lower(),
        minutes={config.WEEKDAYS.index(day): given for day, given in one.minutes.items()},
        does=frozenset(one.does) | BY_TELEPHONE if one.does else None,
        site=site,
        away=frozenset(closed_days(one.away)),
    )


def minutes_of(capacity: config.Capacity, does: frozenset[str]) -> int:
    """Return how long an appointment for some things takes; for nothing named, the usual."""
    return sum(getattr(capacity.minutes, each) for each in does) or capacity.appointment
