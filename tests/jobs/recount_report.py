"""A recount of what the month's report tells of a day, from bare rows: open, late, ended, missing.

It knows the tables and what the manual says of the report, and imports nothing of the program.
"""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Iterable
from datetime import date, datetime
from pathlib import Path
from typing import Any

from tests import registers
from tests.jobs.recount import OPEN, Counted

Told = dict[tuple[str, str], tuple[int, int]]
"""Asks and people, by what is told and urgency."""


PARTS = ("open at the end", "lateness", "re-checks ended", "re-checks due, missed")


def told(lines: Iterable[Any], part: str) -> Told:
    """Return what the report tells in one of its parts."""
    return {(n.what, n.by): (n.count, n.people) for n in lines if n.part == part}


def parts(counted: list[Counted], first: date, last: date) -> dict[str, Told]:
    """Return the same, counted anew; `counted` are all re-checks on the month's last day."""
    days = first.isoformat(), last.isoformat()
    missed = [c for c in counted if c.missed and days[0] <= c.due <= days[1]]
    found = (
        opened(counted),
        late(counted, last),
        ended(counted, first, last),
        _told(("whatever came of them", "", c) for c in missed),
    )
    return dict(zip(PARTS, found, strict=True))


def opened(counted: list[Counted]) -> Told:
    """Return what is open, by its state."""
    return _told((c.state, c.urgency, c) for c in counted if c.state.startswith(OPEN))


def late(counted: list[Counted], on: date) -> Told:
    """Return how late what is open is, in whole weeks of the manual's bands."""
    found = []
    for c in counted:
        if c.state.startswith(OPEN):
            weeks = (on - date.fromisoformat(c.due)).days / 7
            band = "up to 2 weeks late" if weeks <= 2 else "up to 6 weeks late"
            band = "more than 6 weeks late" if weeks > 6 else band
            found.append(("not late" if weeks <= 0 else band, c.urgency, c))
    return _told(found)


def ended(counted: list[Counted], first: date, last: date) -> Told:
    """Return what ended in a month, by its state."""
    days = first.isoformat(), last.isoformat()
    return _told((c.state, "", c) for c in counted if days[0] <= c.over <= days[1])


def missing(path: Path) -> dict[str, int]:
    """Return how many who are waited for lack something, and the visits that wait."""
    db = sqlite3.connect(registers.as_file(path))
    waited = {
        person
        for (person,) in db.execute(
            "SELECT f.person_id FROM follow_up AS f JOIN person AS p ON p.id = f.person_id "
            "WHERE f.is_open AND f.void_at IS NULL AND f.step <> 'look_through' "
            "AND p.void_at IS NULL"
        )
    }
    points = db.execute(
        "SELECT person_id, kind, value IS NULL, safe = 'no', checked_on IS NOT NULL "
        "FROM contact_point WHERE void_at IS NULL AND until IS NULL"
    ).fetchall()
    (visits,) = db.execute(
        "SELECT count(*) FROM visit WHERE void_at IS NULL AND confirmed_at IS NULL"
    ).fetchone()
    instead = _without_a_way(db)
    db.close()
    usable = [p for p in points if not p[2] and not p[3]]
    numbers = {p[0] for p in usable if p[1] == "phone"}
    addresses = {p[0] for p in usable if p[1] == "address"}
    checked = {p[0] for p in usable if p[1] == "address" and p[4]}
    return {
        "people who are waited for": len(waited),
        "no telephone number that may be used": len(waited - numbers),
        "no address that may be used": len(waited - addresses),
        "an address, and none that was checked": len((waited & addresses) - checked),
        "a number or address that is not understood": len(waited & {p[0] for p in points if p[2]}),
        "no address of whoever is written to in their place": len(waited & instead),
        "visits not confirmed by a clinician": visits,
    }


def later(path: Path, first: date, last: date, end: datetime) -> dict[str, int]:
    """Return how much was entered, or taken back, after a month's end about its days."""
    db = sqlite3.connect(registers.as_file(path))
    instant = f"{end:%Y-%m-%d %H:%M:%S.%f}"
    days = {
        "visits": ("visit", "on"),
        "re-checks asked for": ("due", "asked_on"),
        "ends of re-checks": ("due_event", "on"),
        "referrals asked for": ("referral", "asked_on"),
        "what became known of referrals": ("referral_event", "on"),
        "what became of appointments": ("booking_event", "on"),
        "calls and other contacts": ("contact", "on"),
    }
    found = {}
    month = first.isoformat(), last.isoformat()
    for words, (table, day) in days.items():
        wanted = f'SELECT recorded_at, void_at FROM {table} WHERE "{day}" <= ?'
        told = db.execute(wanted, month[1:])
        found[words] = sum(
            void is None if at > instant else void is not None and void > instant
            for at, void in told
        )
    (found["letters of the month that came back"],) = db.execute(
        "SELECT count(*) FROM letter WHERE void_at IS NULL AND posted_on BETWEEN ? AND ? "
        "AND returned_on > ?",
        (*month, month[1]),
    ).fetchone()
    db.close()
    return {words: count for words, count in found.items() if count}


def _without_a_way(db: sqlite3.Connection) -> set[int]:
    """Return who has somebody written to in their place, of whom no address is known."""
    acts = db.execute(
        "SELECT id, person_id, role, instead FROM adult_for WHERE void_at IS NULL AND until IS NULL"
    ).fetchall()
    at_home = db.execute(
        "SELECT adult_id, safe FROM contact_point WHERE void_at IS NULL AND until IS NULL "
        "AND kind = 'address' AND value IS NOT NULL AND safe <> 'no'"
    ).fetchall()
    homes = defaultdict[int, set[str]](set)
    for adult, safe in at_home:
        homes[adult].add(safe)
    kept = {a[1] for a in acts if a[2] == "responsible_adult"}
    kept |= {a[1] for a in acts if (a[3] and homes[a[0]]) or "only_this" in homes[a[0]]}
    return {a[1] for a in acts if a[3] and a[2] != "responsible_adult"} - kept


def _told(found: Iterable[tuple[str, str, Counted]]) -> Told:
    some: dict[tuple[str, str], list[int]] = defaultdict(list)
    for what, urgency, one in found:
        some[what, urgency].append(one.person)
    return {key: (len(people), len(set(people))) for key, people in some.items()}
