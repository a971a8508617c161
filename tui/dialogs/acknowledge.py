"""Acknowledge: what must not be scrolled past is taken note of by typing one's name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Button, Input, Static

from tui.dialogs.base import DeskDialog
from tui.words.text import literal


class Acknowledged(NamedTuple):
    """Who took note, and with whom an emergency was arranged."""

    name: str
    arranged_with: str = ""


class Acknowledge(DeskDialog[Acknowledged]):
    """Something pressing; gives what was typed, or None where it was left.

    Enter alone does nothing: the name has to be there, and has to be that of whoever acts. For
    an emergency it has to be said as well with whom it was arranged.
    """

    AUTO_FOCUS = "#name"

    def __init__(
        self,
        title: str,
        lines: Sequence[Content],
        check: Callable[[str], str],
        who: str,
        *,
        arranges: bool = False,
    ) -> None:
        """Show what it is about.

        Args:
            title: what is to be acknowledged.
            lines: what it says.
            check: says what is wrong with a name, or nothing.
            who: whose name is asked for, for the label.
            arranges: with whom it was arranged by phone is asked for as well.
        """
        super().__init__(classes="pressing")
        self._arranges = arranges
        self._title_words, self._lines, self._check, self._who = title, lines, check, who

    def compose(self) -> ComposeResult:
        """Show what it is about, and the field for the name."""
        with Vertical(classes="sheet"):
            yield Static(literal(self._title_words), classes="title alarm")
            with VerticalScroll(can_focus=False):
                yield Static(Content("\n").join(self._lines))
            yield Static(
                literal(f"Type your name, as whoever acts here ({self._who}), to go on."),
                classes="label",
            )
            yield Input(id="name")
            if self._arranges:
                yield Static(literal("With whom was it arranged by phone?"), classes="label")
                yield Input(id="arranged")
            yield Static("", classes="wrong")
            with Horizontal(classes="buttons"):
                yield Button(literal("Enter Go on"), id="go")
                yield Button(literal("Esc Back to the form"), id="leave")

    def on_input_submitted(self) -> None:
        """Go on, where the name is right."""
        self.action_go()

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Do what a button says."""
        if event.button.id == "go":
            self.action_go()
        else:
            self.action_leave()

    def action_go(self) -> None:
        """Give the name, or say what is wrong with it."""
        name = self.query_one("#name", Input).value.strip()
        wrong = self._check(name) if name else "Nobody is named: type your name."
        if wrong:
            self.complain(wrong)
            self.query_one("#name", Input).focus()
            return
        self.dismiss_arranged(name)

    def dismiss_arranged(self, name: str) -> None:
        """Give the name, with whom an emergency was arranged; or ask for that."""
        if not self._arranges:
            self.dismiss(Acknowledged(name))
            return
        field = self.query_one("#arranged", Input)
        if whom := field.value.strip():
            self.dismiss(Acknowledged(name, whom))
            return
        if not field.has_focus:
            field.focus()
        self.complain("Ring, then type with whom it was arranged.")
