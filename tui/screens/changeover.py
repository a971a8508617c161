"""History: what was asked for before the practice went live, looked through by a clinician."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from tui.calls.acts import last
from tui.calls.undo import ask_undo
from tui.dialogs.choose import Choice, Choose
from tui.manager import answering
from tui.screens.listing import ListScreen
from tui.widgets.row_list import Part, RowList
from tui.words.text import literal, several

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.plans.changeover import OldKind, OldLine
    from recall.desk.plans.looking_through import What

NEWLINE = Content("\n")
MORE = 8
"""Lines at most about the marked line."""
NOT_OLD = "This is a plan to be confirmed: f confirms it, Enter shows the person."


class ChangeoverScreen(ListScreen):
    """What history asked for, in order of danger and in portions."""

    WHERE = "changeover"
    CSS_PATH = "../styles/clinic.tcss"
    REFILL_ON_RETURN = True
    HELP = """\
What was asked for before you went live, the most dangerous first, so much a day as the settings
say. Nobody is rung, written to or chased about it before somebody who may decide has answered:
s it is still open, d it was done, n it is not needed, c somebody else follows it. Space picks
lines for one answer about several, * picks all that are shown; k shows everything of one kind as
a group. The sheet asks how many you mean. u takes an answer back.

Where the portion leaves room, plans from files that wait to be confirmed stand below: f."""

    def __init__(self) -> None:
        """Begin with today's portion."""
        super().__init__()
        self.shown: answering.Shown | None = None
        self.kind = ""
        self.beyond = 0
        self.just = ""
        self.picked: set[int] = set()

    def body(self) -> Iterable[Widget]:
        """Give a sentence, the list, and what is told of the marked line."""
        yield Static(id="told")
        yield RowList(self.draw_row, empty="Reading …", id="rows")
        yield Static(id="more")

    @property
    def row(self) -> OldLine | answering.PlanRow | None:
        """Return the marked line."""
        found: OldLine | answering.PlanRow | None = self.row_list.row
        return found

    def on_mount(self) -> None:
        """Put the cursor into the list."""
        super().on_mount()
        self.row_list.focus()

    def refill(self) -> None:
        """Read the list; the marked line stays."""
        if self.kind:
            read = partial(answering.of_kind, kind=self.kind)
            self.read("changeover", read, self._show, lambda _error: self._whole())
        else:
            self.read("changeover", partial(answering.portion, more=self.beyond), self._show)

    def _whole(self) -> None:
        """Go back to the portion where nothing of the kind is left."""
        self.kind = ""
        self.refill()

    def _show(self, shown: answering.Shown) -> None:
        self.went_well()
        self.shown = shown
        self.picked &= {row.number for row in shown.rows}
        more = ": + shows more, k everything of one kind" if shown.left else ""
        self.row_list.say_empty(f"Nothing more for today{more}.")
        self.row_list.forget()
        self.row_list.show([row.number for row in shown.rows])
        self.row_list.fill({row.number: row for row in shown.rows})
        self._draw()

    @on(RowList.Marked)
    def _draw(self) -> None:
        if self.shown is None or self.app.today is None:
            return
        picked = f"{several(len(self.picked), 'line')} picked. " if self.picked else ""
        told = [each for each in (self.just, picked + self.shown.says) if each]
        self.query_one("#told", Static).update(NEWLINE.join([literal(each) for each in told]))
        row = self.row
        lines = answering.more(row, self.app.today, self.size.width - 3) if row else []
        self.query_one("#more", Static).update(NEWLINE.join(lines[:MORE]))

    def draw_row(self, row: OldLine | answering.PlanRow, width: int) -> Sequence[Part]:
        """Return one line of the list, with a mark where it is picked."""
        picked = "✓" if row.number in self.picked else " "
        return [(picked, 2, "good"), *answering.draw(row, width - 2)]

    # Answers.

    def meant(self) -> list[OldLine]:
        """Return the picked lines, or the marked one; none where that is a plan to be confirmed."""
        rows = [] if self.shown is None else self.shown.rows
        marked = self.row.number if self.row is not None else None
        wanted: set[int | None] = {*self.picked} or {marked}
        found = [row for row in rows if row.number in wanted]
        return [row for row in found if not isinstance(row, answering.PlanRow)]

    def _answer(self, what: What) -> None:
        lines = self.meant()
        if lines:
            self.app.push_screen(answering.sheet(what, lines), self._done)
        elif self.row is not None:
            self.say(NOT_OLD)

    def action_still_open(self) -> None:
        """Say that it is still open: one line at once, several on a sheet with their count."""
        from recall.desk.plans.looking_through import Answer

        lines = self.meant()
        if len(lines) != 1 or self.picked:
            self._answer("still_open")
        else:
            answer = partial(answering.store, lines=lines, given=Answer("still_open"))
            self.write(answer, self._done)

    def action_done(self) -> None:
        """Say where and when it was done."""
        self._answer("done")

    def action_not_needed(self) -> None:
        """Say why it is not needed."""
        self._answer("not_needed")

    def action_under_care(self) -> None:
        """Say who follows it."""
        self._answer("under_care")

    def action_confirm(self) -> None:
        """Confirm the plans of the picked people, or of the marked one."""
        rows = [] if self.shown is None else self.shown.rows
        marked = self.row.number if self.row is not None else None
        wanted: set[int | None] = {*self.picked} or {marked}
        whose = list(dict.fromkeys(row.reference for row in rows if row.number in wanted))
        if whose:
            self.write(partial(answering.confirm, references=whose), self._done)

    def _done(self, words: str | None) -> None:
        if words:
            self.just = words
            self.picked = set()
            self.refill()

    def action_undo(self) -> None:
        """Take back what was answered last."""
        self.read_to_open("undo", last, self._undo)

    def _undo(self, done: Next | None) -> None:
        ask_undo(self, done, lambda came: self._done(came.words), at_once=False)

    # What is shown.

    def action_kinds(self) -> None:
        """Ask which kind to show as a group."""
        if self.kind:
            self._whole()
        else:
            self.read_to_open("kinds", answering.kinds, self._choose_kind)

    def _choose_kind(self, kinds: Sequence[OldKind]) -> None:
        if not kinds:
            self.say("Nothing is left to be looked through.")
            return
        choices = [Choice(k.kind, f"{k.kind}: {k.count:,}, {k.children_in_words()}") for k in kinds]
        self.app.push_screen(Choose("Everything that is alike", choices), self._kind_chosen)

    def _kind_chosen(self, kind: str | None) -> None:
        if kind:
            self.kind, self.picked = kind, set()
            self.refill()

    def action_more(self) -> None:
        """Show one more portion."""
        done = 0 if self.shown is None else self.shown.portions_done
        self.beyond = max(self.beyond + 1, done)
        self.refill()

    def action_pick(self) -> None:
        """Pick the marked line, or let it go."""
        if self.row is not None:
            self.picked ^= {self.row.number}
            self.row_list.redraw()
            self.row_list.move(1)
            self._draw()

    def action_pick_all(self) -> None:
        """Pick every line shown, or none."""
        everything = set() if self.shown is None else {row.number for row in self.shown.rows}
        self.picked = set() if self.picked == everything else everything
        self.row_list.redraw()
        self._draw()

    @on(RowList.Chosen)
    def action_open(self) -> None:
        """Show everything on the marked person."""
        from tui.screens.person import PersonScreen

        if self.row is not None:
            self.app.push_screen(PersonScreen(self.row.reference))

    def action_again(self) -> None:
        """Read the list again."""
        self.refill()
