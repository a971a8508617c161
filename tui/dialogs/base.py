"""What all dialogs share: a sheet over the screen, keys that stay inside, Escape leaves."""

from __future__ import annotations

from typing import Any, ClassVar, TypeVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.screen import ModalScreen
from textual.widgets import Static

from recall.errors import RecallError
from tui.register.background import Working
from tui.words.text import literal

T = TypeVar("T")


class DeskDialog(ModalScreen[T], Working[T]):
    """A sheet that is answered before anything else happens."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape", "screen.leave", "Leave"),
        Binding("ctrl+q", "app.leave", "Leave the desk", show=False),
        Binding("down", "app.focus_next", "Next field", show=False),
        Binding("up", "app.focus_previous", "Field before", show=False),
    ]

    def __init__(self, **more: Any) -> None:
        """Begin with nothing answered."""
        super().__init__(**more)

    def on_mount(self) -> None:
        """Fit the sheet whenever it was laid out: for a new size, or a longer sentence on it.

        Textual calls this for every class of a sheet by itself.
        """
        self.screen_layout_refresh_signal.subscribe(self, lambda _screen: self.fit())
        self.fit()

    def fit(self) -> None:
        """Let what scrolls on the sheet give way, so that the rest is always in sight."""
        for sheet in self.query(".sheet"):
            scrolls = [each for each in sheet.children if isinstance(each, VerticalScroll)]
            others = [each for each in sheet.children if each not in scrolls]
            taken = sum(each.outer_size.height + each.styles.margin.height for each in others)
            room = max(3, int(self.size.height * 0.96) - sheet.gutter.height - taken)
            for scroll in scrolls:
                if (most := scroll.styles.max_height) is None or most.value != room:
                    scroll.styles.max_height = room

    def unsaved(self) -> str:
        """Return in words what would be lost by leaving the desk; nothing where nothing would."""
        return ""

    def action_leave(self) -> None:
        """Leave without an answer; not while something is being stored."""
        if not self.writing:
            self.dismiss(None)

    def on_paste(self) -> None:
        """Say that pasted text went nowhere: only a field takes it, and keeps it to itself."""
        self.complain("Pasted text is no answer here: nothing was done with it.")

    def report(self, error: RecallError) -> None:
        """Say what went wrong on the sheet; everything typed stays."""
        self.complain(str(error))

    def complain(self, words: str) -> None:
        """Show a sentence on the sheet."""
        self.query_one(".wrong", Static).update(literal(f"! {words}" if words else ""))
        self.call_after_refresh(self.fit)
