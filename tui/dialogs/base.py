"""What all dialogs share: a sheet over the screen, keys that stay inside, Escape leaves."""

from __future__ import annotations

from typing import Any, ClassVar, TypeVar

from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import Static

from recall.errors import RecallError
from tui.text import literal
from tui.work import Working

T = TypeVar("T")


class DeskDialog(ModalScreen[T], Working[T]):
    """A sheet that is answered before anything else happens."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "screen.leave", "Leave"),
        Binding("down", "app.focus_next", "Next field", show=False),
        Binding("up", "app.focus_previous", "Field before", show=False),
    ]

    def __init__(self, **more: Any) -> None:
        """Begin with nothing answered."""
        super().__init__(**more)

    def action_leave(self) -> None:
        """Leave without an answer; not while something is being stored."""
        if not self.writing:
            self.dismiss(None)

    def report(self, error: RecallError) -> None:
        """Say what went wrong on the sheet; everything typed stays."""
        self.complain(str(error))

    def complain(self, words: str) -> None:
        """Show a sentence on the sheet."""
        self.query_one(".wrong", Static).update(literal(f"! {words}" if words else ""))
