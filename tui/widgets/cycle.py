"""A field with a few possible answers on one line: Left and Right change it, or its letter."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from tui.text import plain


class Cycle(Static, can_focus=True):
    """One of a few answers."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "turn(-1)", show=False),
        Binding("right,space", "turn(1)", show=False),
    ]

    class Turned(Message):
        """Another answer was taken."""

    def __init__(self, choices: Sequence[tuple[str, str]], value: str = "", **more: Any) -> None:
        """Offer choices, each with a value and its words."""
        super().__init__(**more)
        self._choices = tuple(choices)
        values = [v for v, _ in self._choices]
        self._at = values.index(value) if value in values else 0
        self._draw()

    @property
    def value(self) -> str:
        """Return the value of the present answer."""
        return self._choices[self._at][0] if self._choices else ""

    def action_turn(self, by: int) -> None:
        """Take the next answer, or the one before."""
        if self._choices:
            self._take((self._at + by) % len(self._choices))

    def on_click(self) -> None:
        """Take the next answer."""
        self.action_turn(1)

    def on_key(self, event: events.Key) -> None:
        """Take the next answer that begins with the letter typed."""
        typed = (event.character or "").lower()
        if not typed.isalnum():
            return
        count = len(self._choices)
        for step in range(1, count + 1):
            place = (self._at + step) % count
            if plain(self._choices[place][1]).lower().startswith(typed):
                self._take(place)
                event.stop()
                return

    def _take(self, place: int) -> None:
        self._at = place
        self._draw()
        self.post_message(self.Turned())

    def _draw(self) -> None:
        words = plain(self._choices[self._at][1]) if self._choices else "nothing to choose from"
        of = f"  {self._at + 1} of {len(self._choices)}" if len(self._choices) > 1 else ""
        self.update(Content.assemble(("◂ ", ""), words, (" ▸", ""), (of, "$desk-quiet")))
