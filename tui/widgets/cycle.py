"""A field with a few possible answers on one line: Left and Right change it, or its letters.

Somebody who types words into it by mistake changes nothing: letters choose only as long as they
begin an answer, and once they do not, the answer is the one that it was.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.message import Message
from textual.widgets import Static

from tui.words.text import plain


class Cycle(Static, can_focus=True):
    """One of a few answers."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("left", "turn(-1)", show=False),
        Binding("right", "turn(1)", show=False),
        Binding("enter", "go_on", show=False),
        Binding("backspace", "forget", show=False),
    ]

    class Turned(Message):
        """Another answer was taken."""

    class GoneOn(Message):
        """Enter was pressed: on to the next field."""

    class NoAnswer(Message):
        """What was typed begins no answer; the one from before stands."""

    def __init__(self, choices: Sequence[tuple[str, str]], value: str = "", **more: Any) -> None:
        """Offer choices, each with a value and its words."""
        super().__init__(**more)
        self._choices = tuple(choices)
        values = [v for v, _ in self._choices]
        self._at = values.index(value) if value in values else 0
        self._typed, self._before, self._is_words = "", self._at, False
        self._draw()

    @property
    def value(self) -> str:
        """Return the value of the present answer."""
        return self._choices[self._at][0] if self._choices else ""

    def action_turn(self, by: int) -> None:
        """Take the next answer, or the one before."""
        self.action_forget()
        if self._choices:
            self._take((self._at + by) % len(self._choices))

    def action_go_on(self) -> None:
        """Leave the answer as it is and go on, as Enter does in a field of text."""
        self.post_message(self.GoneOn())

    def action_forget(self) -> None:
        """Forget the letters typed so far: the next one begins anew."""
        self._typed, self._is_words = "", False

    def forget_words(self) -> bool:
        """Forget what was typed last; return whether it was words that begin no answer.

        A single letter is no words.
        """
        was = self._is_words and len(self._typed) > 1
        self.action_forget()
        return was

    def on_blur(self) -> None:
        """Begin anew when somebody comes back."""
        self.action_forget()

    def on_click(self) -> None:
        """Take the next answer."""
        self.action_turn(1)

    def on_key(self, event: events.Key) -> None:
        """Take the next answer that begins with what was typed; words that begin none change none.

        The same letter again takes the next answer that begins with it.
        """
        typed = (event.character or "").lower()
        if not (typed.isalnum() or (typed == " " and self._typed)):
            return
        event.stop()
        if self._is_words:
            self._typed += typed
            return
        if not self._typed:
            self._before = self._at
        found = self._found(self._typed + typed, 0 if self._typed else 1)
        self._typed += typed
        if found is None and set(self._typed) == {typed}:
            found = self._found(typed, 1)
        if found is None:
            self._put_back()
        else:
            self._take(found)

    def _put_back(self) -> None:
        """Take the answer from before the words, and say so."""
        self._is_words = True
        if self._at != self._before:
            self._take(self._before)
        self.post_message(self.NoAnswer())

    def _found(self, begins: str, after: int) -> int | None:
        """Return the next answer that begins so; the present one first where `after` is 0."""
        count = len(self._choices)
        for step in range(after, count + after):
            place = (self._at + step) % count
            if plain(self._choices[place][1]).lower().startswith(begins):
                return place
        return None

    def _take(self, place: int) -> None:
        self._at = place
        self._draw()
        self.post_message(self.Turned())

    def _draw(self) -> None:
        words = plain(self._choices[self._at][1]) if self._choices else "nothing to choose from"
        of = f"  {self._at + 1} of {len(self._choices)}" if len(self._choices) > 1 else ""
        self.update(Content.assemble(("◂ ", ""), words, (" ▸", ""), (of, "$desk-quiet")))
