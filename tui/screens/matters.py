"""To see to: interpreters, complaints, incidents, messages; one's own, or everybody's."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from tui.people import matters as sheets
from tui.screens.listing import ListScreen
from tui.widgets.row_list import Part, RowList
from tui.words.text import full_day, literal, several, wrapped

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.worklists.matter_list import Answered, MatterLine

MORE = 6
"""Lines at most about the marked matter."""


class MattersScreen(ListScreen):
    """What somebody has to see to that is no recall."""

    WHERE = "matters"
    REFILL_ON_RETURN = True
    HELP = """\
What is yours to see to: an interpreter to book, a complaint, an incident, a message. The ones
longest due come first; below stands the whole of the marked one. d closes it, by name; p passes
it to somebody else; n writes a new one down that is about nobody in the register. About a person,
p on their screen and in the calls does it. a shows everybody's. What was answered to a message of
yours stands below for a week."""

    def __init__(self) -> None:
        """Begin with one's own."""
        super().__init__()
        self.everybody = False
        self.just = ""

    def body(self) -> Iterable[Widget]:
        """Give a sentence, the list, and what is told of the marked one."""
        yield Static(id="told")
        yield RowList(self.draw_row, empty="Reading …", id="rows")
        yield Static(id="more")

    @property
    def row(self) -> MatterLine | None:
        """Return the marked matter."""
        found: MatterLine | None = self.row_list.row
        return found

    def on_mount(self) -> None:
        """Put the cursor into the list."""
        self.row_list.focus()

    def refill(self) -> None:
        """Read the list; the marked line stays."""
        self.read("matters", partial(_matters, everybody=self.everybody), self._show)

    def _show(self, both: tuple[Sequence[MatterLine], Sequence[Answered]]) -> None:
        self.went_well()
        found, answered = both
        rows = {row.number: row for row in (*found, *answered)}
        self.row_list.say_empty("Nothing waits for anybody." if self.everybody else "Nothing.")
        self.row_list.forget()
        self.row_list.show(list(rows))
        self.row_list.fill(rows)
        late = sum(row.late_by_days > 0 for row in found)
        whose = "everybody's" if self.everybody else f"for {self.app.acting}"
        told = f"{several(len(found), 'matter')} {whose}, {late} late."
        told += f" {len(answered)} of yours answered this week." if answered else ""
        lines = [literal(each) for each in (self.just, told) if each]
        self.query_one("#told", Static).update(Content("\n").join(lines))
        self._draw()

    @on(RowList.Marked)
    def _draw(self) -> None:
        row, today = self.row, self.app.today
        lines: list[Content] = []
        if row is not None and today is not None:
            lines = _more(row, self.size.width - 3)
        self.query_one("#more", Static).update(Content("\n").join(lines))

    def draw_row(self, row: MatterLine, width: int) -> Sequence[Part]:
        """Return one line: by when, what, about whom, whose, and how it begins."""
        today = self.app.today
        due = sheets.late(row, today) if today else ""
        answered = sheets.as_answered(row)
        due = "answered" if answered is not None else due
        text = max(8, width - 15 - 24 - 20 - 13)
        return [
            (due, 15, "alarm" if row.late_by_days else "quiet"),
            (row.title, 23, "lead"),
            ("", 1, ""),
            (row.name or "—", 19, ""),
            ("", 1, ""),
            (row.owner, 12, "quiet"),
            ("", 1, ""),
            (row.text if answered is None else answered.answer, text, ""),
        ]

    @on(RowList.Chosen)
    def action_open(self) -> None:
        """Show everything on the person of the marked matter."""
        from tui.screens.person import PersonScreen

        if self.row is not None and self.row.reference:
            self.app.push_screen(PersonScreen(self.row.reference))

    def action_close(self) -> None:
        """Close the marked matter by name."""
        if self.row is not None and not self._is_closed(self.row):
            self.app.push_screen(sheets.closing(self.row), self._done)

    def action_pass_on(self) -> None:
        """Give the marked matter to somebody else."""
        if self.row is not None and not self._is_closed(self.row):
            self.app.push_screen(sheets.passing(self.row), self._done)

    def _is_closed(self, row: MatterLine) -> bool:
        """Say that nothing is left to do about what was answered."""
        known = sheets.as_answered(row)
        if known is not None:
            self.say(f"It is closed: {sheets.answered(known)}. n writes something new down.")
        return known is not None

    def action_new(self) -> None:
        """Write down what is about nobody in the register."""
        sheets.ask(self.app, (None, ["About nobody in the register."]), (), self._done)

    def action_everybody(self) -> None:
        """Show everybody's, or one's own again."""
        self.everybody = not self.everybody
        self.refill()

    def action_again(self) -> None:
        """Read the list again."""
        self.refill()

    def _done(self, came: Next | None) -> None:
        if came is not None:
            self.just = came.words
            self.refill()


def _more(row: MatterLine, width: int) -> list[Content]:
    """Return the whole of a matter: about whom, in which words, whom to ring."""
    lines = [each for text in sheets.about(row) for each in wrapped(text, width, 4)]
    if row.contact_stopped:
        lines.append(f"! {row.contact_stopped}")
    elif row.ring:
        lines.append(f"Ask for {row.ask_for}, {row.ring}.")
    if row.late_by_days and not row.is_closed:
        lines.append(f"It was due on {full_day(row.due_on)}.")
    return [literal(line) for line in lines[:MORE]]


def _matters(desk: Desk, *, everybody: bool) -> tuple[Sequence[MatterLine], Sequence[Answered]]:
    from recall.desk.worklists import matter_list

    return matter_list.matters(desk, everybody=everybody), matter_list.answered_lately(desk)
