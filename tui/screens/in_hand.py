"""A list of people of whom one is in hand: claimed, so that no other desk rings them meanwhile.

Whoever the cursor rests on is claimed, the first and the next as well; the next one is nobody whom
another desk holds. Who goes to another area of the desk lets go.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from recall.errors import RecallError
from tui.calls import acts
from tui.screens.listing import ListScreen

MOST_TRIED = 50
"""So many people are tried in order to find one whom no other desk holds."""


class InHandScreen(ListScreen):
    """A screen with a list of people, one of them in hand."""

    def __init__(self, **more: Any) -> None:
        """Begin with nobody in hand."""
        super().__init__(**more)
        self._is_read = False
        self._held: int | None = None
        self._held_as = ""
        """By whom they were taken: another may have taken the desk over since."""
        self._free: int | None = None
        """Whom somebody let go of by key: not taken again until one has moved on."""
        self._going_on: int | None = None
        """From whom on somebody whom no other desk holds is being looked for."""
        self.on_the_line: int | None = None
        """Who was handed over: a clinician's from now on, but in hand until one moves on. So it is
        with what an appointment that was just made does not meet: it is offered another day."""
        self.offered: int | None = None

    def take(self, numbers: Sequence[int]) -> None:
        """Take the first of some people in hand whom no other desk holds."""
        some = tuple(numbers[:MOST_TRIED])
        if some and self.app.current_mode == self.WHERE:  # it is read again while one is elsewhere
            self._going_on = some[0] if len(some) > 1 else None
            ask = partial(acts.take_first, numbers=some, hand=self.app.hand)
            self.read("claim", ask, partial(self._taken, some), self._not_taken)

    def take_resting(self, number: int | None) -> None:
        """Take whoever the cursor rests on in hand."""
        self.on_the_line = self.on_the_line if number == self.on_the_line else None
        waits = number in (None, self._free, self._going_on)
        if number is not None and not waits and not self.is_held(number):
            self.take((number,))

    def keep(self) -> None:
        """Go on with the claim on whoever is in hand: it would run out while one talks."""
        number = self.row_list.number
        if number is not None and number == self._held:
            self.take((number,))

    def take_again(self) -> None:
        """Take whoever is marked in hand under the name of whoever is at this desk now."""
        number = self.row_list.number
        if self._is_read and number is not None:
            self.take((number,))

    def is_held(self, number: int) -> bool:
        """Return whether somebody is in hand, of whoever is at this desk now."""
        return (number, self.app.acting) == (self._held, self._held_as)

    def take_onward(self) -> None:
        """Take whoever is marked in hand, or the next one whom no other desk holds."""
        at, numbers = self.row_list.marked, self.row_list.numbers
        self.take((*numbers[at:], *numbers[:at]))

    def turned(self, number: int, *, held: bool) -> None:
        """Remember that somebody was taken in hand, or let go of, by key."""
        self._held, self._free = (number, None) if held else (None, number)
        self._held_as = self.app.acting

    def _taken(self, some: Sequence[int], number: int | None) -> None:
        """Go on to whoever is in this desk's hand, unless one has moved on meanwhile."""
        self._held, self._free, self._held_as = number, None, self.app.acting
        self._going_on = None
        if number is not None and number != some[0] == self.row_list.number:
            self.row_list.mark(self.row_list.numbers.index(number))

    def _not_taken(self, _error: RecallError) -> None:
        """Nobody is in hand: what is recorded then is refused where another desk is at it."""
        self._going_on = None

    def on_screen_suspend(self) -> None:
        """Let go of the person in hand where one goes to another area of the desk."""
        if self._held is not None and self.app.current_mode != self.WHERE:
            self._held = None
            give = partial(acts.give_all_back, hand=self.app.hand)
            self.read("claim", give, lambda _none: None, self._not_taken)

    def on_screen_resume(self) -> None:
        """Take the person under the cursor in hand again."""
        number = self.row_list.number
        if self._is_read and number is not None and not self.is_held(number):
            self.take((number,))
