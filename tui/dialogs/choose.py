"""Choose: one out of a few, by its digit, by Up and Down, or by a click."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from tui.dialogs.base import DeskDialog
from tui.text import literal, plain


class Choose(DeskDialog[str]):
    """A few choices; gives the value of one, or None."""

    BINDINGS: ClassVar[list[BindingType]] = [("down", "app.nothing", ""), ("up", "app.nothing", "")]

    def __init__(self, title: str, choices: Sequence[tuple[str, str]]) -> None:
        """Offer choices, each with a value and its words."""
        super().__init__()
        self._title_words, self._choices = title, choices

    def compose(self) -> ComposeResult:
        """Show the choices with their digits."""
        with Vertical(classes="sheet"):
            yield Static(literal(self._title_words), classes="title")
            yield OptionList(
                *(
                    Option(
                        Content.assemble(
                            (f"{n} " if n < 10 else "  ", "bold $desk-key"), plain(words)
                        )
                    )
                    for n, (_value, words) in enumerate(self._choices, 1)
                )
            )
            yield Static("", classes="wrong")

    def on_option_list_option_selected(self, event: OptionList.OptionSelected) -> None:
        """Take the marked choice."""
        self.dismiss(self._choices[event.option_index][0])

    def on_key(self, event: events.Key) -> None:
        """Take a choice by its digit."""
        if event.key.isdecimal() and 0 < int(event.key) <= len(self._choices):
            event.stop()
            self.dismiss(self._choices[int(event.key) - 1][0])
