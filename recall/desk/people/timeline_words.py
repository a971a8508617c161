"""How each kind of row is told in a person's story: one sentence, nothing left out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.ear import Ear
from recall.desk.core.acting import TABLES
from recall.desk.visits.findings_words import ear_lines
from recall.records import tables
from recall.schedule.calendar import say_day

_findings: Any = tables.Findings.__table__


def plain(word: str) -> str:
    """Return a word of the records as it is read."""
    return word.replace("_", " ")


def _visit(session: Session, row: Any) -> str:
    f = _findings.c
    wanted = select(f.ear, f.content).where(f.visit_id == row["id"]).order_by(f.ear.desc())
    ears = []
    for ear, content in session.execute(wanted):
        lines = ", ".join(ear_lines(msgspec.json.decode(content, type=Ear)))
        ears.append(f"{ear} ear: {lines or 'nothing recorded'}.")
    category = f" Set: {plain(row['category'])}." if row["category"] else ""
    how = "Seen" if row["source"] == "entered" else "Seen (imported)"
    corrected = f" Corrects visit {row['corrects_id']}." if row["corrects_id"] else ""
    return f"{how}, visit {row['id']}. {' '.join(ears)}{category}{corrected}".strip()


def _due(_session: Session, row: Any) -> str:
    window = f"from {say_day(row['earliest'])} to {say_day(row['latest'])}"
    return f"Asked back for {plain(row['track'])}, {row['ear']} ear, {window}: {row['says']}"


def _due_event(session: Session, row: Any) -> str:
    due = TABLES["due"]
    of = session.execute(select(due.c.track, due.c.ear).where(due.c.id == row["due_id"])).one()
    what = f"{plain(of.track).capitalize()}, {of.ear} ear"
    if row["what"] == "reopened":
        return f"{what}: stands again."
    by = f" by visit {row['visit_id']}" if row["visit_id"] else ""
    why = f" {row['why']}" if row["why"] else ""
    return f"{what}: closed, {plain(row['reason'])}{by}.{why}"


def _decision(_session: Session, row: Any) -> str:
    about = plain(row["track"] or row["to"] or "")
    why = f": {row['why']}" if row["why"] else "."
    if row["action"] == "move":
        return f"Decided to move {about}, {row['ear']} ear, to {say_day(row['latest'])}{why}"
    return f"Decided on {about}, {row['ear']} ear: {plain(row['reason'])}{why}"


def _contact(_session: Session, row: Any) -> str:
    words = f"{plain(row['channel']).capitalize()}: {plain(row['outcome'])}."
    if row["by_them"]:
        words = f"They made contact. {words}"
    if row["until"]:
        words += f" Agreed: {say_day(row['until'])}."
    return f"{words} {row['note']}".strip()


def _letter(_session: Session, row: Any) -> str:
    words = f"Letter {row['id']} ({plain(row['kind'])}) written."
    if row["held_why"]:
        words += f" Held back: {row['held_why']}."
    if row["pulled_why"]:
        words += f" Pulled from the pile: {row['pulled_why']}."
    if row["posted_on"]:
        words += f" Posted on {say_day(row['posted_on'])}."
    if row["returned_on"]:
        words += f" Came back on {say_day(row['returned_on'])}."
    return words


def _booking(_session: Session, row: Any) -> str:
    starts = row["starts_local"]
    late = f" After the latest day: {row['late_why']}." if row["late_why"] else ""
    return f"Booked for {say_day(starts.date())} at {starts:%H:%M}.{late}"


def _booking_event(_session: Session, row: Any) -> str:
    why = f": {row['why']}" if row["why"] else ""
    return f"Booking {row['booking_id']} {plain(row['what'])}{why}."


def _follow_up_event(_session: Session, row: Any) -> str:
    until = f" until {say_day(row['until'])}" if row["until"] else ""
    why = f": {row['why']}" if row["why"] else ""
    return f"Follow-up {row['follow_up_id']}: {plain(row['what'])}{until}{why}."


def _referral(_session: Session, row: Any) -> str:
    ears = " and ".join(row["ears"])
    seen_by = say_day(row["seen_by"])
    return f"Referral {row['id']} to {plain(row['to'])} asked for, {ears}, to be seen by {seen_by}."


def _referral_event(_session: Session, row: Any) -> str:
    more = [row["spoke_with"], row["reason"], row["note"]]
    if row["day"]:
        more.append(say_day(row["day"]))
    told = "; ".join(filter(None, more))
    return f"Referral {row['referral_id']}: {plain(row['what'])}{f' ({told})' if told else ''}."


def _risk(_session: Session, row: Any) -> str:
    ear = f", {row['ear']} ear" if row["ear"] else ""
    since = f", since {row['since']}" if row["since"] else ""
    return f"Risk: {plain(row['what'])}{ear}{since}."


def _reach(_session: Session, row: Any) -> str:
    problem = f" ({row['problem']})" if row["problem"] else ""
    return f"{row['kind'].capitalize()} recorded{problem}, safe: {plain(row['safe'])}."


def _adult(_session: Session, row: Any) -> str:
    relation = f" ({row['relation']})" if row["relation"] else ""
    return f"Answers for them: {row['name']}, {plain(row['role'])}{relation}."


def _under_care(_session: Session, row: Any) -> str:
    care = msgspec.json.decode(row["content"])
    ear = f", {care['ear']} ear" if care.get("ear") else ""
    return f"Under the care of {plain(care['of'])}{ear}."


TELL: dict[str, Callable[[Session, Any], str]] = {
    "person_risk": _risk,
    "adult_for": _adult,
    "reach": _reach,
    "visit": _visit,
    "due": _due,
    "decision": _decision,
    "due_event": _due_event,
    "referral": _referral,
    "contact": _contact,
    "letter": _letter,
    "booking": _booking,
    "booking_event": _booking_event,
    "follow_up_event": _follow_up_event,
    "referral_event": _referral_event,
    "under_care": _under_care,
}
"""By table: what a row of it says; nothing where it is not told."""
