"""A changed protocol held against the register's own history: what it costs, what it delays.

Two sides of one decision: how many appointments and referrals a year it asks for, and for
each finding that was really made, how much later or earlier the plan would have wanted the look
that made it. Nothing is changed. What was never found cannot be counted: that is a limit.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from statistics import median
from typing import NamedTuple

from sqlalchemy import select

from recall.care.case import Case, Track
from recall.desk.core.guarding import needs
from recall.desk.core.replanning import PAGE, decided_by_people
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.protocol.comparing import in_hindsight
from recall.protocol.loading import Protocol
from recall.records import tables
from recall.records.facts.cases import cases_of, stands
from recall.schedule.hindsight import Discovery, History, history_under
from recall.schedule.plan import Decision

Progress = Callable[[int, int], None]
YEAR = 365.25


@dataclass(frozen=True)
class Rate:
    """How often something is asked for in a year of the register, now and then."""

    what: str
    now: float
    would_be: float

    @property
    def more(self) -> float:
        """Return how many a year more; less than nothing: fewer."""
        return self.would_be - self.now


@dataclass(frozen=True)
class Delay:
    """One finding that was made, and the look that would have made it under the other rules."""

    reference: str
    name: str
    ear: str
    track: str
    finding: str
    found_on: date
    wanted_on: date | None
    """When the rules of today wanted that look."""
    would_be: date | None
    """When the others would; None: not at all."""
    asked_by: str
    """The rule of today that wanted it."""
    instead: str
    """The rule that asks for it then, or the service that sees that ear; nothing: nobody."""
    seen_by: date | None
    """By when that service sees it."""

    @property
    def days(self) -> int | None:
        """Return how much later; None where one of the two asked for no look."""
        if self.wanted_on is None or self.would_be is None:
            return None
        return (self.would_be - self.wanted_on).days


@dataclass(frozen=True)
class TrackDelays:
    """What became of the findings of one track."""

    track: str
    found: int
    earlier: int
    later: int
    never: int
    """No look would be asked for any more."""
    anew: int
    """A look would be asked for where there is none now."""
    middle_days: float
    """The middle of those that move; 0 where none does."""
    longest_days: int


@dataclass(frozen=True)
class TakenOver:
    """Looks that one rule asks for today, and another one under the changed rules."""

    rule: str
    instead: str
    """The other rule, or the service that sees the ear where no look of ours is asked for."""
    findings: int
    soonest_days: int | None
    """How much later, at the least; less than nothing: earlier. None: no look of ours."""
    latest_days: int | None
    """How much later, at the most."""


@dataclass(frozen=True)
class WhatIf:
    """What a changed protocol would have made of the register's history."""

    people: int
    years: float
    rates: tuple[Rate, ...]
    tracks: tuple[TrackDelays, ...]
    delays: tuple[Delay, ...]
    """What would have been found later or not at all, the worst first."""
    taken_over: tuple[TakenOver, ...] = ()
    """Which rule, or which service, takes the place of which rule, the most findings first."""


class _Both(NamedTuple):
    """One person's history under the two."""

    person_id: int
    first: date
    now: History
    then: History


@needs(Right.LOOK)
def what_if(desk: Desk, new: Protocol, progress: Progress | None = None) -> WhatIf:
    """Return what the newest rules of another protocol would have made of every visit.

    The adopted protocol is taken by its newest rules, too, however old a visit is.
    """
    old, new = desk.protocol, new.used_like(desk.protocol)
    both = list(_histories(desk, in_hindsight(old), in_hindsight(new), progress))
    first = min((b.first for b in both), default=desk.today)
    years = max((desk.today - first).days / YEAR, 1 / YEAR)
    moved = [(b.person_id, was, then) for b in both for was, then in _pairs(b)]
    delays = _named(desk, [m for m in moved if _is_later(m[1], m[2])])
    pairs = [m[1:] for m in moved]
    taken = tuple(_taken_over(pairs))
    return WhatIf(len(both), years, _rates(both, years), _by_track(pairs), delays, taken)


def _histories(
    desk: Desk, old: Protocol, new: Protocol, progress: Progress | None
) -> Iterator[_Both]:
    person = tables.Person
    with desk.store.read() as session:
        ids = session.scalars(select(person.id).where(stands(person)).order_by(person.id)).all()
    for start in range(0, len(ids), PAGE):
        page = ids[start : start + PAGE]
        with desk.store.read() as session:
            cases, decided = cases_of(session, page), decided_by_people(session, page)
        for number, case in cases.items():
            days = [v.on for v in case.visits if v.on <= desk.today]
            if days:
                made = (_under(desk, case, p, decided.get(number, ())) for p in (old, new))
                yield _Both(number, min(days), *made)
        if progress is not None:
            progress(min(start + PAGE, len(ids)), len(ids))


def _under(desk: Desk, case: Case, protocol: Protocol, decisions: Sequence[Decision]) -> History:
    return history_under(
        case, protocol, desk.today, decisions=decisions, population=desk.populations
    )


def _rates(both: Sequence[_Both], years: float) -> tuple[Rate, ...]:
    counted: dict[str, Callable[[History], float]] = {
        "appointments": lambda h: h.appointments,
        "referrals": lambda h: h.referrals,
        "urgent or emergency referrals": lambda h: h.pressing,
    }
    return tuple(
        Rate(what, sum(of(b.now) for b in both) / years, sum(of(b.then) for b in both) / years)
        for what, of in counted.items()
    )


def _pairs(both: _Both) -> Iterator[tuple[Discovery, Discovery]]:
    """Yield each finding under the one and the other; both histories hold the same findings."""
    return zip(both.now.discoveries, both.then.discoveries, strict=True)


def _is_later(was: Discovery, then: Discovery) -> bool:
    if was.wanted_on is None:
        return False
    return then.wanted_on is None or then.wanted_on > was.wanted_on


def _by_track(moved: Sequence[tuple[Discovery, Discovery]]) -> tuple[TrackDelays, ...]:
    by: dict[Track, list[tuple[Discovery, Discovery]]] = defaultdict(list)
    for was, then in moved:
        by[was.found.track].append((was, then))
    return tuple(_delays_of(track, pairs) for track, pairs in sorted(by.items()))


def _taken_over(moved: Sequence[tuple[Discovery, Discovery]]) -> list[TakenOver]:
    """Return what other rules ask for in the place of those of today."""
    by: dict[tuple[str, str], list[int | None]] = defaultdict(list)
    for was, then in moved:
        instead = then.asked_by or then.sent_to
        if was.asked_by and instead and was.asked_by != instead:
            by[was.asked_by, instead].append(_days_later(was, then))
    found = []
    for (rule, instead), several in by.items():
        days = [d for d in several if d is not None]
        ends = (min(days), max(days)) if days else (None, None)
        found.append(TakenOver(rule, instead, len(several), *ends))
    return sorted(found, key=lambda t: (-t.findings, t.rule, t.instead))


def _days_later(was: Discovery, then: Discovery) -> int | None:
    if was.wanted_on is None or then.wanted_on is None:
        return None
    return (then.wanted_on - was.wanted_on).days


def _delays_of(track: Track, pairs: Sequence[tuple[Discovery, Discovery]]) -> TrackDelays:
    days = [d for was, then in pairs if (d := _days_later(was, then)) is not None]
    moves = [d for d in days if d]
    return TrackDelays(
        track,
        found=len(pairs),
        earlier=sum(d < 0 for d in days),
        later=sum(d > 0 for d in days),
        never=sum(w.wanted_on is not None and t.wanted_on is None for w, t in pairs),
        anew=sum(w.wanted_on is None and t.wanted_on is not None for w, t in pairs),
        middle_days=median(moves) if moves else 0,
        longest_days=max((d for d in moves if d > 0), default=0),
    )


def _named(desk: Desk, later: Sequence[tuple[int, Discovery, Discovery]]) -> tuple[Delay, ...]:
    """Return what would have been found later, by name, the worst first."""
    names = _names(desk, sorted({number for number, _, _ in later}))
    delays = [
        Delay(
            *names[number], was.ear, was.found.track, was.found.words,
            was.on, was.wanted_on, then.wanted_on,
            was.asked_by, then.asked_by or then.sent_to, then.seen_by,
        )
        for number, was, then in later
    ]  # fmt: skip
    return tuple(sorted(delays, key=_worst_first))


def _worst_first(delay: Delay) -> tuple[object, ...]:
    """Wax comes after whatever it may hide; what is not asked for comes before what is late."""
    late = -(delay.days or 0)
    return (delay.track == "wax", delay.days is not None, late, delay.reference, delay.ear)


def _names(desk: Desk, ids: Sequence[int]) -> dict[int, tuple[str, str]]:
    p = tables.Person
    found: dict[int, tuple[str, str]] = {}
    with desk.store.read() as session:
        for start in range(0, len(ids), PAGE):
            some = ids[start : start + PAGE]
            rows = session.execute(
                select(p.id, p.ref, p.given_names, p.family_name).where(p.id.in_(some))
            )
            for number, ref, given, family in rows:
                found[number] = ref, f"{given} {family}".strip()
    return found
