"""Rates of people: how many came back in time, and how soon, with the ends that compete.

People are the unit, not ears: two ears of one person come and stay away together. A person is in
time for some asks together only where each of them was. Declined, died, moved away and every
other end stay in the whole: they did not come.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

import msgspec

from recall.accounts.cohort import Account, Day, Entry
from recall.accounts.recheck import Recheck, recheck_state
from recall.accounts.states import RECHECK_STATES
from recall.cycle.curve import COME, OTHERWISE, Arrival, arrivals, half_came, wilson

NEVER_DUE = frozenset({"entered_in_error", "replaced"})
"""What never had to be met: another ask took its place in time, or it was none."""
MET = frozenset(state.id for state in RECHECK_STATES if state.part == "met")


class Share(msgspec.Struct, frozen=True):
    """How many people of how many, with the 95 per cent interval (Wilson)."""

    hits: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float | None:
        """Return the share, where anybody is counted."""
        return self.hits / self.of if self.of else None


def share_of(hits: int, of: int) -> Share:
    """Return a share with its interval."""
    return Share(hits, of, *wilson(hits, of))


def in_time(account: Account) -> Share:
    """Return how many people of an account of re-checks came in time for all that was due.

    Counted is what was met, or ended, or whose latest day has come; not what never had to be met.
    """
    people: dict[int, bool] = defaultdict(lambda: True)
    for entry in account.entries:
        if _counts(entry, account.day):
            people[entry.person] &= entry.state in MET and not entry.missed
    return share_of(sum(people.values()), len(people))


def _counts(entry: Entry, day: Day) -> bool:
    if entry.state in NEVER_DUE:
        return False
    over = entry.due_on <= day.on if day.at_end else entry.due_on < day.on
    return over or entry.state in _OVER


_OVER = frozenset(state.id for state in RECHECK_STATES if state.part != "open")


class Returned(msgspec.Struct, frozen=True):
    """How people came back for one kind of re-check.

    Each counts once, with what was asked for first in the time looked at, both ears together.
    """

    kind: str
    people: int
    """Whose window has opened."""
    in_time: Share
    """Of those whose latest day has come, or whose time has ended."""
    otherwise: int
    """People whose time ended otherwise: declined, died, moved away and the like."""
    half_days: float | None
    """Days after the window opens by which half of all had come; None where they have not."""
    curve: tuple[Arrival, ...]
    """Those who had come, by days since the window opened."""


def returned(asks: Iterable[Recheck], since: date, on: date) -> tuple[Returned, ...]:
    """Return how people came back, by kind, whose windows opened in some days; most first.

    Args:
        asks: all that was asked for from the first of these days on, with what took its place.
        since: the first day of a window.
        on: the last, on which it is looked at.
    """
    known = [ask for ask in asks if ask.asked_on <= on]
    chain = _Chain(known, on)
    turns: dict[str, dict[int, list[Recheck]]] = defaultdict(dict)
    for ask in sorted(known, key=lambda a: (a.asked_on, a.number)):
        opened = since <= ask.earliest <= on and ask.kind == "recheck"
        if not opened or recheck_state(ask, on) == "entered_in_error" or chain.is_idle(ask):
            continue
        first = turns[ask.category].setdefault(ask.person, [ask])
        if first[0] is not ask and first[0].asked_on == ask.asked_on:
            first.append(ask)
    told = (_of_kind(kind, list(people.values()), chain) for kind, people in turns.items())
    return tuple(sorted(told, key=lambda r: (-r.people, r.kind)))


def _of_kind(kind: str, turns: Sequence[Sequence[Recheck]], chain: _Chain) -> Returned:
    times, hits, of = [], 0, 0
    for asks in turns:
        opens = min(ask.earliest for ask in asks)
        ends = [chain.end(ask) for ask in asks]
        how = 0 if any(e.how == 0 for e in ends) else max(e.how for e in ends)
        last = chain.on if how == 0 else max(e.on for e in ends)
        times.append((max(0.0, float((last - opens).days)), how))
        if how or min(ask.latest for ask in asks) < chain.on:
            of += 1
            pairs = zip(asks, ends, strict=True)
            hits += all(e.how == COME and e.on <= ask.latest for ask, e in pairs)
    curve = arrivals(times)
    gone = sum(how == OTHERWISE for _time, how in times)
    return Returned(kind, len(turns), share_of(hits, of), gone, half_came(curve), curve)


class _End(msgspec.Struct, frozen=True):
    """When and how something was over: come, otherwise, or not yet."""

    on: date
    how: int


class _Chain:
    """Asks with what took their place, so that moving one does not end the wait for it."""

    def __init__(self, asks: Iterable[Recheck], on: date) -> None:
        self.on = on
        self._next = {(ask.thing, ask.asked_on): ask for ask in asks}

    def after(self, ask: Recheck) -> Recheck | None:
        """Return what took an ask's place on the day on which it ended."""
        if ask.ended_on is None or ask.reason != "superseded":
            return None
        found = self._next.get((ask.thing, ask.ended_on))
        return None if found is ask else found

    def last(self, ask: Recheck) -> Recheck:
        """Return the ask that stands for one in the end; each took its place later."""
        while ask.over_by(self.on) and (found := self.after(ask)) is not None:
            if found.asked_on <= ask.asked_on:
                break
            ask = found
        return ask

    def is_idle(self, ask: Recheck) -> bool:
        """Return whether it was superseded in time and nothing about the same thing came after."""
        end = self.last(ask)
        gone = end.over_by(self.on) and end.reason == "superseded"
        return gone and not ask.missed_by(self.on)

    def end(self, ask: Recheck) -> _End:
        """Return when and how the wait for something ended."""
        end = self.last(ask)
        if end.ended_on is None or not end.over_by(self.on):
            return _End(self.on, 0)
        state = recheck_state(end, self.on)
        return _End(end.ended_on, COME if state in MET else OTHERWISE)
