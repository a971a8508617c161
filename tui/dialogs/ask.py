"""Ask: a question with two answers, where the safe one is the first."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical, VerticalScroll
from textual.widgets import Button, Static

from tui.dialogs.base import DeskDialog
from tui.words.text import literal


class Ask(DeskDialog[bool]):
    """A question; gives True for yes, and False or None for anything else."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y", "screen.answer(True)", "Yes", show=False),
        Binding("n", "screen.answer(False)", "No", show=False),
        Binding("left", "app.focus_previous", show=False),
        Binding("right", "app.focus_next", show=False),
    ]
    AUTO_FOCUS = "#no"

    def __init__(
        self, question: str, lines: Sequence[str] = (), *, yes: str = "Yes", no: str = "No"
    ) -> None:
        """Ask a question; `lines` say what it is about."""
        super().__init__()
        self._question, self._lines, self._yes, self._no = question, lines, yes, no

    def compose(self) -> ComposeResult:
        """Show the question with its two answers."""
        with Vertical(classes="sheet"):
            yield Static(literal(self._question), classes="title")
            with VerticalScroll(can_focus=False):
                for line in self._lines:
                    yield Static(literal(line))
            yield Static("", classes="wrong")
            with Horizontal(classes="buttons"):
                yield Button(literal(f"n {self._no}"), id="no")
                yield Button(literal(f"y {self._yes}"), id="yes")

    def on_button_pressed(self, event: Button.Pressed) -> None:
        """Take the answer of a button."""
        self.dismiss(event.button.id == "yes")

    def action_answer(self, answer: bool) -> None:
        """Take the answer of a key."""
        self.dismiss(answer)
