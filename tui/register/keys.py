"""The way of a key: it goes to what is in sight when its turn comes, and none is lost.

Textual hands a key on at once. One that is typed while a sheet opens would reach the list
below, or nobody. Here keys wait until what is opening is there, and what may move the focus
has moved it.
"""

from __future__ import annotations

from collections import deque
from typing import Any

from textual import events
from textual.widgets import Input

from tui.register.holding import RegisterApp
from tui.register.key_pace import KeyClock
from tui.register.once import once

PACE = 0.01
"""Seconds between two looks at whether a key on a sheet has done what it does there."""
ACTS = (
    *(events.Key, events.Paste, events.MouseDown),
    *(events.MouseScrollDown, events.MouseScrollUp),
)
"""What shows that somebody is there."""
QUIET, MOST = 2, 200
"""So many looks in a row with nothing under way are enough; after so many in all keys go on."""


class KeyedApp(RegisterApp, inherit_bindings=False):
    """An app that hands on what is typed one after the other."""

    def __init__(self, *given: Any, **more: Any) -> None:
        """Begin with nothing typed."""
        super().__init__(*given, **more)
        self.waiting: deque[events.Key | events.Paste] = deque()
        self.key_clock = KeyClock()
        self.typed_ahead = ""
        """A text that was typed before the sheet that it is for was there."""
        self._paced = False
        self._looks = self._quiet = 0
        self._last_act = 0.0

    async def on_event(self, event: events.Event) -> None:
        """Let what is typed or pasted wait for its turn; all else goes on at once."""
        if isinstance(event, ACTS):
            self._last_act = self.key_clock.now()
        if isinstance(event, events.Key | events.Paste) and not event.is_forwarded:
            self.waiting.append(event)
            await self._go_on()
        else:
            await super().on_event(event)

    def watch_for_idling(self) -> None:
        """Lock the desk once nobody has touched it for as long as the practice sets."""
        self._last_act = self.key_clock.now()
        self.key_clock.later(self, self.locks_after, self._is_idle)

    async def _is_idle(self) -> None:
        if self.locked or not self.signs_in:
            return
        left = self._last_act + self.locks_after - self.key_clock.now()
        if left > 0:
            self.key_clock.later(self, left, self._is_idle)
        else:
            self.lock()

    def drop_keys(self) -> bool:
        """Forget what was typed for a sheet that never opened; return whether anything was."""
        had = bool(self.waiting)
        self.waiting.clear()
        return had

    def put_back(self, key: events.Key) -> None:
        """Let a key wait once more: what came before it is opening a sheet."""
        self.waiting.appendleft(key)

    async def _go_on(self) -> None:
        while self.waiting and not self._paced and self._is_ready():
            await self._hand_on(self.waiting.popleft())
        if self.waiting and not self._paced:
            self._wait()

    def _is_ready(self) -> bool:
        """Return whether what is in sight is whole, and nothing is about to open over it."""
        screen = self.screen
        return screen.is_mounted and not getattr(screen, "is_opening", False)

    async def _hand_on(self, event: events.Key | events.Paste) -> None:
        screen = self.screen
        if isinstance(event, events.Key):
            take = getattr(screen, "take_key", None)
            if take is not None and await take(event):
                self.app_focus = True
                return
        await super().on_event(event)
        text = isinstance(event, events.Key) and event.is_printable
        if screen.is_modal and not (text and isinstance(self.focused, Input)):
            self._wait()

    def _wait(self) -> None:
        self._paced, self._looks, self._quiet = True, 0, 0
        once(self, PACE, self._look)

    async def _look(self) -> None:
        """Go on once nothing is under way between the focus and the screen.

        A timer may tick once more while the desk is being left: no screen is there any more.
        """
        if not self.screen_stack:
            return
        self._looks += 1
        self._quiet = 0 if self._is_under_way() else self._quiet + 1
        if self._quiet < QUIET and self._looks < MOST:
            once(self, PACE, self._look)
            return
        self._paced = False
        await self._go_on()

    def _is_under_way(self) -> bool:
        screen = self.screen
        path = self.focused.ancestors_with_self if self.focused else (screen,)
        return any(node.message_queue_size for node in path if node is not self)
