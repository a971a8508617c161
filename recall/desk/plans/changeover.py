"""The changeover: what was asked for before the practice went live, in order of danger.

Order: urgency, tracks under which disease may hide, children first, the longest ago first.
Common practice, no published source.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.care.case import URGENCIES
from recall.care.dates import is_child
from recall.care.services import SERVICES
from recall.desk.core.done import actions
from recall.desk.core.guarding import needs
from recall.desk.core.narrowing import only_shown
from recall.desk.core.person_header import person_headers
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.referrals.ends import together
from recall.desk.worklists.day_list import day_rows
from recall.desk.worklists.status_on import FollowUpStatus, statuses
from recall.errors import NotFound
from recall.loop.referral import LOOK_THROUGH, ReferralLoop, state
from recall.protocol.contact_steps import LOOK_THROUGH as STEP_OF_HISTORY
from recall.records import tables
from recall.records.facts.candidates import to_chase, waits
from recall.records.facts.cases import pages
from recall.records.facts.referral_loops import referral_loops
from recall.records.tables.statements import many, whole

KIND = "looked_through"
"""The kind of action by which something is answered, in the history."""
SUSPECT = frozenset({"retraction", "cavity", "drum", "perforation"})
"""Tracks under which disease that destroys bone may hide."""


@dataclass(frozen=True)
class OldLine:
    """One thing that history asked for: a look here, or a referral."""

    ask: str
    """F and the follow-up's number, or R and the referral's."""
    kind: str
    """What it is alike with: what is done, and how urgent it was."""
    urgency: str
    reference: str
    name: str
    born: date
    postcode: str
    child: bool
    what: str
    asked_on: date
    latest: date
    """By when it was to be done, or they were to be seen there."""
    known: str
    """What became known of a referral since; empty where nothing did."""
    clinical: str
    unconfirmed: int
    """The person's visits that wait to be confirmed."""
    contact_stopped: str | None
    warnings: tuple[str, ...]
    person_id: int
    version: int

    @property
    def number(self) -> int:
        """Return what tells it apart: below zero for a referral."""
        return -int(self.ask[1:]) if self.ask[0] == "R" else int(self.ask[1:])


@dataclass(frozen=True)
class OldKind:
    """Things of history that are alike."""

    kind: str
    count: int
    children: int
    first_asked: date
    last_asked: date

    def children_in_words(self) -> str:
        """Return how many of them are about children.

        >>> OldKind("wax:low", 3, 1, date.min, date.max).children_in_words()
        '1 child'
        """
        return f"{self.children:,} {'child' if self.children == 1 else 'children'}"


@dataclass(frozen=True)
class Portion:
    """What is put before a clinician now."""

    lines: tuple[OldLine, ...]
    left: int
    """All that is not looked through yet, these included."""
    answered_today: int
    a_day: int


@dataclass(frozen=True)
class Old:
    """One thing of history with what its place in the order needs."""

    ask: str
    kind: str
    urgency: str
    person_id: int
    born: date
    suspect: bool
    asked_on: date
    latest: date

    def pressing(self, on: date) -> tuple[int, bool, bool, date, int, str]:
        """Return what puts the most dangerous first."""
        rank = URGENCIES.index(self.urgency)
        child = is_child(self.born, on)
        return rank, not self.suspect, not child, self.latest, self.person_id, self.ask


@needs(Right.LOOK)
def portion(desk: Desk, more: int = 0) -> Portion:
    """Return today's portion of history, in order of danger.

    Args:
        desk: whose day it is.
        more: so many portions beyond today's.
    """
    a_day = desk.config.changeover.a_day
    with desk.store.read() as session:
        only_shown(desk, session)
        everything = old_asks(desk, session)
        done = sum(each.kind == KIND for each in actions(session, desk.today))
        room = max(0, a_day * (1 + more) - done)
        lines = _lines(desk, session, everything[:room])
    return Portion(lines, len(everything), done, a_day)


@needs(Right.LOOK)
def kinds(desk: Desk) -> tuple[OldKind, ...]:
    """Return the kinds of things in history, the most dangerous first."""
    with desk.store.read() as session:
        only_shown(desk, session)
        everything = old_asks(desk, session)
    alike: dict[str, list[Old]] = defaultdict(list)
    for each in everything:
        alike[each.kind].append(each)
    return tuple(
        OldKind(
            kind,
            len(some),
            sum(is_child(each.born, desk.today) for each in some),
            min(each.asked_on for each in some),
            max(each.asked_on for each in some),
        )
        for kind, some in alike.items()
    )


@needs(Right.LOOK)
def of_kind(desk: Desk, kind: str) -> tuple[OldLine, ...]:
    """Return everything of one kind, in order of danger.

    Raises:
        NotFound: nothing of that kind waits.
    """
    with desk.store.read() as session:
        only_shown(desk, session)
        everything = old_asks(desk, session)
        mine = [each for each in everything if each.kind == kind]
        if not mine:
            there = ", ".join(Counter(each.kind for each in everything)) or "none"
            raise NotFound(f"Nothing of the kind {kind!r} waits.", hint=f"There are: {there}.")
        return _lines(desk, session, mine)


@needs(Right.LOOK)
def of_asks(desk: Desk, asks: Collection[str]) -> tuple[OldLine, ...]:
    """Return some things of history, as they are named, in order of danger."""
    with desk.store.read() as session:
        mine = [each for each in old_asks(desk, session) if each.ask in set(asks)]
        return _lines(desk, session, mine)


def old_asks(desk: Desk, session: Session) -> list[Old]:
    """Return everything that waits to be looked through, in order of danger."""
    found = [*_follow_ups(desk, session), *_referrals(desk, session)]
    return sorted(found, key=lambda each: each.pressing(desk.today))


def _follow_ups(desk: Desk, session: Session) -> Iterator[Old]:
    f, p = tables.FollowUp, tables.Person
    ids = [row.number for row in day_rows(desk, session, "history")]
    for some in pages(ids):
        wanted = (
            select(f.id, f.urgency, f.tracks, f.on, f.latest, p.id, p.born)
            .join_from(f, p, f.person_id == p.id)
            .where(f.id.in_(some))
        )
        for number, urgency, tracks, on, latest, person_id, born in session.execute(wanted):
            words = "+".join(tracks).replace("_", "-")
            suspect = not SUSPECT.isdisjoint(tracks)
            ask = f"F{number}", f"{words}:{urgency}", urgency
            yield Old(*ask, person_id, born, suspect, on, latest)


def _referrals(desk: Desk, session: Session) -> Iterator[Old]:
    r, p = tables.Referral, tables.Person
    loops = old_referrals(desk, session)
    whose: dict[int, tuple[int, date]] = {}
    for some in pages(sorted(loops)):
        about = select(r.id, p.id, p.born).join_from(r, p, r.person_id == p.id)
        for row in session.execute(about.where(r.id.in_(some))):
            whose[row[0]] = row[1], row[2]
    seen: set[tuple[int, str, date]] = set()
    for number, loop in loops.items():
        asked, (person_id, born) = loop.referral, whose[number]
        one = person_id, asked.to, asked.asked_on
        if one in seen:
            continue  # a row for the other ear: one referral, one answer
        seen.add(one)
        suspect = not SUSPECT.isdisjoint(reason.track for reason in asked.reasons)
        kind = f"refer-{asked.to.replace('_', '-')}:{asked.urgency}"
        days = asked.asked_on, asked.stages.seen_by
        yield Old(f"R{number}", kind, asked.urgency, person_id, born, suspect, *days)


def old_referrals(desk: Desk, session: Session) -> dict[int, ReferralLoop]:
    """Return the referrals that wait to be looked through, by number."""
    if desk.protocol.contact.live_from() is None:
        return {}
    loops = referral_loops(session, to_chase(session, None))
    return {number: loop for number, loop in sorted(loops.items()) if _is_old(desk, loop)}


def _is_old(desk: Desk, loop: ReferralLoop) -> bool:
    return state(loop, desk.today, desk.protocol.contact, desk.calendar).stage == LOOK_THROUGH


def still_old(desk: Desk, session: Session, follow_up_ids: Sequence[int]) -> list[FollowUpStatus]:
    """Return those of some follow-ups that still wait to be looked through, from facts."""
    found = statuses(desk, session, follow_up_ids)
    return [s for s in found if s.status.step and s.status.step.kind == STEP_OF_HISTORY]


def _lines(desk: Desk, session: Session, some: Sequence[Old]) -> tuple[OldLine, ...]:
    """Return what is shown of some of it; what is not of history any more is left out."""
    told = _told(desk, session, some)
    who = [each.person_id for each in some]
    people = person_headers(session, who, desk.today, desk.protocol.contact)
    waiting = _unconfirmed(session, who)
    return tuple(
        OldLine(
            ask=each.ask,
            kind=each.kind,
            urgency=each.urgency,
            reference=people[each.person_id].reference,
            name=people[each.person_id].name,
            born=each.born,
            postcode=people[each.person_id].postcode,
            child=is_child(each.born, desk.today),
            what=told[each.ask].what,
            asked_on=each.asked_on,
            latest=each.latest,
            known=told[each.ask].known,
            clinical=told[each.ask].clinical,
            unconfirmed=waiting.get(each.person_id, 0),
            contact_stopped=people[each.person_id].contact_stopped,
            warnings=people[each.person_id].warnings,
            person_id=each.person_id,
            version=told[each.ask].version,
        )
        for each in some
        if each.ask in told
    )


def _told(desk: Desk, session: Session, some: Sequence[Old]) -> dict[str, _Told]:
    """Return what is told of some of it, by what names it."""
    numbers = {kind: [int(o.ask[1:]) for o in some if o.ask[0] == kind] for kind in "FR"}
    found = {f"F{s.follow_up_id}": _of_follow_up(s) for s in still_old(desk, session, numbers["F"])}
    r = tables.Referral
    for part in pages(numbers["R"]):
        rows = session.scalars(select(whole(r)).where(r.id.in_(part))).all()
        both = {row.id: together(session, row) for row in rows}
        loops = referral_loops(session, [n for numbers in both.values() for n in numbers])
        for row in rows:
            found[f"R{row.id}"] = _of_referral([loops[n] for n in both[row.id]], row.version)
    return found


def _unconfirmed(session: Session, person_ids: Sequence[int]) -> dict[int, int]:
    v = tables.Visit
    found: dict[int, int] = {}
    for some in pages(sorted(set(person_ids))):
        wanted = select(v.person_id, func.count()).where(*waits(v), v.person_id.in_(some))
        found |= {row[0]: row[1] for row in many(session, wanted.group_by(v.person_id))}
    return found


@dataclass(frozen=True)
class _Told:
    """What it is, what became known of it, why it was asked for, and its version."""

    what: str
    known: str
    clinical: str
    version: int


def _of_follow_up(found: FollowUpStatus) -> _Told:
    ears: dict[str, list[str]] = {}
    for due in found.dues:
        ears.setdefault(due.track.replace("_", " "), []).append(due.ear)
    what = "; ".join(f"{track}, {' and '.join(sides)} ear" for track, sides in ears.items())
    says = (f"{d.ear.capitalize()} ear: {d.says} ({d.rule}; {d.source})" for d in found.dues)
    return _Told(what, "", " ".join(says), found.version)


def _of_referral(loops: Sequence[ReferralLoop], version: int) -> _Told:
    asked = loops[0].referral
    to = SERVICES[asked.to].short
    ears = dict.fromkeys(ear for loop in loops for ear in loop.referral.ears)
    events = dict.fromkeys(f"{e.what.replace('_', ' ')} {e.on}" for x in loops for e in x.events)
    reasons = (reason for loop in loops for reason in loop.referral.reasons)
    says = (f"{r.ear.capitalize()} ear: {r.says} ({r.rule})" for r in reasons)
    what, known = f"refer to {to}, {' and '.join(ears)} ear", ", ".join(events)
    return _Told(what, known, " ".join(says), version)
