"""Screens that keep up with the register: what another desk did shows within seconds."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, TypeVar

from recall.errors import RecallError
from tui.screens.base import DeskScreen

if TYPE_CHECKING:
    from recall.desk.core.session import Desk

T = TypeVar("T")
LOOK = 2.0
"""Seconds between two looks at whether anybody has written."""


class LiveScreen(DeskScreen):
    """A screen that is read anew once anybody has written into the register."""

    _heard: object = None
    _keeps_up = False
    _looks = False

    def on_mount(self) -> None:
        """Look now and then; a screen that calls this once more gets no second clock."""
        if not self._looks:
            self._looks = True
            self.set_interval(LOOK, self.keep_up)

    def on_screen_resume(self) -> None:
        """Look at once when somebody comes back, from a sheet as well."""
        self.keep_up()

    def keep_up(self) -> None:
        """Ask whether anybody has written; not while something is stored or opens here."""
        busy = self.writing or self.is_opening or not self.is_current
        if not busy and self.app.screen is self and self.app.is_open:  # no screen while it closes
            written = self.app.written
            self.read("written", lambda _desk: written(), self._written, self._unheard)

    def _written(self, heard: object) -> None:
        if heard == self._heard or self.writing or self.is_opening:
            return  # a sheet that opens, or what is stored, comes first: the next look is soon
        self._heard = heard
        self._keeps_up = True
        try:
            self.refill()
        finally:
            self._keeps_up = False

    def _unheard(self, _error: RecallError) -> None:
        """The next key that asks the register says what is wrong with it."""

    def read(
        self,
        group: str,
        work: Callable[[Desk], T],
        then: Callable[[T], None],
        otherwise: Callable[[RecallError], None] | None = None,
    ) -> None:
        """Ask the register; what the screen asks by itself takes no complaint away."""

        def keeping(found: T) -> None:
            wrong = self._wrong
            then(found)
            if wrong is not None and self._wrong is None:
                self.report(wrong)

        super().read(group, work, keeping if self._keeps_up else then, otherwise)
