"""A recount of the referrals straight from the database file, state by state.

It knows the tables and the table of states in DEVELOPERS.md, and imports nothing of the program.
"""

from __future__ import annotations

import sqlite3
from collections import Counter, defaultdict
from datetime import date
from pathlib import Path
from statistics import median

from tests import registers

RECORDS = {
    "sent": ("sent", "spoke"),
    "accepted": ("accepted", "appointment"),
    "seen": ("seen",),
    "result": ("result",),
}
"""What puts on record that a referral came to a stage."""
CALLED = {
    "ent": "ENT",
    "gp": "GP",
    "paediatric_audiology": "child audiology",
    "ear_care": "ear-care service",
}
"""Services that are called otherwise on paper than in the table."""
STAGES = tuple(RECORDS)
ANEW = ("rejected", "discharged", "not_there")
"""After these it begins anew, and a decision is awaited."""
NO_ANSWER = (*ANEW, "no_longer_asked", "chased", "spoke", "missed_there", "worded")
END = {
    "answered": "its reason had gone",
    "resolved": "its reason had gone",
    "under_care": "taken up by the service that follows them",
    "informed_decline": "declined",
    "clinician_decision": "a clinician's decision",
    "died": "died",
    "transferred": "cared for elsewhere or moved away",
    "handed_back": "handed back to the GP",
    "struck_out": "struck out",
    "entered_in_error": "entered in error",
}
Known = dict[str, str]
"""The first day on record of each stage."""


def by_state(path: Path, first: date, last: date, on: date) -> dict[str, tuple[int, int, int]]:
    """Return asks, people and misses of each state today, of those to be seen in a period."""
    asks: Counter[str] = Counter()
    missed: Counter[str] = Counter()
    people: dict[str, set[int]] = defaultdict(set)
    for row, events in _rows(path, on):
        if first.isoformat() <= row["seen_by"] <= last.isoformat():
            state, late = _state(row, events, on)
            asks[state] += 1
            missed[state] += late
            people[state].add(row["person_id"])
    return {state: (count, len(people[state]), missed[state]) for state, count in asks.items()}


def days_to_stages(path: Path, began: date, on: date) -> dict[str, tuple[float, int, int]]:
    """Return by service and stage the days in the middle, how many came to it, and of how many."""
    took: dict[tuple[str, str], list[int]] = defaultdict(list)
    asked: Counter[str] = Counter()
    for row, events in _rows(path, on):
        if not began.isoformat() <= row["asked_on"] <= on.isoformat():
            continue
        asked[row["to"]] += 1
        for stage, day in _known(events).items():
            days = date.fromisoformat(day) - date.fromisoformat(row["asked_on"])
            took[row["to"], stage].append(days.days)
    return {
        f"{CALLED.get(to, to.replace('_', ' '))}: {stage}": (
            float(median(days)),
            len(days),
            asked[to],
        )
        for (to, stage), days in took.items()
    }


def _rows(path: Path, on: date) -> list[tuple[sqlite3.Row, list[sqlite3.Row]]]:
    """Return the referrals asked for by a day, each with what was known of it by then."""
    db = sqlite3.connect(registers.as_file(path))
    db.row_factory = sqlite3.Row
    wanted = "SELECT * FROM referral WHERE void_at IS NULL AND asked_on <= ? ORDER BY id"
    of = """
        SELECT * FROM referral_event WHERE referral_id = ? AND void_at IS NULL AND "on" <= ?
        ORDER BY "on", id
    """
    day = on.isoformat()
    found = [
        (row, db.execute(of, (row["id"], day)).fetchall()) for row in db.execute(wanted, (day,))
    ]
    db.close()
    return found


def _known(events: list[sqlite3.Row]) -> Known:
    known: Known = {}
    for event in events:
        if event["what"] in ANEW:
            known = {}
        for stage, whats in RECORDS.items():
            if event["what"] in whats:
                known.setdefault(stage, event["on"])
    return known


def _state(row: sqlite3.Row, events: list[sqlite3.Row], on: date) -> tuple[str, bool]:
    known, over = _known(events), None if row["is_open"] else row["ended_on"]
    late = _is_late(row, known, over or on.isoformat())
    whats = [event["what"] for event in events]
    if over is not None:
        return _ended(row["end_reason"], whats, late), late
    if _awaits_a_decision(whats):
        return "came back: a decision is awaited", late
    if "seen" in known:
        return "seen, the result is " + ("late" if late else "awaited"), late
    sent = "sent" in known or "gp_acted" in whats
    # An emergency is arranged by telephone: nobody accepts it.
    if "accepted" in known or (sent and row["urgency"] == "emergency"):
        return "accepted" + (", late to be seen" if late else ""), late
    if sent:
        return "sent" + (", late to be accepted" if late else ""), late
    return "asked for, " + ("late to be sent" if late else "to be sent"), late


def _is_late(row: sqlite3.Row, known: Known, until: str) -> bool:
    """Whether the stage that is not come to was to be known before a day; the result, if it has."""
    stages = [s for s in STAGES if s != "accepted" or row["urgency"] != "emergency"]
    reached = max((STAGES.index(stage) for stage in known), default=-1)
    waits_for = next((s for s in stages if STAGES.index(s) > reached), "result")
    return row[f"{waits_for}_by"] < known.get(waits_for, until)


def _ended(reason: str | None, whats: list[str], late: bool) -> str:
    if reason == "result_back" or "result" in whats:
        return "result back late" if late else "result back in time"
    if reason is None or reason == "superseded":
        return "superseded after it was late" if late else "superseded before it was late"
    if reason == "entered_in_error" and late:
        return "entered in error, after it was late"
    if reason == "clinician_decision" and "no_longer_asked" in whats:
        return "its reason had gone"
    return END[reason]


def _awaits_a_decision(whats: list[str]) -> bool:
    waits = ""
    for what in whats:
        if what in (*ANEW, "no_longer_asked"):
            waits = what
        elif what not in NO_ANSWER or (what == "spoke" and waits == "not_there"):
            waits = ""
    return bool(waits)


def what_was_done(path: Path, first: date, last: date) -> dict[tuple[str, str], int]:
    """Return what a month's report counts of acts: letters, appointments' ends, and visits."""
    db = sqlite3.connect(registers.as_file(path))
    days = first.isoformat(), last.isoformat()
    found: dict[tuple[str, str], int] = {}
    letters = """
        SELECT kind, count(*), sum(returned_on IS NOT NULL) FROM letter
        WHERE void_at IS NULL AND posted_on BETWEEN ? AND ? GROUP BY kind
    """
    for kind, count, back in db.execute(letters, days):
        found["letters posted", kind] = count
        if back:
            found["letters returned", kind] = back
    ends = """
        SELECT e.what, count(*) FROM booking_event AS e
        WHERE e.void_at IS NULL AND e."on" BETWEEN ? AND ? GROUP BY e.what
    """
    found |= {("bookings", what): count for what, count in db.execute(ends, days)}
    visits = """
        SELECT count(*), coalesce(sum(confirmed_at IS NULL), 0) FROM visit
        WHERE void_at IS NULL AND "on" BETWEEN ? AND ?
    """
    seen, waiting = db.execute(visits, days).fetchone()
    found["visits", "on record"] = seen
    found["visits", "not confirmed by a clinician"] = waiting
    db.close()
    return found
