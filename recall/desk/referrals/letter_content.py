"""What a letter to a colleague says beside its findings: how soon, which question, the course.

The words are those in use outside this program. What a practice would rather ask it writes
into its own wording, or the clinician writes for this letter alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from datetime import date

from msgspec.structs import replace
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import Case, To, Track, Urgency
from recall.care.ear import SIDES, Ear, Side, ears_of
from recall.care.hearing import four_frequency_average
from recall.records import tables
from recall.records.facts.cases import stands
from recall.schedule.calendar import say_day
from recall.schedule.plan import Reason, Referral
from recall.schedule.reading import reasons_read

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
_DISEASE = "Is there disease in this ear, and does it need an operation?"
_BONE = "Is this an infection of the bone, and what does it need today?"
_SUDDEN = "Is this a loss of the inner ear, and is treatment to be started now?"
_PAIN = "Please look for a cause of this pain outside the ear."
OF_RULE: dict[str, str] = {
    "sudden-loss": _SUDDEN,
    "worsening-loss": _SUDDEN,
    "facial": "What is the cause, and what does it need?",
    "sudden-vertigo": "Could this be a stroke?",
    "fluid-origin": "Please look at the space behind the nose.",
    "fluid-over-forty": "Please look at the space behind the nose.",
    "disease": _DISEASE,
    "pocket-unseen": _DISEASE,
    "battery": "Please remove this object at once.",
    "object": "Please remove this object, in view.",
    "head-injury": "Is the base of the skull broken?",
    "canal-risk": _BONE,
    "canal-frail": _BONE,
    "cellulitis": "Please treat this infection, which is spreading.",
    "mastoid": "Is this mastoiditis, and what does it need today?",
    "canal-not-better": "Please look at this treatment again: the infection still hurts.",
    "canal-shut": "Please open this canal with a wick, and treat it.",
    "pain-long": _PAIN,
    "night-pain-long": _PAIN,
    "severe-pain-long": _PAIN,
    "pinna-lesion": "Could this be cancer of the skin, and is it to go the suspected-cancer way?",
    "red-fluid-pain-child": "Please treat this infection of the middle ear.",
    "pus-untreated": "Please treat this infection, with what is safe beside a drum that is open.",
    "acute-infection": "Please treat this infection of the middle ear.",
    "immune-discharge": "What does this infection need today?",
    "barotrauma": "Is the inner ear hurt, and what does it need today?",
    "blood-found": "What bleeds here?",
    "bled-by-itself": "What bleeds here?",
    "blood-lasts": "What bleeds here?",
    "tinnitus-pulsatile": "Is there a growth of vessels?",
    "tinnitus": "What is the cause of this tinnitus?",
    "asymmetry": "Why do the two ears hear so differently?",
    "vertigo": "What is the cause of this dizziness?",
    "facial-weakness": "What is the cause, and what does it need today?",
}
"""What is asked where the rule, by how its name begins, means more than its track; the longest
beginning counts. Common practice, no source."""
FOR_STAFF = frozenset(
    {
        *("pinna-lesion", "canal-untreated", "acute-infection-untreated"),
        *("worsening-loss-undated", "sudden-vertigo", "battery-or-unknown-object"),
        *(
            "red-fluid-pain-child",
            "pus-untreated",
            "canal-severe-pain",
            "vertigo-gp",
            "sudden-vertigo-past-week",
        ),
        *("canal-not-better", "canal-untreated-again", "canal-blood", "canal-bleeds"),
    }
)
"""Rules of which the words go on to say what staff do; a letter has what stands before."""
BY_HAND = {
    "pinna-lesion": " Size: ________ Site: ________ Since when: ________ Bleeds: ________",
}
"""What the colleague must know and no finding holds: written in before it is signed."""
_HOUSE = re.compile(
    r"( within the past 30 days)?,? or with no day recorded"  # the day stands under what was told
    r"|, or over a time that was not recorded"
    r"| A test on the day of suction is repeated first\."
    r"| Ask (since when|about)\b[^.]*\."
)
"""What the rules say to those who keep them: how we test, and what to ask the person."""
STILL = "Please tell us whether you still need to see this: it has changed since, as said below."
AS_IT_WAS = "as it was"
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


def questions(referrals: Sequence[Referral], case: Case) -> tuple[str, ...]:
    """Return what is asked of the colleague, a question for each track.

    Of what a later visit found otherwise it is asked whether they still need to see it.
    """
    reasons = [(r, found_since(r, one.asked_on, case)) for one in referrals for r in one.reasons]
    return tuple(dict.fromkeys(STILL if since else _question(r) for r, since in reasons))


def _question(reason: Reason) -> str:
    begins = [name for name in OF_RULE if f"{reason.rule}-".startswith(f"{name}-")]
    return OF_RULE[max(begins, key=len)] if begins else QUESTIONS[reason.track]


def reasons_of(referrals: Sequence[Referral], case: Case) -> tuple[str, ...]:
    """Return why the person is referred, each once; what tells staff what to do is left out.

    What a later visit found otherwise stands beside the reason, with its day.

    A reason says first what it is about; behind the colon may stand where to, and by when, which
    the letter says itself.
    """
    ears: dict[str, set[Side]] = {}
    for one in referrals:
        for sides, reason in reasons_read(one.reasons):
            for side in sides:
                since = found_since(replace(reason, ear=side), one.asked_on, case)
                ears.setdefault(f"{_for_a_colleague(reason)}{since}", set()).add(side)
    return tuple(
        f"{ears_of(tuple(s for s in SIDES if s in of))}: {said}" for said, of in ears.items()
    )


def found_since(reason: Reason, asked_on: date, case: Case) -> str:
    """Return what the last look at an ear since a referral found otherwise, with its day."""
    looks = [
        (visit.on, words)
        for visit in case.visits
        if visit.on > asked_on and (words := _otherwise(reason.track, getattr(visit, reason.ear)))
    ]
    on, words = max(looks, default=(asked_on, AS_IT_WAS))
    return "" if words == AS_IT_WAS else f" On {say_day(on)} {words}."


def _otherwise(track: Track, ear: Ear | None) -> str:
    """Return what a look at an ear says of what was referred; empty where it says nothing of it."""
    if ear is None:
        return ""
    seen = ear.drum_seen == "full"
    told: dict[Track, tuple[object, bool, str]] = {
        "view": (ear.drum_seen, seen, "we saw this drum in full"),
        "wax": (
            ear.wax_left or ear.clearance,
            ear.wax_left in ("none", "some") or (not ear.wax_left and ear.clearance == "cleared"),
            "the wax came out",
        ),
        "fluid": (ear.effusion, ear.effusion == "absent" and seen, "we saw no fluid"),
        "perforation": (
            ear.perforation,
            ear.perforation in ("none", "healed") and seen,
            "we saw no hole",
        ),
    }
    recorded, is_gone, words = told.get(track, (None, False, ""))
    if recorded is None:
        return ""
    return words if is_gone else AS_IT_WAS


def _for_a_colleague(reason: Reason) -> str:
    says = without_house_rules(reason.says)
    if reason.rule not in FOR_STAFF:
        return says
    return says.partition(":")[0].rstrip(".") + "." + BY_HAND.get(reason.rule, "")


def without_house_rules(says: str) -> str:
    """Return what a rule says without what only we need to know.

    >>> without_house_rules("One-sided loss. A test on the day of suction is repeated first.")
    'One-sided loss.'
    """
    return _HOUSE.sub("", says)


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
