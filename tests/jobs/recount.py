"""A recount of the accounts straight from the database file, sharing nothing with what it checks.

It knows the tables and the table of states in DEVELOPERS.md; of the program it takes a backup where
the register lies on a server, and nothing else.
"""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from tests import registers

END = {
    "informed_decline": "declined",
    "clinician_decision": "a clinician's decision",
    "died": "died",
    "transferred": "cared for elsewhere or moved away",
    "handed_back": "handed back to the GP",
    "struck_out": "struck out",
    "entered_in_error": "entered in error",
}

WEEK = timedelta(days=7)
OPEN = ("not yet due", "in its window", "late, ", "lost:")
"""How the words of a state begin that is open."""


@dataclass(frozen=True)
class Counted:
    """One ask as it was recounted."""

    number: int
    person: int
    kind: str
    urgency: str
    asked: str
    due: str
    state: str
    missed: bool
    over: str
    """The day on which it ended; nothing while it is open."""


def rechecks(path: Path, on: date, lost: set[int], at_end: bool = False) -> list[Counted]:
    """Count every re-check anew, as it stands on a day; `lost` are the follow-ups said to be so."""
    db = sqlite3.connect(registers.as_file(path))
    db.row_factory = sqlite3.Row
    found = []
    for due in db.execute("SELECT * FROM due WHERE void_at IS NULL ORDER BY id").fetchall():
        if due["asked_on"] > on.isoformat():
            continue
        events = db.execute(
            "SELECT * FROM due_event WHERE due_id = ? AND void_at IS NULL ORDER BY id", (due["id"],)
        ).fetchall()
        last = events[-1] if events and events[-1]["what"] == "closed" else None
        over = _first_end(events) if last is not None else ""
        if over > on.isoformat():
            last, over = None, ""
        if last is None:
            gone = due["latest"] < on.isoformat() or (at_end and due["latest"] == on.isoformat())
            state = _open(db, due, on, lost, gone)
        else:
            gone = due["latest"] < over
            state = _ended(db, due, last, gone)
        about = due["id"], due["person_id"], due["category"], due["urgency"]
        found.append(Counted(*about, due["asked_on"], due["latest"], state, gone, over))
    db.close()
    return found


def _first_end(events: list[sqlite3.Row]) -> str:
    """Return the day on which an ask ended; of a correction, on which it had ended before that."""
    last, *before = reversed(events)
    on = last["on"]
    corrected = last["visit_id"] is None and last["decision_id"] is None
    if corrected and last["reason"] in ("entered_in_error", "superseded"):
        for event in before:
            if event["what"] != "closed":
                break
            on = event["on"]
    return str(on)


def _ended(db: sqlite3.Connection, due: sqlite3.Row, last: sqlite3.Row, gone: bool) -> str:
    if last["reason"] in ("answered", "resolved"):
        if last["visit_id"] is None:
            return "looked at elsewhere"
        return "looked at late" if gone else "looked at in time"
    if last["reason"] != "superseded":
        too_late = gone and last["reason"] == "entered_in_error"
        return END[last["reason"]] + (", after a miss" if too_late else "")
    decision = None
    if last["visit_id"] is None and last["decision_id"] is not None:
        wanted = "SELECT * FROM decision WHERE id = ?"
        decision = db.execute(wanted, (last["decision_id"],)).fetchone()
    if decision is not None and decision["action"] == "move":
        if gone:
            return "moved after its latest day"
        if decision["latest"] and decision["latest"] > due["latest"]:
            return "moved to later, before its latest day"
    return "superseded after a miss" if gone else "superseded before it was due"


def _open(db: sqlite3.Connection, due: sqlite3.Row, on: date, lost: set[int], gone: bool) -> str:
    link = "SELECT follow_up_id FROM follow_up_due WHERE due_id = ? ORDER BY id DESC LIMIT 1"
    (holder,) = db.execute(link, (due["id"],)).fetchone()
    if holder in lost:
        return "lost: everything was tried"
    if on.isoformat() < due["earliest"]:
        return "not yet due"
    booked = _is_booked(db, holder, on)
    if gone:
        return "late, booked" if booked else "late, not booked"
    return "in its window, booked" if booked else "in its window, not booked"


def _is_booked(db: sqlite3.Connection, follow_up: int, on: date) -> bool:
    wanted = """
        SELECT count(*) FROM booking AS b
        WHERE b.void_at IS NULL AND b."on" <= ? AND date(b.starts_local) >= ?
        AND NOT EXISTS (SELECT 1 FROM booking_event AS e
                        WHERE e.booking_id = b.id AND e.void_at IS NULL AND e."on" <= ?)
        AND (b.follow_up_id = ? OR EXISTS (
            SELECT 1 FROM also_about AS a WHERE a.booking_id = b.id
            AND a.follow_up_id = ? AND a.void_at IS NULL))
    """
    (count,) = db.execute(wanted, (*[on.isoformat()] * 3, follow_up, follow_up)).fetchone()
    return bool(count)


def of_period(counted: list[Counted], first: date, last: date, asked: bool) -> list[Counted]:
    """Return those of a period: due in it, or made in it."""
    days = first.isoformat(), last.isoformat()
    return [c for c in counted if days[0] <= (c.asked if asked else c.due) <= days[1]]


def by_state(counted: list[Counted]) -> dict[str, tuple[int, int, int]]:
    """Return asks, people and misses of each state."""
    asks = Counter(c.state for c in counted)
    return {
        state: (
            count,
            len({c.person for c in counted if c.state == state}),
            sum(c.missed for c in counted if c.state == state),
        )
        for state, count in asks.items()
    }


def came_in_time(counted: list[Counted], on: date) -> tuple[int, int]:
    """Return how many people came in time for all that was due, of how many."""
    people: dict[int, list[bool]] = {}
    for c in counted:
        if c.state in ("entered in error", "superseded before it was due"):
            continue
        if c.state.startswith(OPEN) and c.due >= on.isoformat():
            continue
        people.setdefault(c.person, []).append(c.state.startswith("looked at") and not c.missed)
    return sum(all(each) for each in people.values()), len(people)


def sent(path: Path, on: date) -> dict[str, int]:
    """Return how many referrals have each stage on record by a day, whatever came later."""
    db = sqlite3.connect(registers.as_file(path))
    words = {"sent": ("sent", "spoke"), "seen": ("seen",), "result": ("result",)}
    found = {}
    for stage, whats in words.items():
        marks = ", ".join("?" * len(whats))
        wanted = f"""
            SELECT count(DISTINCT r.id) FROM referral AS r JOIN referral_event AS e
            ON e.referral_id = r.id WHERE r.void_at IS NULL AND e.void_at IS NULL
            AND r.asked_on <= ? AND e."on" <= ? AND e.what IN ({marks})
        """
        (found[stage],) = db.execute(wanted, (on.isoformat(), on.isoformat(), *whats)).fetchone()
    db.close()
    return found


def quarters(first: date, last: date) -> list[tuple[date, date]]:
    """Return every quarter that lies in some days, in part too."""
    found, day = [], first.replace(month=3 * ((first.month - 1) // 3) + 1, day=1)
    while day <= last:
        after = (day + timedelta(days=100)).replace(day=1)
        found.append((day, after - timedelta(days=1)))
        day = after
    return found


def weeks_ahead(
    path: Path, today: date, portion: int, weeks: int
) -> list[tuple[date, int, int, int, int]]:
    """Return of each coming week what is booked, wanted and waiting, and the minutes booked."""
    db = sqlite3.connect(registers.as_file(path))
    coming = """
        SELECT b.id, b.follow_up_id, date(b.starts_local), b.minutes FROM booking AS b
        WHERE b.void_at IS NULL AND date(b.starts_local) >= ?
        AND NOT EXISTS (SELECT 1 FROM booking_event AS e
                        WHERE e.booking_id = b.id AND e.void_at IS NULL)
    """
    booked = db.execute(coming, (today.isoformat(),)).fetchall()
    too = "SELECT follow_up_id FROM also_about WHERE booking_id = ? AND void_at IS NULL"
    taken = {number for _id, number, _on, _minutes in booked}
    for number, *_ in booked:
        taken |= {other for (other,) in db.execute(too, (number,))}
    open_ones = """
        SELECT id, target, latest, do FROM follow_up
        WHERE is_open AND void_at IS NULL AND step NOT IN ('look_through', 'type_visit')
        ORDER BY urgency_rank, latest, id
    """
    rows = [row for row in db.execute(open_ones) if row[0] not in taken and _needs_a_visit(row[3])]
    db.close()
    first = today - timedelta(days=today.weekday())
    if today.weekday() > 4 and not any(on < (first + WEEK).isoformat() for _, _, on, _ in booked):
        first += WEEK
    wanted, waiting = _unbooked(rows, today, first, portion)
    count, minutes = Counter[date](), Counter[date]()
    for _id, _number, on, took in booked:
        count[_monday(on)] += 1
        minutes[_monday(on)] += took
    mondays = [first + n * WEEK for n in range(weeks)]
    return [(day, count[day], wanted[day], waiting[day], minutes[day]) for day in mondays]


def _monday(on: str) -> date:
    day = date.fromisoformat(on)
    return day - timedelta(days=day.weekday())


def _unbooked(
    rows: list[tuple[int, str, str, str]], today: date, first: date, portion: int
) -> tuple[Counter[date], Counter[date]]:
    late = [row for row in rows if row[2] < today.isoformat()]
    waiting = Counter(first + (n // portion) * WEEK for n in range(len(late)))
    wanted = Counter[date]()
    for _id, target, latest, _do in rows:
        if latest >= today.isoformat():
            here = waiting if date.fromisoformat(target) < first else wanted
            here[max(first, _monday(target))] += 1
    return wanted, waiting


def _needs_a_visit(do: str) -> bool:
    words = set(json.loads(do))
    return not words or bool(words - {"call", "ask_after_care"})


def counted_today(path: Path, today: date) -> dict[str, int]:
    """Return what Today counts that follows from the rows alone."""
    db = sqlite3.connect(registers.as_file(path))
    stands = "SELECT count(*) FROM follow_up WHERE is_open AND void_at IS NULL"
    (overdue,) = db.execute(
        f"{stands} AND latest < ? AND step <> 'look_through'", (today.isoformat(),)
    ).fetchone()
    unconfirmed = "SELECT count(*) FROM visit WHERE void_at IS NULL AND confirmed_at IS NULL"
    (waits,) = db.execute(unconfirmed).fetchone()
    db.close()
    return {"overdue": overdue, "unconfirmed": waits}


def referrals_of(path: Path, first: date, last: date, on: date) -> tuple[int, int, int]:
    """Return of the referrals due in a period how many there are, are open, and gave a result."""
    db = sqlite3.connect(registers.as_file(path))
    days = first.isoformat(), last.isoformat(), on.isoformat()
    wanted = """
        SELECT count(*), sum(is_open), sum(EXISTS (
            SELECT 1 FROM referral_event AS e WHERE e.referral_id = r.id AND e.void_at IS NULL
            AND e.what = 'result' AND NOT EXISTS (
                SELECT 1 FROM referral_event AS l WHERE l.referral_id = r.id AND l.id > e.id
                AND l.void_at IS NULL AND l.what = 'closed')) AND NOT is_open)
        FROM referral AS r WHERE void_at IS NULL AND seen_by BETWEEN ? AND ? AND asked_on <= ?
    """
    counted, still, back = db.execute(wanted, days).fetchone()
    db.close()
    return counted, still or 0, back or 0
