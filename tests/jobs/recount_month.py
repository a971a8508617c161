"""A recount of the bars of the month's report and of what visits bring again, from bare rows.

It knows the tables, the methods as the manual tells them and the usual minutes of
config.example.toml, and imports nothing of the program.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter, defaultdict
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from tests import registers

REACHED = {
    *("booked", "will_call_back", "call_again_on", "wants_letter", "wants_clinician", "worse"),
    *("declines", "cannot_afford", "cannot_travel", "seen_elsewhere", "too_ill"),
    "do_not_contact",
}
"""Outcomes of which recall/manual/keys.md says that whoever is meant spoke to us."""
MINUTES = {
    "otoscopy": 10,
    "hearing_test": 20,
    "tympanometry": 5,
    "clear_wax": 20,
    "clean": 20,
    "call": 5,
    "ask_after_care": 5,
}
USUAL = 20
"""Minutes of an appointment for nothing named."""
TWO_YEARS, SETTLED, LEAST = timedelta(days=730), timedelta(days=84), 10
Z = 1.959963984540054
"""The 97.5th percentile of the normal distribution (any table of it)."""


def calls_by_hour(path: Path, began: date, on: date, zone: str) -> dict[str, tuple[int, int]]:
    """Return how many calls reached somebody, and of how many, by the hour in which they were."""
    db = sqlite3.connect(registers.as_file(path))
    wanted = """
        SELECT person_id, recorded_at, "on", outcome FROM contact
        WHERE channel = 'phone' AND NOT by_them AND void_at IS NULL AND ref IS NULL
        AND "on" BETWEEN ? AND ? ORDER BY id
    """
    calls: dict[tuple[object, ...], tuple[str, bool]] = {}
    for person, at, day, outcome in db.execute(wanted, (began.isoformat(), on.isoformat())):
        local = datetime.fromisoformat(f"{at}+00:00").astimezone(ZoneInfo(zone))
        known = local.date().isoformat() == day
        key = (person, local.isoformat(timespec="minutes")) if known else (len(calls),)
        hour = f"{local.hour:02}:00" if known else "hour not known"
        calls[key] = hour, outcome in REACHED
    db.close()
    rung = Counter(hour for hour, _ in calls.values())
    return {
        hour: (sum(h == hour and hit for h, hit in calls.values()), count)
        for hour, count in rung.items()
    }


def letters_by_step(path: Path, began: date, on: date) -> dict[str, tuple[int, int, int]]:
    """Return by letter step how many were booked within 14 days, of how many, and came back.

    Those of the steps that ask for an appointment, once their 14 days are over.
    """
    db = sqlite3.connect(registers.as_file(path))
    wanted = """
        SELECT step, count(*), sum(returned_on IS NOT NULL), sum(EXISTS (
            SELECT 1 FROM booking AS b WHERE b.person_id = n.person_id AND b.void_at IS NULL
            AND b."on" BETWEEN n.posted_on AND date(n.posted_on, '+14 days')))
        FROM letter AS n WHERE void_at IS NULL AND posted_on BETWEEN ? AND date(?, '-14 days')
        AND step IN ('invitation', 'reminder', 'last_letter', 'missed_letter', 'asked_letter')
        GROUP BY step
    """
    rows = db.execute(wanted, (began.isoformat(), on.isoformat())).fetchall()
    db.close()
    return {f"{s.replace('_', ' ')}, letter": (hit, count, back) for s, count, back, hit in rows}


def steps_tried(path: Path, began: date, on: date) -> dict[str, tuple[int, int]]:
    """Return by contact step how many of ours reached somebody, and of how many."""
    db = sqlite3.connect(registers.as_file(path))
    wanted = """
        SELECT step, outcome FROM contact WHERE NOT by_them AND void_at IS NULL AND step <> ''
        AND channel <> 'letter' AND "on" BETWEEN ? AND ?
    """
    tried: dict[str, list[bool]] = defaultdict(list)
    for step, outcome in db.execute(wanted, (began.isoformat(), on.isoformat())):
        tried[step.replace("_", " ")].append(outcome in REACHED)
    db.close()
    return {step: (sum(hits), len(hits)) for step, hits in tried.items()}


class Rates(NamedTuple):
    """Three ends of a share: itself, the low and the high end of its interval."""

    share: float
    low: float
    high: float


def wilson(hits: int, of: int) -> Rates:
    """Return a share with its 95 per cent interval (E. B. Wilson, JASA 22, 1927, p. 209)."""
    if not of:
        return Rates(0, 0, 0)
    p, centre = hits / of, (hits + Z * Z / 2) / (of + Z * Z)
    half = Z / (1 + Z * Z / of) * (p * (1 - p) / of + Z * Z / (4 * of * of)) ** 0.5
    return Rates(p, max(0.0, centre - half), min(1.0, centre + half))


def again(
    path: Path, today: date, first: date, weeks: int, portion: int
) -> list[tuple[float, float, float]]:
    """Return of each week ahead the minutes that its appointments bring in turn, low and high.

    By linear algebra: people and minutes by kind are one vector, what a week brings after n weeks
    is a matrix, and what comes in the same week again is the sum of a geometric series.
    """
    db = sqlite3.connect(registers.as_file(path))
    seen, brings = _seen(db, today, first, weeks, portion), _Brings(db, today)
    db.close()
    kinds = sorted({*brings.kinds, *(kind for week in seen for kind in week)})
    ends = []
    for end in range(3):
        lags = brings.matrices(kinds, end, weeks)
        arrived = np.zeros((weeks, 2 * len(kinds)))
        total = np.zeros(weeks)
        for week in range(weeks):
            start = _vector(seen[week], kinds)
            all_of = np.linalg.solve(np.eye(2 * len(kinds)) - lags[0], arrived[week] + start)
            total[week] = (all_of - start)[len(kinds) :].sum()
            for lag in range(1, weeks - week):
                arrived[week + lag] += lags[lag] @ all_of
        ends.append(total)
    return [tuple(float(each[week]) for each in ends) for week in range(weeks)]


Seen = dict[str, tuple[float, float]]


def _vector(seen: Seen, kinds: list[str]) -> np.ndarray:
    told = [seen.get(kind, (0.0, 0.0)) for kind in kinds]
    return np.array([people for people, _ in told] + [minutes for _, minutes in told])


def _minutes(do: str) -> int:
    return sum(MINUTES[each] for each in json.loads(do)) or USUAL


_OPEN = """
    SELECT f.id, f.target, f.latest, f.do, f.step, d.category FROM follow_up AS f
    JOIN due AS d ON d.id = (SELECT min(l.due_id) FROM follow_up_due AS l
                             WHERE l.follow_up_id = f.id AND l.left_at IS NULL)
    WHERE f.is_open AND f.void_at IS NULL AND f.step <> 'look_through'
    ORDER BY f.urgency_rank, f.latest, f.id
"""


def _seen(db: sqlite3.Connection, today: date, first: date, weeks: int, portion: int) -> list[Seen]:
    """Return week by week whom appointments are for: booked, wanted and waiting."""
    found: list[dict[str, list[float]]] = [{} for _ in range(weeks)]

    def add(week: int, kind: str, minutes: int) -> None:
        if 0 <= week < weeks:
            told = found[week].setdefault(kind, [0.0, 0.0])
            told[0] += 1
            told[1] += minutes

    rows = db.execute(_OPEN).fetchall()
    kinds = {row[0]: row[5] for row in rows}
    booked = """
        SELECT b.id, b.follow_up_id, date(b.starts_local), b.minutes FROM booking AS b
        WHERE b.void_at IS NULL AND date(b.starts_local) >= ? AND NOT EXISTS (
            SELECT 1 FROM booking_event AS e WHERE e.booking_id = b.id AND e.void_at IS NULL)
    """
    too = "SELECT follow_up_id FROM also_about WHERE booking_id = ? AND void_at IS NULL"
    taken = set()
    for number, named, on, minutes in db.execute(booked, (today.isoformat(),)).fetchall():
        about = [named, *(other for (other,) in db.execute(too, (number,)))]
        taken.update(about)
        kind = next((kinds[each] for each in about if each in kinds), "")
        add((date.fromisoformat(on) - first).days // 7, kind, minutes)
    late = 0
    for number, target, latest, do, step, kind in rows:
        if number in taken or step == "type_visit" or set(json.loads(do) or "-") <= _BY_TELEPHONE:
            continue
        week = max(0, (date.fromisoformat(target) - first).days // 7)
        if latest < today.isoformat():
            week, late = late // portion, late + 1
        add(week, kind, _minutes(do))
    return [{kind: (told[0], told[1]) for kind, told in week.items()} for week in found]


_BY_TELEPHONE = {"call", "ask_after_care"}


class _Brings:
    """What the appointments of two years brought, by kind, and how often they were missed."""

    def __init__(self, db: sqlite3.Connection, today: date) -> None:
        days = (today - TWO_YEARS).isoformat(), today.isoformat()
        looks = """
            SELECT DISTINCT v.person_id, v.id, v."on", d.category FROM due_event AS e
            JOIN visit AS v ON v.id = e.visit_id JOIN due AS d ON d.id = e.due_id
            WHERE e.void_at IS NULL AND v.void_at IS NULL AND e.what = 'closed'
            AND e.reason <> 'superseded' AND v."on" BETWEEN ? AND ? ORDER BY v."on", v.id
        """
        following = """
            SELECT target, do, category FROM due WHERE visit_id = ? AND void_at IS NULL
            ORDER BY target, id LIMIT 1
        """
        newest = {(row[3], row[0]): row[1:3] for row in db.execute(looks, days).fetchall()}
        told: dict[str, list[tuple[int, str, int] | None]] = defaultdict(list)
        for (kind, _person), (visit, on) in newest.items():
            then = db.execute(following, (visit,)).fetchone()
            if then is not None:
                ahead = (date.fromisoformat(then[0]) - date.fromisoformat(on)).days
                then = max(0, ahead) // 7, then[2], _minutes(then[1])
            told[kind].append(then)
        self.all_kinds = [each for some in told.values() for each in some]
        self.told = {kind: some for kind, some in told.items() if len(some) >= LEAST}
        self.kinds = {*told, *(each[1] for each in self.all_kinds if each is not None)}
        self.missed, self.after = _missed(db, today)

    def matrices(self, kinds: list[str], end: int, weeks: int) -> np.ndarray:
        """Return what one of each kind brings after each number of weeks."""
        size = len(kinds)
        found = np.zeros((weeks, 2 * size, 2 * size))
        for n, kind in enumerate(kinds):
            for lag, part in self.after.items():
                if lag < weeks:
                    found[lag, n, n] += self.missed[end] * part
                    found[lag, size + n, size + n] += self.missed[end] * part
            looks = self.told.get(kind, self.all_kinds)
            came = [each for each in looks if each is not None]
            if not came:
                continue
            part = (1 - self.missed.share) * wilson(len(came), len(looks))[end] / len(came)
            minutes = sum(each[2] for each in came) / len(came)
            for lag, then, _ in came:
                if lag < weeks:
                    found[lag, kinds.index(then), n] += part
                    found[lag, size + kinds.index(then), n] += part * minutes
        return found


def _missed(db: sqlite3.Connection, today: date) -> tuple[Rates, dict[int, float]]:
    """Return how often a first appointment was missed, and after how many weeks the next was."""
    ended = """
        SELECT b.person_id, date(b.starts_local), e.what FROM booking_event AS e
        JOIN booking AS b ON b.id = e.booking_id
        WHERE e.void_at IS NULL AND b.void_at IS NULL
        AND e.what IN ('attended', 'did_not_attend', 'was_not_brought')
        AND date(b.starts_local) >= ? AND date(b.starts_local) < ? ORDER BY b.starts_local, b.id
    """
    firsts: dict[int, tuple[str, str]] = {}
    for person, on, what in db.execute(ended, ((today - TWO_YEARS).isoformat(), today.isoformat())):
        firsts.setdefault(person, (on, what))
    following = """
        SELECT min(date(starts_local)) FROM booking
        WHERE void_at IS NULL AND person_id = ? AND date(starts_local) > ?
    """
    weeks: Counter[int] = Counter()
    never = 0
    away = [(person, on) for person, (on, what) in firsts.items() if what != "attended"]
    for person, on in away:
        (then,) = db.execute(following, (person, on)).fetchone()
        day = date.fromisoformat(on)
        if then is not None:
            weeks[(date.fromisoformat(then) - day).days // 7] += 1
        else:
            never += today - day >= SETTLED
    known = sum(weeks.values()) + never
    return wilson(len(away), len(firsts)), {week: n / known for week, n in weeks.items()}
