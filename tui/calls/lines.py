"""The lines of the call list as they are worked off: one a number, its people one after another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from recall.desk.worklists.call_lines import AtNumber

NAMED = 3
"""So many of the others under a number are named on the card."""


class Lines:
    """Who is under which number: the first of each line is the one who is shown."""

    def __init__(self, lines: Iterable[Sequence[AtNumber]] = ()) -> None:
        """Take the lines as the register gives them."""
        self._names = {one.follow_up: one.name for line in lines for one in line}
        self._values = {one.follow_up: one.value for line in lines for one in line}
        self._lines = [[one.follow_up for one in line] for line in lines]

    @property
    def heads(self) -> tuple[int, ...]:
        """Return the first of each line."""
        return tuple(line[0] for line in self._lines)

    @property
    def people(self) -> tuple[int, ...]:
        """Return everybody."""
        return tuple(number for line in self._lines for number in line)

    def others(self, head: int | None) -> tuple[int, ...]:
        """Return who else is under the number of the first of a line."""
        return next((tuple(line[1:]) for line in self._lines if line[0] == head), ())

    def on_number(self, head: int) -> tuple[int, ...]:
        """Return who else is rung on the same number first as the first of a line."""
        mine = self._values.get(head)
        return tuple(one for one in self.others(head) if self._values.get(one) == mine)

    def said(self, head: int | None) -> str:
        """Return in words who else is under the number; empty where nobody is."""
        others = self.others(head)
        named = [self._names.get(number, "") for number in others[:NAMED]]
        more = len(others) - len(named)
        return ", ".join(filter(None, (*named, f"and {more} more" if more else "")))

    def put_before(self, number: int, onward: Sequence[int]) -> None:
        """Have somebody, with the others under their number, before those who are next.

        >>> lines = Lines()
        >>> lines._lines = [[1], [2, 3], [4]]
        >>> lines.put_before(4, (9, 3)), lines.put_before(8, ()), lines.heads
        (None, None, (8, 1, 4, 2))
        """
        line = next((line for line in self._lines if number in line), [number])
        line.sort(key=lambda one: one != number)
        self._lines = [other for other in self._lines if other is not line]
        place = {one: at for at, other in enumerate(self._lines) for one in other}
        self._lines.insert(next((place[one] for one in onward if one in place), 0), line)

    def lead(self, number: int | None) -> None:
        """Show somebody as the first of their line: who is in hand stays in hand."""
        for line in self._lines:
            if number in line:
                line.sort(key=lambda one: one != number)

    def done(self, number: int, *, out: bool, later: bool = False) -> int | None:
        """Go on from somebody; return who is next under the same number, if anybody is.

        `out` is no longer to be reached now; `later` today is a line at the end.
        """
        at = next((n for n, line in enumerate(self._lines) if number in line), None)
        if at is None:
            return None
        rest = [one for one in self._lines[at] if one != number]
        self._lines[at] = rest if out else [*rest, number]
        if later:
            self._lines.append([number])
        self._lines = [line for line in self._lines if line]
        return rest[0] if rest else None
