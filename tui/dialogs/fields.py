"""The parts of a form: the fields one below the other, and a field of text on one line."""

from __future__ import annotations

from typing import ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.containers import VerticalScroll
from textual.widgets import Input


class Fields(VerticalScroll, can_focus=False, inherit_bindings=False):
    """Fields that scroll where they do not fit; Up and Down are left to the sheet."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("pageup", "page_up", "Page up", show=False),
        Binding("pagedown", "page_down", "Page down", show=False),
    ]

    def on_resize(self) -> None:
        """Keep what has the focus in sight when something else on the sheet grows."""
        self.call_after_refresh(self.show_focus)

    def on_descendant_focus(self) -> None:
        """Bring the field one goes to into sight."""
        self.call_after_refresh(self.show_focus)

    def show_focus(self) -> None:
        """Scroll the field with the focus into sight, with the label above it."""
        field = self.screen.focused
        if field is None or field.parent is not self:
            return
        place = self.children.index(field)
        if place <= 1:  # the top, with the label of the first field
            self.scroll_home(animate=False, immediate=True)
            return
        for each in (*self.children[max(0, place - 1) : place], field):
            self.scroll_to_widget(each, animate=False, immediate=True)


class Line(Input):
    """A field of text on one line, in which nothing that is pasted gets lost."""

    def _on_paste(self, event: events.Paste) -> None:
        """Put several lines into one, with “ / ” between; Textual alone keeps the first only.

        Textual's own way of pasting comes after this one, with the text as it is then.
        """
        event.text = " / ".join(filter(None, (line.strip() for line in event.text.splitlines())))
