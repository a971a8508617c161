"""The search that makes a proposal better: moves, chains, exchanges, and shaking."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from random import Random

from recall.ahead.board import Board

LOOKS = 4_000_000
"""Places looked at, at most; a count and no clock, so that the same work gives the same days."""
SHAKES = 400
"""How often some slots are emptied and filled again; drawn from a fixed seed."""
_NEVER = 1 << 60


class Search:
    """An assignment that is made better by moving one piece, or exchanging two."""

    def __init__(
        self, board: Board, minutes: Sequence[int], can: Sequence[Sequence[int]], at: Sequence[int]
    ) -> None:
        self.board, self.minutes, self.can, self.at = board, minutes, can, list(at)
        self.looks = LOOKS
        self._dice = Random(1)
        self.can_set = [frozenset(each) for each in can]
        self.load = list(board.taken)
        self.held: dict[int, set[int]] = defaultdict(set)
        for i, n in enumerate(self.at):
            self.load[n] += minutes[i]
            self.held[n].add(i)

    def settled(self) -> list[int]:
        """Return the assignment after which nothing helps any more, or looks run out."""
        self._settle()
        for _ in range(SHAKES):
            if self.looks <= 0 or not self._shake():
                break
        self._settle()
        return self.at

    def _settle(self) -> None:
        """Move, chain and exchange until none of the three helps."""
        while self.looks > 0:
            moved = [self._move(i) for i in range(len(self.at))]
            if not any(moved) and not self._chains() and not self._exchanges():
                return

    def _shake(self) -> bool:
        """Take everything out of a few slots and put it back in another order, if no worse.

        What costs the same is taken too: the next shake may go on from there.
        """
        full = [n for n in range(len(self.load)) if self.held[n]]
        if not full:
            return False
        some = self._dice.sample(full, min(len(full), self._dice.randint(1, 3)))
        out = sorted(i for n in some for i in self.held[n])
        was = [self.at[i] for i in out]
        change = -sum(self._lift(i) for i in out)
        self._dice.shuffle(order := list(out))
        if self._dice.random() < 0.5:
            order.sort(key=lambda i: (len(self.can[i]), -self.minutes[i]))
        change += sum(self._lay(i) for i in order)
        if change > 0:
            for i, n in zip(out, was, strict=True):
                self._put(i, n)
        return True

    def _lift(self, i: int) -> int:
        """Take a piece out of its slot; return what it cost there."""
        n = self.at[i]
        self.load[n] -= self.minutes[i]
        return self.board.adds(self.load[n], self.minutes[i], n)

    def _lay(self, i: int) -> int:
        """Put a piece that was taken out where it costs least; return what it costs there."""
        adds, load, minutes = self.board.adds, self.load, self.minutes[i]
        self.looks -= len(self.can[i])
        best = min(self.can[i], key=lambda n: adds(load[n], minutes, n))
        cost = adds(load[best], minutes, best)
        self.held[self.at[i]].discard(i)
        self.held[best].add(i)
        self.at[i] = best
        self.load[best] += minutes
        return cost

    def _put(self, i: int, n: int) -> None:
        was = self.at[i]
        self.load[was] -= self.minutes[i]
        self.load[n] += self.minutes[i]
        self.held[was].discard(i)
        self.held[n].add(i)
        self.at[i] = n

    def _move(self, i: int) -> bool:
        """Move a piece to where it costs least, if that is less than where it is."""
        adds, load, minutes, was = self.board.adds, self.load, self.minutes[i], self.at[i]
        least, best = adds(load[was] - minutes, minutes, was), was
        self.looks -= len(self.can[i])
        for n in self.can[i]:
            if n != was and (cost := adds(load[n], minutes, n)) < least:
                least, best = cost, n
        if best == was:
            return False
        self._put(i, best)
        return True

    def _fullest(self) -> list[int]:
        return sorted(range(len(self.load)), key=lambda n: -self.load[n])

    def _chains(self) -> bool:
        """Take one length from full slots to emptier ones, through others where it must be."""
        helped = False
        for n in self._fullest():
            for minutes in sorted({self.minutes[i] for i in self.held[n]}, reverse=True):
                if self.looks <= 0:
                    return helped
                helped |= self._chain(n, minutes)
        return helped

    def _chain(self, start: int, minutes: int) -> bool:
        """Move pieces of one length, each into the next one's slot, where the ends gain by it."""
        came = self._reached(start, minutes)
        adds, load = self.board.adds, self.load
        end = min(came, key=lambda n: adds(load[n], minutes, n) if n != start else _NEVER)
        if end == start or adds(load[end], minutes, end) >= adds(
            load[start] - minutes, minutes, start
        ):
            return False
        while step := came[end]:
            i, before = step
            self._put(i, end)
            end = before
        return True

    def _reached(self, start: int, minutes: int) -> dict[int, tuple[int, int] | None]:
        """Return the slots that a length can get to, each with the piece and slot before it."""
        came: dict[int, tuple[int, int] | None] = {start: None}
        queue = [start]
        for slot in queue:
            for i in sorted(self.held[slot]):
                if self.minutes[i] != minutes:
                    continue
                self.looks -= len(self.can[i])
                for n in self.can[i]:
                    if n not in came:
                        came[n] = i, slot
                        queue.append(n)
        return came

    def _exchanges(self) -> bool:
        """Exchange pieces of different length between the fullest slots and others."""
        helped = False
        for n in self._fullest():
            for i in sorted(self.held[n]):
                helped |= self.looks > 0 and self._exchange(i)
        return helped

    def _exchange(self, i: int) -> bool:
        """Exchange a piece with a shorter one elsewhere where that costs less."""
        was, mine = self.at[i], self.minutes[i]
        for n in self.can[i]:
            if n == was or self.load[n] >= self.load[was]:
                continue
            seen: set[int] = set()
            self.looks -= len(self.held[n])
            for j in sorted(self.held[n]):
                less = mine - self.minutes[j]
                if less <= 0 or less in seen or was not in self.can_set[j]:
                    continue
                seen.add(less)
                if self._gains(was, n, less) < 0:
                    self._put(i, n)
                    self._put(j, was)
                    return True
        return False

    def _gains(self, was: int, n: int, less: int) -> int:
        """Return what it costs to take so many minutes from one slot into another."""
        adds, load = self.board.adds, self.load
        return adds(load[n], less, n) - adds(load[was] - less, less, was)
