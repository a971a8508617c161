"""Both ears side by side, one finding a line: what is typed now, beside what was seen last time.

The widget shows a form and moves the mark; what a key writes is decided by the screen, so that
everything typed has one owner.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.scroll_view import ScrollView
from textual.strip import Strip

from recall.care.ear import SIDES, Ear, Side
from tui.ears.fields import FIELDS, Field
from tui.ears.form import NONE, VisitForm, cell_words, is_normal
from tui.words.text import cut

LABEL = 14
UNUSUAL = "◆"
"""Stands beside every finding that a healthy ear does not show."""
WRONG = "!"
EMPTY = "·"
MARK = "▸"
"""Stands before the marked finding, and in its line before the marked ear."""
LastEar = tuple[Ear, dict[str, date]]


class EarGrid(ScrollView, can_focus=True, inherit_bindings=False):
    """The findings of both ears."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "grid--marked",
        "grid--row",
        "grid--quiet",
        "grid--unusual",
        "grid--wrong",
    }

    class Digit(Message):
        """A digit was typed on the marked cell."""

        def __init__(self, key: str) -> None:
            """Remember which."""
            super().__init__()
            self.key = key

    class Order(Message):
        """A key that moves or opens something: it comes in turn with the digits around it."""

        def __init__(self, action: str) -> None:
            """Remember what it asks for."""
            super().__init__()
            self.action = action

    class Jump(Message):
        """Two letters of a finding's name were typed."""

        def __init__(self, letters: str) -> None:
            """Remember which."""
            super().__init__()
            self.letters = letters

    class Moved(Message):
        """Another cell is marked."""

    class Chosen(Message):
        """The marked cell was clicked."""

    def __init__(
        self, form: VisitForm, orders: Mapping[str, str] | None = None, jump: str = ""
    ) -> None:
        """Show a form.

        Args:
            form: what is typed.
            orders: the keys that keep their turn among the digits, each with its action.
            jump: the key after which two letters name the finding to go to.
        """
        super().__init__(id="grid")
        self.orders = dict(orders or {})
        self.jump = jump
        self.letters: str | None = None
        """Letters typed after the key of the jump; None where none are expected."""
        self.form = form
        self.last: Mapping[Side, LastEar] = {side: (NONE, {}) for side in SIDES}
        self.last_on: date | None = None
        self.wrong: frozenset[tuple[Side, str]] = frozenset()
        self.row = 0
        self.side: Side = "right"

    @property
    def field(self) -> Field:
        """Return the field of the marked cell."""
        return FIELDS[self.row]

    def show(self, form: VisitForm, wrong: frozenset[tuple[Side, str]]) -> None:
        """Show another state of the form; the mark stays."""
        self.form, self.wrong = form, wrong
        self.refresh()

    def show_last(self, last: Mapping[Side, LastEar], on: date | None) -> None:
        """Show what was seen last time, and on which day the last visit was."""
        self.last, self.last_on = last, on
        self.refresh()

    def mark(self, row: int, side: Side | None = None) -> None:
        """Mark another cell, and bring it into sight."""
        self.row = min(max(0, row), len(FIELDS) - 1)
        self.side = side or self.side
        self._keep_in_sight()
        self.refresh()
        self.post_message(self.Moved())

    def on_key(self, event: events.Key) -> None:
        """Take digits, and keys that move or open something, in the order of typing.

        Whoever types fast has the next keys here before the sheet is open; a digit that was
        meant for the sheet must not become a finding, nor go into the ear marked before.
        """
        if self._jumps(event):
            event.stop()
            return
        if event.key in self.orders:
            event.stop()
            self.post_message(self.Order(self.orders[event.key]))
        if event.key.isdecimal() and len(event.key) == 1:
            event.stop()
            self.post_message(self.Digit(event.key))

    def begin_jump(self) -> None:
        """Take the next two letters as the name of a finding."""
        self.letters = ""
        self.post_message(self.Moved())

    def _jumps(self, event: events.Key) -> bool:
        """Return whether a key belongs to a jump: its own, or one of the two letters.

        They are taken here and at once, so that no letter typed fast does anything else.
        """
        if self.letters is None:
            if not self.jump or event.key != self.jump:
                return False
            self.begin_jump()
            return True
        if len(event.key) != 1 or not event.key.isalpha():
            self.letters = None
            self.post_message(self.Moved())
            return event.key == "escape"
        self.letters += event.key.lower()
        if len(self.letters) == 2:
            self.post_message(self.Jump(self.letters))
            self.letters = None
        return True

    def on_click(self, event: events.Click) -> None:
        """Mark the cell that was clicked."""
        row = event.y + round(self.scroll_offset.y)
        side: Side = "right" if event.x < LABEL + 2 + self._half else "left"
        again = (row, side) == (self.row, self.side)
        self.mark(row, side)
        if again:
            self.post_message(self.Chosen())

    def on_resize(self) -> None:
        """Fit the new size."""
        self.virtual_size = Size(self.scrollable_content_region.width, len(FIELDS))
        self._keep_in_sight()

    @property
    def page(self) -> int:
        """Return how many rows are in sight."""
        return max(1, self.size.height)

    @property
    def _half(self) -> int:
        """Return the width of one ear."""
        return (self.scrollable_content_region.width - LABEL - 1) // 2

    @property
    def _last_width(self) -> int:
        """Return the width of what was seen last time."""
        return min(15, self._half // 2 - 1)

    def head(self) -> str:
        """Return the heading of the columns."""
        last = f"last {self.last_on:%d/%m/%y}" if self.last_on else "no visit yet"
        if self.last_on and len(last) >= self._last_width:  # never a part of a date
            last = f"{self.last_on:%d/%m/%y}"
        now = self._half - 1 - self._last_width
        halves = [f"│{f'  {name} now':<{now}} {last}" for name in ("RIGHT", "LEFT")]
        return " " * (LABEL + 1) + "".join(half[: self._half].ljust(self._half) for half in halves)

    def render_line(self, y: int) -> Strip:
        """Return one line of the screen."""
        width, place = self.scrollable_content_region.width, y + round(self.scroll_offset.y)
        base = self.rich_style
        if place >= len(FIELDS):
            return Strip.blank(width, base)
        row = FIELDS[place]
        on_row = place == self.row
        label_style = base + self.get_component_rich_style("grid--row", partial=True)
        sign = MARK if on_row else " "
        parts = [
            Segment(sign, base),
            Segment(cut(row.label, LABEL), label_style if on_row else base),
        ]
        for side in SIDES:
            parts += self._ear(row, side, marked=on_row and side == self.side)
        return Strip(parts).adjust_cell_length(width, base)

    def _ear(self, row: Field, side: Side, *, marked: bool) -> list[Segment]:
        """Return one ear's cell now, and beside it the last one."""
        base, quiet = self.rich_style, self._style("quiet")
        sign, words = self._words(row, side)
        now = f"{sign} {cut(words, self._half - 3 - self._last_width)}"
        style = self._cell_style(row, side)
        if marked:
            style = base + self.get_component_rich_style("grid--marked", partial=True)
        last = cut(self._last_words(row, side), self._last_width - 1)
        edge = Segment(MARK, base) if marked else Segment("│", quiet)
        return [edge, Segment(now, style), Segment(f" {last}", quiet)]

    def _words(self, row: Field, side: Side) -> tuple[str, str]:
        """Return what a cell says, with the sign before it."""
        ear = self.form.ear(side)
        words = cell_words(ear, row)
        if self._is_wrong(row, side):
            return WRONG, words or EMPTY
        usual = not words or row.normal is None or is_normal(ear, row)
        return " " if usual else UNUSUAL, words or EMPTY

    def _is_wrong(self, row: Field, side: Side) -> bool:
        return any((side, name) in self.wrong for name in row.covers)

    def _cell_style(self, row: Field, side: Side) -> Style:
        ear = self.form.ear(side)
        if self._is_wrong(row, side):
            return self._style("wrong")
        if not cell_words(ear, row):
            return self._style("quiet")
        unusual = row.normal is not None and not is_normal(ear, row)
        return self._style("unusual") if unusual else self.rich_style

    def _last_words(self, row: Field, side: Side) -> str:
        """Return what was last seen, with its month where that was not the last visit."""
        ear, days = self.last[side]
        words = cell_words(ear, row)
        if not words:
            return ""
        unusual = row.normal is not None and not is_normal(ear, row)
        on = days.get(row.covers[0])
        month = f" {on:%m/%y}" if on is not None and on != self.last_on else ""
        room = self._last_width - 1 - len(month) - 2 * unusual
        return f"{UNUSUAL + ' ' if unusual else ''}{cut(words, max(4, room)).rstrip()}{month}"

    def _style(self, name: str) -> Style:
        return self.rich_style + self.get_component_rich_style(f"grid--{name}", partial=True)

    def _keep_in_sight(self) -> None:
        top, height = round(self.scroll_offset.y), max(1, self.size.height)
        if self.row < top:
            self.scroll_to(y=self.row, animate=False, force=True)
        elif self.row >= top + height:
            self.scroll_to(y=self.row - height + 1, animate=False, force=True)
