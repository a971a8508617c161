"""What all dialogs share: a sheet over the screen, keys that stay inside, Escape leaves."""

from __future__ import annotations

from typing import Any, ClassVar, TypeVar

from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
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

    def on_resize(self) -> None:
        """Fit the new size."""
        self.call_after_refresh(self.fit)

    def on_descendant_focus(self) -> None:
        """Bring what one goes to into sight."""
        self.call_after_refresh(self.show_focus)

    def fit(self) -> None:
        """Let what scrolls on the sheet give way, so that the rest is always in sight."""
        for sheet in self.query(".sheet"):
            scrolls = [each for each in sheet.children if isinstance(each, VerticalScroll)]
            others = [each for each in sheet.children if each not in scrolls]
            taken = sum(each.outer_size.height + each.styles.margin.height for each in others)
            room = int(self.size.height * 0.96) - sheet.gutter.height - taken
            for scroll in scrolls:
                scroll.styles.max_height = max(3, room)
        self.call_after_refresh(self.show_focus)

    def show_focus(self) -> None:
        """Scroll what has the focus into sight, with the label above it."""
        field = self.focused
        if field is None or not isinstance(scroll := field.parent, VerticalScroll):
            return
        place = scroll.children.index(field)
        for each in (*scroll.children[max(0, place - 1) : place], field):
            scroll.scroll_to_widget(each, animate=False, immediate=True)

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
        self.call_after_refresh(self.fit)
