"""Choose: one out of a few, by its key, by Up and Down, or by a click.

A key chooses that comes alone. What is typed as fast as text was meant for the sheet that opens
after the choice: it is kept, shown, and stands there in the first field.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import ClassVar, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from tui.dialogs.base import DeskDialog
from tui.register.key_pace import TOGETHER, Later
from tui.words.text import literal, plain


class Choice(NamedTuple):
    """One of a few: its value, its words, and a key of its own where it has one."""

    value: str
    words: str
    key: str = ""


class Choose(DeskDialog[str]):
    """A few choices; gives the value of one, or None."""

    BINDINGS: ClassVar[list[BindingType]] = [("down", "app.nothing", ""), ("up", "app.nothing", "")]

    def __init__(self, title: str, choices: Sequence[tuple[str, str] | Choice]) -> None:
        """Offer choices, each with a value and its words; where no key is given, a digit is it."""
        super().__init__()
        numbered = [Choice(*each) for each in choices]
        self._title_words = title
        self._choices = [
            each if each.key or n > 9 else each._replace(key=str(n))
            for n, each in enumerate(numbered, 1)
        ]
        self._by_key = {each.key: each.value for each in self._choices if each.key}
        self._typed = self._alone = ""
        """What was typed as a text, and the key of which nobody knows yet what it is."""
        self._at: float | None = None
        self._waits: Later | None = None

    def compose(self) -> ComposeResult:
        """Show the choices with their keys."""
        with Vertical(classes="sheet"):
            yield Static(literal(self._title_words), classes="title")
            yield OptionList(
                *(
                    Option(
                        Content.assemble(
                            (f"{each.key or ' '} ", "bold $desk-key"), plain(each.words)
                        )
                    )
                    for each in self._choices
                )
            )
            yield Static("", classes="wrong")

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Take the marked choice; not by a line end that came with a text."""
        if not self._is_fast(self.app.key_clock.now()):
            self._choose(self._choices[event.option_index].value)

    def on_key(self, event: events.Key) -> None:
        """Take a choice by its key, if that came alone; keep a text for the sheet to come."""
        text = event.character or ""
        if not event.is_printable or not text:
            return
        event.stop()
        fast = self._is_fast(event.time)
        self._at = event.time
        if self._waits is not None:
            self._waits.stop()
            self._waits = None
        if fast or (self._kept and event.key not in self._by_key):
            self._typed, self._alone = self._typed + self._alone + text, ""
            self.complain(f"Choose first: “{plain(self._typed)}” is kept for what opens then.")
        elif event.key in self._by_key:
            self._alone = text
            take = partial(self._take, self._by_key[event.key])
            self._waits = self.app.key_clock.later(self, TOGETHER, take)

    def _is_fast(self, at: float) -> bool:
        return self._at is not None and at - self._at < TOGETHER

    @property
    def _kept(self) -> bool:
        return bool(self._typed)

    async def _take(self, value: str) -> None:
        """Choose by a key after which no other came."""
        self._choose(value)

    def _choose(self, value: str) -> None:
        if self.app.screen is not self:
            return  # it was answered or left while the key waited
        self.app.typed_ahead = self._typed
        self.dismiss(value)
