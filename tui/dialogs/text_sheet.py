"""Told: something to read, with nothing to decide."""

from __future__ import annotations

from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widgets import Static

from tui.dialogs.base import DeskDialog
from tui.words.text import literal


class TextSheet(DeskDialog[None]):
    """A text on a sheet; any of the usual keys puts it away."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,space,question_mark,f1", "screen.leave", "Put away", show=False),
        Binding("down", "screen.roll(1)", show=False),
        Binding("up", "screen.roll(-1)", show=False),
        Binding("pagedown", "screen.roll(12)", show=False),
        Binding("pageup", "screen.roll(-12)", show=False),
    ]

    HINT: ClassVar[str] = "Esc puts this away; Up and Down scroll."
    SCROLLS: ClassVar[str] = "; Up and Down scroll"

    def __init__(self, title: str, text: Content | str) -> None:
        """Show a text under a title."""
        super().__init__()
        self._title_words, self._text, self._hint = title, text, self.HINT

    def compose(self) -> ComposeResult:
        """Show the text, and how to put it away."""
        text = self._text if isinstance(self._text, Content) else literal(self._text)
        with Vertical(classes="sheet"):
            yield Static(literal(self._title_words), classes="title")
            with VerticalScroll(can_focus=False):
                yield Static(text)
            yield Static(literal(self.HINT), classes="hint", id="hint")
            yield Static("", classes="wrong")

    def on_mount(self) -> None:
        """Say whether more stands below, whenever the text is scrolled or has another height."""
        text = self.query_one(VerticalScroll)
        for changed in ("scroll_y", "virtual_size", "size"):
            self.watch(text, changed, self._say_more)

    def _say_more(self) -> None:
        text = self.query_one(VerticalScroll)
        words, is_more = self._hint, text.scroll_offset.y < text.max_scroll_y
        more = f"! More stands below: Down. {words.replace(self.SCROLLS, '')}"
        self.query_one("#hint", Static).update(literal(more if is_more else words))

    def action_roll(self, lines: int) -> None:
        """Scroll by some lines."""
        self.query_one(VerticalScroll).scroll_relative(y=lines, animate=False)
