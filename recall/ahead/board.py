"""The slots with what is booked in them, and which of them each piece of work may take."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date

from recall.ahead.proposals import Placed, Proposal, fine_of
from recall.ahead.work import NEVER_LATER, Booked, Piece, Slot, taken_by


class Board:
    """The slots by number, with what is booked in each."""

    def __init__(self, within: Sequence[Slot], booked: Iterable[Booked]) -> None:
        self.slots = within
        self.given = [slot.minutes for slot in within]
        self._by_day: dict[date, list[int]] = defaultdict(list)
        for n, slot in enumerate(within):
            self._by_day[slot.on].append(n)
        self.days = sorted(self._by_day)
        self.taken = [0] * len(within)
        self.beside: dict[date, int] = defaultdict(int)
        """Minutes of days that are in nobody's slot."""
        for one in booked:
            self._take(one)

    def _take(self, one: Booked) -> None:
        """Put an appointment where its practitioner is, or where there is most room."""
        here = self._by_day.get(one.on, [])
        theirs = taken_by(self.slots, here, one)
        if not theirs:
            self.beside[one.on] += one.minutes
            return
        least = min(theirs, key=lambda n: self.adds(self.taken[n], one.minutes, n))
        self.taken[least] += one.minutes

    def adds(self, load: int, minutes: int, n: int) -> int:
        """Return what so many minutes more cost in a slot."""
        given = self.given[n]
        return fine_of(load + minutes, given) - fine_of(load, given)

    def open_to(self, piece: Piece) -> list[int]:
        """Return the slots in a piece's window that fit it."""
        return [
            n
            for day in self.days
            if piece.earliest <= day <= piece.latest
            for n in self._by_day[day]
            if self.slots[n].fits(piece)
        ]

    def why_none(self, piece: Piece) -> str:
        """Say why a piece has no slot."""
        if not self.days or piece.latest < self.days[0]:
            return "no day is left before its latest day"
        if piece.earliest > self.days[-1]:
            return "its window opens later"
        here = [day for day in self.days if piece.earliest <= day <= piece.latest]
        if not here:
            return "no day of its window is open with anybody on the rota"
        return "nobody on the rota of those days does what is to be done, at that site"

    def best_day(self, piece: Piece, *, take: bool = False) -> date | None:
        """Return the day on which a piece costs least beside what is booked; None where none is.

        With `take` it is in that slot from then on, so that the next one is placed beside it.
        """
        slots = self.open_to(piece)
        if not slots:
            return None
        offered = min(slots, key=lambda n: _from_target(piece, self.slots[n].on))
        can = self.no_later(piece, slots, offered)
        best = min(can, key=lambda n: self.adds(self.taken[n], piece.minutes, n))
        self.taken[best] += piece.minutes if take else 0
        return self.slots[best].on

    def as_offered(self, able: Sequence[tuple[Piece, list[int]]]) -> list[int]:
        """Return the slots without levelling: the day nearest to the target, whoever asked."""
        load, found = list(self.taken), []
        for piece, slots in able:
            day = min((self.slots[n].on for n in slots), key=lambda d: _from_target(piece, d))
            here = [n for n in slots if self.slots[n].on == day]
            theirs = [n for n in here if self.slots[n].who == piece.practitioner] or here
            best = min(theirs, key=lambda n: load[n] - self.given[n])
            load[best] += piece.minutes
            found.append(best)
        return found

    def no_later(self, piece: Piece, slots: list[int], offered: int) -> list[int]:
        """Return the slots that levelling may take, the nearest to the target first."""
        if piece.urgency in NEVER_LATER and not piece.overdue:
            slots = [n for n in slots if self.slots[n].on <= self.slots[offered].on]
        return sorted(slots, key=lambda n: _from_target(piece, self.slots[n].on))

    def longest_first(
        self, able: Sequence[tuple[Piece, list[int]]], can: Sequence[Sequence[int]]
    ) -> list[int]:
        """Return each piece where it costs least just then: the longest, then the least free."""
        load, found = list(self.taken), [0] * len(able)
        order = sorted(range(len(able)), key=lambda i: (-able[i][0].minutes, len(can[i])))
        for i in order:
            minutes = able[i][0].minutes
            found[i] = min(can[i], key=lambda n: self.adds(load[n], minutes, n))
            load[found[i]] += minutes
        return found

    def proposal(self, able: Sequence[tuple[Piece, object]], at: Sequence[int]) -> Proposal:
        """Return what an assignment makes of the days."""
        load, days = list(self.taken), dict(self.beside)
        for (piece, _), n in zip(able, at, strict=True):
            load[n] += piece.minutes
        for n, slot in enumerate(self.slots):
            days[slot.on] = days.get(slot.on, 0) + load[n]
        placed = tuple(
            Placed(piece, self.slots[n].on, self.slots[n].who)
            for (piece, _), n in zip(able, at, strict=True)
        )
        over = sum(max(0, minutes - self.given[n]) for n, minutes in enumerate(load))
        return Proposal(placed, days, sum(minutes * minutes for minutes in load), over)


def _from_target(piece: Piece, day: date) -> tuple[int, date]:
    """Order days by how far they are from the target; of two as far the earlier is first."""
    return abs((day - piece.target).days), day
