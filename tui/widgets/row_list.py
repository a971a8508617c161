"""A list of any length: it holds numbers, and asks for the rows it is about to show.

Only the lines on the screen are ever drawn, so a hundred thousand rows cost what twenty do.
The row under the cursor stays where it is on the screen when the order changes.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, ClassVar

from rich.segment import Segment
from rich.style import Style
from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

from tui.words.text import cut

Part = tuple[str, int, str]
"""Text, width in cells, and the kind of text: "", quiet, alarm, warn, lead or good."""
Draw = Callable[[Any, int], Sequence[Part]]
NEAR, AHEAD = 10, 40
"""Once a row is missing on the screen or so near to it, so many are asked for on both sides:
in one question, so that a cursor that runs down the list does not ask at each step."""
CLOSE = 4
"""A row that is here and to be read anew is asked for once it is so near to the screen."""


class RowList(ScrollView, can_focus=True, inherit_bindings=False):
    """A list of rows with one of them marked."""

    COMPONENT_CLASSES: ClassVar[set[str]] = {
        "row-list--marked",
        "row-list--quiet",
        "row-list--alarm",
        "row-list--warn",
        "row-list--lead",
        "row-list--good",
    }
    marked: reactive[int] = reactive(0, init=False)
    """The place of the marked row."""

    class Marked(Message):
        """Another row was marked."""

        def __init__(self, row_list: RowList, number: int | None) -> None:
            """Remember which."""
            super().__init__()
            self.row_list = row_list
            self.number = number

        @property
        def control(self) -> RowList:
            """Return the list."""
            return self.row_list

    class Chosen(Marked):
        """The marked row was clicked once more."""

    class Wanted(Message):
        """Rows are about to be shown and are not here."""

        def __init__(self, row_list: RowList, numbers: tuple[int, ...]) -> None:
            """Remember which."""
            super().__init__()
            self.row_list = row_list
            self.numbers = numbers

        @property
        def control(self) -> RowList:
            """Return the list."""
            return self.row_list

    def __init__(self, draw: Draw, *, empty: str = "Nobody.", **more: Any) -> None:
        """Draw each row by `draw`; say `empty` where there is none."""
        super().__init__(**more)
        self._draw_row = draw
        self._empty = empty
        self._numbers: tuple[int, ...] = ()
        self._place: dict[int, int] = {}
        self._rows: dict[int, Any] = {}
        self._asked: set[int] = set()
        self._stale: set[int] = set()
        self._base: Style | None = None
        self._strips: dict[int, dict[tuple[bool, int], Strip]] = {}
        """Lines that were drawn, by number, then by marked or not, and width."""

    @property
    def numbers(self) -> tuple[int, ...]:
        """Return the numbers of all rows, in order."""
        return self._numbers

    @property
    def number(self) -> int | None:
        """Return the number of the marked row."""
        return self._numbers[self.marked] if self._numbers else None

    @property
    def row(self) -> Any:
        """Return the marked row, where it is here already."""
        number = self.number
        return None if number is None else self._rows.get(number)

    def row_of(self, number: int) -> Any:
        """Return a row by its number, where it is here already."""
        return self._rows.get(number)

    def is_fresh(self, number: int) -> bool:
        """Return whether a row is here and is not being read anew."""
        return number in self._rows and number not in self._stale and number not in self._asked

    def known_where(self, holds: Callable[[Any], bool]) -> list[int]:
        """Return the numbers of the rows that are here and for which something holds."""
        return [number for number, row in self._rows.items() if holds(row)]

    def say_empty(self, words: str) -> None:
        """Say something else where there is no row."""
        self._empty = words
        self.refresh()

    def show(self, numbers: Sequence[int], *, stay_on: int | None = None) -> None:
        """Show other rows, or the same in another order.

        The marked row, or `stay_on`, stays marked and stays on its line of the screen; where
        it is gone, the next one of the old order that is still there takes its place.
        """
        before, line = self._numbers, self.marked - round(self.scroll_offset.y)
        wanted = stay_on if stay_on is not None else self.number
        self._numbers = tuple(numbers)
        self._place = {number: place for place, number in enumerate(self._numbers)}
        self._stale.update(self._asked & self._rows.keys())  # what is under way may be dropped
        self._asked.clear()
        self._measure()
        place = self._stay(before, wanted)
        self.set_reactive(RowList.marked, place)
        self.scroll_to(y=max(0, place - line), animate=False, force=True)
        self._keep_in_sight()
        self._want()
        self.refresh()
        self.post_message(self.Marked(self, self.number))

    def step_past(self, done: int, numbers: Sequence[int]) -> None:
        """Show the new order, and mark the row that came after `done` in the old one."""
        at = self._place.get(done, self.marked)
        there = set(numbers) - {done}
        after = (n for n in (*self._numbers[at + 1 :], *self._numbers[:at]) if n in there)
        self.show(numbers, stay_on=next(after, None))

    def fill(self, rows: Mapping[int, Any]) -> None:
        """Take rows that were asked for; a row that is None is no longer one of the list."""
        gone = {number for number, row in rows.items() if row is None}
        other = {n for n, row in rows.items() if row is not None and row != self._rows.get(n)}
        for number in other:
            self._rows[number] = rows[number]
            self._strips.pop(number, None)
        self._asked.difference_update(rows)
        if gone & self._place.keys():
            self.show([n for n in self._numbers if n not in gone])
        elif self.number in other:
            self.post_message(self.Marked(self, self.number))
        if not other.isdisjoint(self._round(0)):
            self.refresh()

    def forget(self, *numbers: int) -> None:
        """Forget some rows, or all, so that they are asked for again; meanwhile they are shown."""
        self._strips.clear()
        self._asked.difference_update(numbers or tuple(self._asked))
        self._stale.update(numbers or self._rows)

    def redraw(self) -> None:
        """Draw every line anew: what stands beside the rows has changed."""
        self._strips.clear()
        self.refresh()

    def move(self, by: int) -> None:
        """Mark the row so many further on."""
        self.mark(self.marked + by)

    def mark(self, place: int) -> None:
        """Mark the row at a place, or the nearest."""
        if not self._numbers:
            return
        self.marked = min(max(0, place), len(self._numbers) - 1)

    def watch_marked(self, before: int, now: int) -> None:
        """Draw the two lines anew."""
        if not self._numbers:
            return
        self._keep_in_sight()
        self._want()
        self.refresh_line(before)
        self.refresh_line(now)
        self.post_message(self.Marked(self, self.number))

    @property
    def page(self) -> int:
        """Return how many rows the screen shows."""
        return max(1, self.size.height - 1)

    def render_line(self, y: int) -> Strip:
        """Return one line of the screen."""
        width = self.scrollable_content_region.width
        place = y + round(self.scroll_offset.y)
        if not self._numbers:
            words = self._empty if y == 0 else ""
            return self._strip([(f" {words}", width, "quiet")], width, marked=False)
        if place >= len(self._numbers):
            return Strip.blank(width, self.rich_style)
        number = self._numbers[place]
        row = self._rows.get(number)
        if row is None or number in self._stale:
            self._want()
        marked = place == self.marked
        drawn = self._strips.setdefault(number, {})
        if (marked, width) in drawn:
            return drawn[marked, width]
        parts = [("…", width, "quiet")] if row is None else self._draw_row(row, width - 1)
        sign = "▌" if marked else " "
        strip = self._strip([(sign, 1, ""), *parts], width, marked=marked)
        if row is not None:
            drawn[marked, width] = strip
        return strip

    def notify_style_update(self) -> None:
        """Draw in other colours from now on."""
        super().notify_style_update()
        self._base = None
        self._strips.clear()

    def _strip(self, parts: Sequence[Part], width: int, *, marked: bool) -> Strip:
        if self._base is None:
            self._base = self.rich_style
        base = self._base
        if marked:
            base += self.get_component_rich_style("row-list--marked", partial=True)
        segments = []
        for text, cells, kind in parts:
            style = base
            if kind and not marked:
                style += self.get_component_rich_style(f"row-list--{kind}", partial=True)
            segments.append(Segment(cut(text, cells), style))
        return Strip(segments).adjust_cell_length(width, base)

    def _want(self) -> None:
        """Ask for the rows on the screen and round it, once."""
        near = [number for number in self._round(NEAR) if self._is_missing(number)]
        if not near:
            return
        new = any(number not in self._rows for number in near)
        if not new and not any(map(self._is_missing, self._round(CLOSE))):
            return
        margin = AHEAD if new else NEAR  # what is only read anew need not be read far ahead
        missing = tuple(number for number in self._round(margin) if self._is_missing(number))
        self._asked.update(missing)
        self._stale.difference_update(missing)
        self.post_message(self.Wanted(self, missing))

    def _round(self, margin: int) -> Sequence[int]:
        """Return the numbers on the screen and so many above and below it."""
        top = round(self.scroll_offset.y)
        return self._numbers[max(0, top - margin) : top + self.size.height + margin]

    def _is_missing(self, number: int) -> bool:
        return (number not in self._rows or number in self._stale) and number not in self._asked

    def _stay(self, before: Sequence[int], wanted: int | None) -> int:
        """Return the place of a row, or of the next of the old order that is still there."""
        if not self._numbers:
            return 0
        if wanted is None:
            return 0
        if wanted in self._place:
            return self._place[wanted]
        old = before.index(wanted) if wanted in before else 0
        for number in (*before[old:], *reversed(before[:old])):
            if number in self._place:
                return self._place[number]
        return 0

    def _measure(self) -> None:
        self.virtual_size = Size(self.size.width, len(self._numbers))

    def _keep_in_sight(self) -> None:
        top, height = round(self.scroll_offset.y), max(1, self.size.height)
        if self.marked < top:
            self.scroll_to(y=self.marked, animate=False, force=True)
        elif self.marked >= top + height:
            self.scroll_to(y=self.marked - height + 1, animate=False, force=True)

    def on_resize(self) -> None:
        """Fit the new size."""
        self._measure()
        self._keep_in_sight()
        self._want()

    def on_click(self, event: events.Click) -> None:
        """Mark the row that was clicked; clicked again, it is chosen."""
        place = event.y + round(self.scroll_offset.y)
        if place >= len(self._numbers):
            return
        if place == self.marked:
            self.post_message(self.Chosen(self, self.number))
        self.mark(place)
