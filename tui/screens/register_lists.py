"""The register's lists on the screen: which one is shown, how it is read and how it is drawn."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.containers import VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from recall.errors import RecallError
from tui.commands.table import commands_of
from tui.manager import accounts
from tui.manager.charts import DRAWN
from tui.manager.lists import Listed, RegisterList
from tui.manager.names import ALL_LISTS, VIEWS, names
from tui.manager.rereading import OLD, Rereading, place_of
from tui.screens.listing import ListScreen
from tui.widgets.lines import KeysLine
from tui.widgets.row_list import Part, RowList
from tui.words.text import literal, several

if TYPE_CHECKING:
    from recall.desk.core.session import Desk

    Heard = tuple[object, Listed]
    """What was written before a list was read, and the list."""

NEWLINE = Content("\n")
MORE = 8
"""Lines at most about the marked line."""


class RegisterLists(ListScreen):
    """One list of the register at a time, with everything on the marked line below it."""

    WHERE = "manager"
    CSS_PATH = "../styles/clinic.tcss"

    def __init__(self) -> None:
        """Begin with who is overdue."""
        super().__init__()
        self.view = VIEWS[0]
        self.listed: Listed | None = None
        self.just = ""
        self._is_old = False
        self._rereading = Rereading()
        self.picked: set[int] = set()
        self._rows: dict[int, Any] = {}
        self.quarters_back = 0
        self.behind: RegisterList | None = None
        """The people behind a number of the accounts, where one was opened."""

    def body(self) -> Iterable[Widget]:
        """Give the names of the lists, the list, and what is told of the marked line."""
        yield Static(id="lists")
        yield Static(id="told")
        yield Static(id="heads")
        yield RowList(self.draw_row, empty="Reading …", id="rows")
        yield VerticalScroll(Static(id="picture"), id="drawn", can_focus=False)
        yield Static(id="more")

    @property
    def list_now(self) -> RegisterList | None:
        """Return the list shown, where it is one of lines."""
        if self.view == accounts.ID:
            return self.behind or accounts.accounts_list(self.quarters_back)
        return next((each for each in ALL_LISTS if each.id == self.view), None)

    @property
    def row(self) -> Any:
        """Return the marked line."""
        number = self.row_list.number
        return None if number is None else self._rows.get(number)

    def on_mount(self) -> None:
        """Put the cursor into the list."""
        super().on_mount()
        self._draw_names()
        self._draw_keys()
        self.row_list.focus()

    def on_screen_resume(self) -> None:
        """Somebody came back from elsewhere."""
        super().on_screen_resume()
        if self.listed is not None:
            self.refill()

    # What is read.

    def _written(self, heard: object) -> None:
        """Keep up; what takes long to read is left alone for a while, and said to be old."""
        if heard == self._heard or self._rereading.may(self.app.key_clock.now()):
            super()._written(heard)
        elif self.listed is not None and not self._is_old:
            self._is_old = True
            self._draw()

    def refill(self) -> None:
        """Read the list; the marked line stays."""
        view = self.view
        found = self.list_now
        self._rereading.begins(self.app.key_clock.now())
        if found is not None:
            self.read("list", self._with_heard(found.read), partial(self._show, view))
        else:
            drawn = next(each for each in DRAWN if each.id == view)
            self.read("list", self._with_heard(drawn.read), partial(self._show_drawn, view))

    def _with_heard(self, read: Callable[[Desk], Listed]) -> Callable[[Desk], Heard]:
        """Read a list with what was written before it: our own answer makes it no older."""
        written = self.app.written
        return lambda desk: (written(), read(desk))

    def _show(self, view: str, came: Heard) -> None:
        found = self.list_now
        if view != self.view or found is None:
            return
        listed = self._is_read_anew(came)
        number, was = found.number, self.row
        rows = enumerate(listed.rows, 1)
        self._rows = {number(row) if number else n: row for n, row in rows}
        self.picked &= self._rows.keys()
        self.row_list.say_empty(listed.empty or found.empty)
        self.row_list.forget()
        self.row_list.show(list(self._rows), stay_on=None if number else place_of(was, listed.rows))
        self.row_list.fill(self._rows)
        self._draw()

    def _is_read_anew(self, came: Heard) -> Listed:
        self.went_well()
        self._heard, self.listed = came
        self._is_old = False
        self._rereading.ends(self.app.key_clock.now())
        return self.listed

    def _show_drawn(self, view: str, came: Heard) -> None:
        if view == self.view:
            self._is_read_anew(came)
            self._draw()

    # What is drawn.

    def on_resize(self) -> None:
        """Fit the new size."""
        self._draw_names()
        self.call_after_refresh(self._draw)

    def _draw_names(self) -> None:
        self.query_one("#lists", Static).update(names(self.view, self.size.width))

    def _draw_keys(self) -> None:
        """Show the keys that matter on this list."""
        found = self.list_now
        drawn = next((each for each in DRAWN if each.id == self.view), None)
        wanted = found.keys if found else drawn.keys if drawn else ()
        commands = {c.id: c for c in commands_of(self.WHERE)}
        self.query_one(KeysLine).show([commands[f"manager.{key}"] for key in wanted])

    def _draw(self) -> None:
        today, listed = self.app.today, self.listed
        if today is None or listed is None:
            return
        told = [self.just] if self.just else []
        told += [OLD] if self._is_old else []
        picked = f"{several(len(self.picked), 'line')} picked. " if self.picked else ""
        told.append(picked + listed.says)
        self.query_one("#told", Static).update(NEWLINE.join([literal(each) for each in told]))
        found = self.list_now
        drawn = self.query_one("#drawn")
        self.row_list.display, drawn.display = found is not None, found is None
        self.call_after_refresh(self._draw_heads)
        more = self.query_one("#more", Static)
        more.display = found is not None
        width = self.size.width - 3
        if found is None:
            picture = next(each for each in DRAWN if each.id == self.view)
            lines = picture.draw(listed.rows, today, width)
            self.query_one("#picture", Static).update(NEWLINE.join(lines))
            return
        row = self.row
        lines = found.more(row, today, width) if row is not None else []
        more.update(NEWLINE.join(lines[:MORE]))

    def _draw_heads(self) -> None:
        """Name the columns above the list, where they do not speak for themselves."""
        found, heads = self.list_now, self.query_one("#heads", Static)
        heads.display = found is not None and found.head is not None and bool(self._rows)
        if found is not None and found.head is not None:
            width = self.row_list.scrollable_content_region.width - 3
            names = "".join(text.ljust(cells)[:cells] for text, cells, _ in found.head(width))
            heads.update(Content.styled(f"   {names}", "$desk-quiet"))

    def draw_row(self, row: Any, width: int) -> Sequence[Part]:
        """Return one line of the list, with a mark where it is picked."""
        found, today = self.list_now, self.app.today
        if found is None or today is None:
            return []
        number = found.number(row) if found.number else 0
        picked = "✓" if number in self.picked else " "
        return [(picked, 2, "good"), *found.draw(row, width - 2, today)]

    @on(RowList.Marked)
    def _marked(self) -> None:
        self._draw()

    # Which list.

    def go(self, view: str) -> None:
        """Show another list."""
        self.view, self.listed, self.just, self.behind = view, None, "", None
        self._is_old = False
        self._rereading = Rereading()
        self.picked, self._rows = set(), {}
        self.row_list.show([])
        self._draw_names()
        self._draw_keys()
        self.query_one("#told", Static).update(literal("Reading …"))
        self.query_one("#more", Static).update("")
        self.refill()

    def action_show(self, view: str) -> None:
        """Show another list."""
        self.go(view)

    def action_quarter(self, back: str) -> None:
        """Show the accounts of the quarter before, or of the one after."""
        if self.view == accounts.ID:
            self.quarters_back += int(back)
            self.go(accounts.ID)

    # Moving and picking.

    def move(self, by: int) -> None:
        """Mark the line so many further on, or scroll where there are none."""
        if self.list_now is None:
            self.query_one("#drawn").scroll_relative(y=by, animate=False)
        else:
            self.row_list.move(by)

    def action_again(self) -> None:
        """Read the list again."""
        self.refill()

    def report(self, error: RecallError) -> None:
        """Say what went wrong."""
        super().report(error)
        if self.listed is None:
            self.query_one("#told", Static).update(literal("This list cannot be read."))
