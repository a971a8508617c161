"""Choose: one out of a few, by its key, by Up and Down, or by a click."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import OptionList, Static
from textual.widgets.option_list import Option

from tui.dialogs.base import DeskDialog
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
        """Take the marked choice."""
        self.dismiss(self._choices[event.option_index].value)

    def on_key(self, event: events.Key) -> None:
        """Take a choice by its key."""
        for each in self._choices:
            if event.key == each.key:
                event.stop()
                self.dismiss(each.value)
                return
