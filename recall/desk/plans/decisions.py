"""What somebody who may decide makes of follow-ups: shown first, then done, each with its letter.

Nothing here is done by a rule: a named person decides, with the reason in words, and where
others bring the person, after considering the practice's safeguarding prompt.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act, Next, facts_now, open_row
from recall.desk.core.calling_off import open_bookings, pull_letters
from recall.desk.core.guarding import needs
from recall.desk.core.per_person import others_of, said_of
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.plans.furthest import beyond, furthest, why_not_among_others
from recall.desk.referrals import colleague_letters
from recall.errors import InputError, Refused
from recall.loop.facts import Facts
from recall.loop.lost import Choice
from recall.loop.lost import decisions as choices
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import whole
from recall.schedule.calendar import say_day

CARRY_ON = "carry_on"
MOVE = "move"
CHOICE: dict[str, str] = {
    "keep_trying": "keep_trying",
    "hand_back": "hand_back",
    "informed_decline": "informed_decline",
    "transferred": "transferred",
    "died": "died",
    "clinician_decision": "other_reason",
}
DECISIONS: tuple[str, ...] = (CARRY_ON, *CHOICE, MOVE)
CLINICAL = frozenset({CARRY_ON, MOVE, "clinician_decision"})
"""What is for those who examine ears; the rest is for the manager too."""
_WORDS = {
    CARRY_ON: "Carry on as it stands",
    "keep_trying": "Keep trying: a new round",
    MOVE: "Move to other dates",
}


@dataclass(frozen=True)
class Meant:
    """One follow-up that a decision would be about: shown before anything is done."""

    follow_up_id: int
    version: int
    ref: str
    name: str
    born: date
    latest: date
    urgency: str
    what: tuple[str, ...]
    """What is to be looked at, ear by ear."""
    decision: str
    """The decision in words."""
    closes_as: str
    letter: str
    allowed: bool
    because: str
    """Why it is not allowed yet."""
    prompt: str
    """What to consider before deciding."""
    furthest: date | None = None
    """Of a move of several people, the last day to which this one may go."""


@dataclass(frozen=True)
class Dates:
    """The window that a follow-up is moved to."""

    earliest: date
    target: date
    latest: date

    def __post_init__(self) -> None:
        """Refuse a window whose days are out of order."""
        if not self.earliest <= self.target <= self.latest:
            raise InputError(
                "The days are out of order.", hint="Earliest, then target, then latest."
            )


@dataclass(frozen=True, slots=True)
class Decided:
    """What somebody decided about some follow-ups, and why."""

    what: str
    """One of `DECISIONS`."""
    why: str
    """The reason in words."""
    considered: bool = False
    """The prompt that was shown has been considered."""
    dates: Dates | None = None
    """For a move, the window."""

    def check(self, desk: Desk) -> None:
        """Refuse what cannot be decided, or not by whoever acts, whomever it is about."""
        _known(self.what)
        if self.what in CLINICAL:
            desk.require(Right.DECIDE)
        required(self.why, "A decision needs its reason.", hint="Say why.")
        if (self.what == MOVE) != (self.dates is not None):
            raise InputError("A move needs its three days, and nothing else takes them.")


@needs(Right.LOOK)
def may_decide(desk: Desk, decision: str) -> None:
    """Refuse at once, before anybody is shown or anything is typed, who may not decide this.

    Raises:
        Refused: whoever acts may not, with who may.
        InputError: no such decision.
    """
    _known(decision)
    desk.require(Right.DECIDE if decision in CLINICAL else Right.END)


@needs(Right.LOOK)
def preview(desk: Desk, follow_up_ids: Sequence[int], decision: str) -> tuple[Meant, ...]:
    """Return whom a decision would be about, and whether it is allowed for each."""
    _known(decision)
    with desk.store.read() as session:
        several = _about_several(session, follow_up_ids)
        return tuple(
            _among(desk, session, _meant(desk, session, number, decision), several)
            for number in follow_up_ids
        )


@needs(Right.END)
def decide(
    desk: Desk,
    follow_up_ids: Sequence[int],
    decided: Decided,
    versions: Mapping[int, int] | None = None,
) -> list[Next]:
    """Decide about some follow-ups, all of them or none.

    Args:
        desk: somebody who may decide, on which day.
        follow_up_ids: the follow-ups, as they were shown.
        decided: what, and why.
        versions: of the follow-ups, as they were looked at.

    Raises:
        Refused: they may not decide, or it is not allowed yet, or the prompt was not considered.
        Conflict: one was changed or closed meanwhile.
        InputError: no reason, no such decision, or a window missing.
    """
    decided.check(desk)
    found, desk = [], desk.as_one()
    with desk.store.write() as session:
        several = _about_several(session, follow_up_ids)
        for number in dict.fromkeys(follow_up_ids):
            row = open_row(session, tables.FollowUp, number, (versions or {}).get(number))
            meant = _meant(desk, session, number, decided.what)
            meant = _among(desk, session, meant, several, decided.dates)
            _refuse(meant, decided.considered)
            found.append(_decide_one(Act(desk, session, row.person_id), row, meant, decided))
    return found


def _about_several(session: Session, follow_up_ids: Sequence[int]) -> bool:
    """Return whether follow-ups are of more than one person."""
    f = tables.FollowUp
    people = session.scalars(select(f.person_id).where(f.id.in_(follow_up_ids)).distinct())
    return len(people.all()) > 1


def _among(
    desk: Desk, session: Session, meant: Meant, several: bool, dates: Dates | None = None
) -> Meant:
    """Return whom a decision would be about, held to what a move of several people may do."""
    if not several or meant.decision != _WORDS[MOVE]:
        return meant
    dues = dues_of(session, meant.follow_up_id)
    because = why_not_among_others(session, dues, desk.today)
    if not because and dates is not None:
        because = beyond(dues, dates.latest)
    last = None if because else furthest(dues)
    return replace(meant, furthest=last, allowed=not because, because=because)


def _decide_one(act: Act, row: tables.FollowUp, meant: Meant, decided: Decided) -> Next:
    number, what, why, dates = row.id, decided.what, decided.why.strip(), decided.dates
    words = f"{meant.decision}."
    if what in (CARRY_ON, "keep_trying"):
        act.add("follow_up_event", follow_up_id=number, what=what, why=why)
        return act.finish(what, words, follow_up_id=number)
    if dates is not None:
        return _move(act, number, dates, f"{words} Latest {say_day(dates.latest)}.", why)
    for due in dues_of(act.session, number):
        close_due(act, due, meant.closes_as, why)
    words += _stop(act, number, meant.decision)
    if meant.letter:
        words += f" Letter {_hand_back(act, row, why)} to the GP waits for the post."
    return act.finish(what, words, follow_up_id=number, refold=True)


def _stop(act: Act, follow_up_id: int, why: str) -> str:
    """Call off what is booked for a follow-up that ends, and pull its letters."""
    words = ""
    for booking in open_bookings(act):
        if booking.follow_up_id == follow_up_id:
            others = _still_open(act.session, others_of(act.session, booking))
            if others:
                words = f" The appointment stays, for {'; '.join(said_of(act.session, others))}."
                continue
            ends = {"booking_id": booking.id, "what": "cancelled_by_practice", "why": why}
            act.add("booking_event", **ends)
            words = f" The appointment on {say_day(booking.starts_local.date())} is called off."
    pull_letters(act, why, follow_up_id)
    return words


def _still_open(session: Session, follow_up_ids: Sequence[int]) -> list[int]:
    f = tables.FollowUp
    return list(session.scalars(select(f.id).where(f.id.in_(follow_up_ids), f.is_open)))


def _move(act: Act, follow_up_id: int, dates: Dates, words: str, why: str) -> Next:
    """Move what a follow-up holds to other dates; an appointment that stands goes with it."""
    dues = dues_of(act.session, follow_up_id)
    window = {"earliest": dates.earliest, "target": dates.target, "latest": dates.latest}
    for due in dues:
        moves = {"action": "move", "reason": "clinician_decision", **window}
        act.add("decision", **_about(due), **moves, why=why)
    done = act.finish(MOVE, words, refold=True)
    goes_on = _holder(act.session, dues[0]) if dues else None
    stand = open_bookings(act)
    booked = [b for b in stand if b.follow_up_id == follow_up_id]
    joined = _joins(act.session, follow_up_id, [b.id for b in stand])
    if goes_on is None or goes_on == follow_up_id or not (booked or joined):
        return done
    again = Act(act.desk, act.session, act.person_id)
    for booking in booked:
        again.set("booking", booking.id, follow_up_id=goes_on)
    for number in joined:
        again.set("also_about", number, follow_up_id=goes_on)
    return again.finish(MOVE, words, follow_up_id=goes_on)


def _joins(session: Session, follow_up_id: int, booking_ids: Sequence[int]) -> list[int]:
    """Return the lines that say which appointments are about a follow-up as well."""
    a = tables.AlsoAbout
    mine = a.follow_up_id == follow_up_id, a.booking_id.in_(booking_ids)
    return list(session.scalars(select(a.id).where(*mine, stands(tables.AlsoAbout))))


def _holder(session: Session, due: tables.Due) -> int | None:
    """Return the open follow-up that now holds what a due was about."""
    d = tables.Due
    same = d.ear == due.ear, d.track == due.track, d.kind == due.kind
    wanted = (
        select(tables.FollowUpDue.follow_up_id)
        .join_from(tables.FollowUpDue, tables.Due, tables.FollowUpDue.due_id == d.id)
        .where(d.person_id == due.person_id, d.is_open, *same, tables.FollowUpDue.left_at.is_(None))
        .order_by(d.id.desc())
    )
    return session.scalar(wanted)


def dues_of(session: Session, follow_up_id: int) -> list[tables.Due]:
    """Return the open dues that a follow-up holds."""
    wanted = (
        select(whole(tables.Due))
        .join_from(tables.FollowUpDue, tables.Due, tables.FollowUpDue.due_id == tables.Due.id)
        .where(
            tables.FollowUpDue.follow_up_id == follow_up_id, tables.FollowUpDue.left_at.is_(None)
        )
        .where(tables.Due.is_open, stands(tables.Due))
        .order_by(tables.Due.id)
    )
    return list(session.scalars(wanted))


def close_due(act: Act, due: tables.Due, reason: str, why: str) -> None:
    """Decide that one due is closed, for the fold to take in."""
    act.add("decision", **_about(due), action="close", reason=reason, why=why)


def _about(due: tables.Due) -> dict[str, Any]:
    return {
        "person_id": due.person_id,
        "ear": due.ear,
        "track": due.track,
        "kind": due.kind,
        "asked_on": due.asked_on,
    }


def _known(decision: str) -> None:
    if decision not in DECISIONS:
        hint = f"It may be: {', '.join(DECISIONS)}."
        raise InputError(f"{decision!r} is no decision.", hint=hint)


def _meant(desk: Desk, session: Session, follow_up_id: int, decision: str) -> Meant:
    row = open_row(session, tables.FollowUp, follow_up_id)
    person = session.scalars(
        select(whole(tables.Person)).where(tables.Person.id == row.person_id)
    ).one()
    facts = facts_now(session, follow_up_id)
    choice = _choice(desk, facts, decision)
    dues = dues_of(session, follow_up_id)
    because = choice.because if choice else ""
    if choice and choice.letter and not because:
        because = _no_address(desk, session, row.person_id)
    prompt = choice.prompt if choice else ""
    if prompt:
        prompt = desk.config.children.safeguarding_prompt
    return Meant(
        follow_up_id=follow_up_id,
        version=row.version,
        ref=person.ref,
        name=f"{person.given_names} {person.family_name}".strip(),
        born=person.born,
        latest=row.latest,
        urgency=row.urgency,
        what=tuple(f"{d.ear} {d.track.replace('_', ' ')}" for d in dues),
        decision=choice.words if choice else _WORDS[decision],
        closes_as=(choice.closes_as or "") if choice else "",
        letter=choice.letter if choice else "",
        allowed=not because and (choice is None or choice.allowed),
        because=because,
        prompt=prompt,
    )


def _choice(desk: Desk, facts: Facts, decision: str) -> Choice | None:
    """Return what the loop says of a decision; carrying on and moving are always allowed."""
    if decision not in CHOICE:
        return None
    offered = choices(facts, desk.today, desk.protocol.contact)
    found = next(c for c in offered if c.id == CHOICE[decision])
    if decision != "died" or facts.died_on is not None:
        return found
    because = "Record the death of the person first: it stops everything at once."
    return Choice(id="died", words=found.words, closes_as="died", allowed=False, because=because)


def _no_address(desk: Desk, session: Session, person_id: int) -> str:
    """Say that the letter that closes the loop could not be posted."""
    if len(colleague_letters.address_of(desk, session, person_id, "gp")) > 1:
        return ""
    return "The GP's address is not known: add it to [addresses] of the configuration."


def _refuse(meant: Meant, considered: bool) -> None:
    if not meant.allowed:
        raise Refused(
            f"Follow-up {meant.follow_up_id} cannot be {_done_to(meant)} yet.", hint=meant.because
        )
    if meant.prompt and not considered:
        raise Refused(
            f"Follow-up {meant.follow_up_id} is about somebody whom others bring.",
            hint=f"{meant.prompt} Then say that it was considered.",
        )


def _done_to(meant: Meant) -> str:
    return "moved so" if meant.decision == _WORDS[MOVE] else "closed so"


def _hand_back(act: Act, row: tables.FollowUp, why: str) -> int:
    """Write the letter to the GP that goes with handing back."""
    reasons = [f"{due.ear} ear: {due.says}" for due in dues_of(act.session, row.id)]
    tried = colleague_letters.tried_lines(act.session, row.id)
    letter = colleague_letters.hand_back_letter(
        act.desk, act.session, row.person_id, [*reasons, why], tried
    )
    purpose = colleague_letters.Purpose(
        "hand_back_to_gp", "hand_back", follow_up_id=row.id, round=row.round
    )
    return colleague_letters.write(act, letter, purpose)
