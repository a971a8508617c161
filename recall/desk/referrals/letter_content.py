"""What a letter to a colleague says beside its findings: how soon, which question, the course.

The words are those in use outside this program. What a practice would rather ask it writes
into its own wording, or the clinician writes for this letter alone.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import Case, To, Track, Urgency
from recall.care.ear import SIDES, Ear, Side
from recall.care.hearing import four_frequency_average
from recall.records import tables
from recall.records.facts.cases import stands
from recall.schedule.calendar import say_day
from recall.schedule.plan import Referral

_HOW_SOON: dict[Urgency, str] = {
    "emergency": "as an emergency, today",
    "urgent": "urgently",
    "high": "soon",
    "medium": "routinely",
    "low": "routinely",
}
QUESTIONS: dict[Track, str] = {
    "wax": "Please clear this ear under the microscope, and tell us what the drum shows.",
    "fluid": "Does this fluid need treatment, and who follows the hearing meanwhile?",
    "retraction": "Is there disease in or behind this retraction, and who follows it?",
    "perforation": "Should this perforation be closed, and how is the ear to be kept until then?",
    "canal_skin": "Please examine and treat this ear canal.",
    "grommet": "Should this grommet stay, come out or be replaced?",
    "cavity": "Please clear this cavity, and look for disease in it.",
    "hearing": "What does the hearing test show in each ear, and what would help?",
    "drum": "What is this, and does it need treatment?",
    "view": "Please look at this drum, which we could not see.",
    "surveillance": "Please look at the ears and test the hearing.",
}
"""What is asked about each track; common practice, no source."""
NEWEST = 4
"""So many of the newest values show a course."""


def asked_words(urgency: Urgency, seen_by: date, on: date) -> str:
    """Return how soon a person should be seen there, in words in use outside.

    >>> asked_words("urgent", date(2026, 9, 15), date(2026, 9, 1))
    'Please see this person urgently, by 15 September 2026.'
    """
    if urgency == "emergency":
        return "Please see this person as an emergency, today."
    if seen_by < on:
        return f"Please see this person as soon as you can: it was to be by {say_day(seen_by)}."
    return f"Please see this person {_HOW_SOON[urgency]}, by {say_day(seen_by)}."


def questions(referrals: Sequence[Referral]) -> tuple[str, ...]:
    """Return what is asked of the colleague, a question for each track."""
    tracks = (reason.track for one in referrals for reason in one.reasons)
    return tuple(dict.fromkeys(QUESTIONS[track] for track in tracks))


def trends(case: Case) -> tuple[str, ...]:
    """Return the course of what has been graded or measured more than once, the oldest first."""
    return tuple(line for side in SIDES for line in _trends_of(case, side))


def _trends_of(case: Case, side: Side) -> Iterator[str]:
    looks = [(v.on, getattr(v, side)) for v in sorted(case.visits, key=lambda v: v.on)]
    seen: list[tuple[date, Ear]] = [(on, ear) for on, ear in looks if ear is not None]
    courses: dict[str, list[tuple[date, object]]] = {
        "fluid": [(on, ear.effusion) for on, ear in seen],
        "pars tensa grade": [(on, ear.tensa_grade) for on, ear in seen],
        "attic grade": [(on, ear.attic_grade) for on, ear in seen],
        "mean of 500 to 4000 Hz, in dB HL": [(on, _mean(ear)) for on, ear in seen],
    }
    for words, values in courses.items():
        known = [(on, value) for on, value in values if value is not None]
        if len({on for on, _ in known}) > 1 and any(v not in (0, "absent") for _, v in known):
            told = ", ".join(f"{value} ({say_day(on)})" for on, value in known[-NEWEST:])
            yield f"{side} ear, {words}: {told}"


def _mean(ear: Ear) -> str | None:
    found = four_frequency_average(ear.hearing_dB) if ear.hearing_dB else None
    return None if found is None else f"{found:g}"


def referred_beside(
    session: Session, person_id: int, to: To, days: Sequence[date]
) -> tuple[tuple[To, str], ...]:
    """Return where else the person was referred on the same days, each with how soon."""
    r = tables.Referral
    wanted = (
        select(r.to, r.urgency)
        .where(r.person_id == person_id, r.asked_on.in_(days), r.to != to, r.is_open, stands(r))
        .order_by(r.urgency_rank, r.id)
    )
    return tuple(dict.fromkeys((other, _HOW_SOON[u]) for other, u in session.execute(wanted)))
