"""A visit as it is typed: both ears side by side, what was seen last time, and the plan.

Everything typed is kept at the desk until the visit is closed: leaving the screen, an error or
another desk's change lose nothing.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import partial
from typing import TYPE_CHECKING, ClassVar

import msgspec
from rich.cells import cell_len
from textual import on
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from recall.care.case import Case
from recall.care.dates import age_on
from recall.care.ear import SIDES, Side
from recall.errors import RecallError
from recall.schedule.plan import Plan
from tui.dialogs.digits import Digits
from tui.ears.fields import FIELDS, USUAL, Field, leads_past
from tui.ears.form import VisitForm, copy_across, empty, last_ear, wrongs
from tui.ears.shortcut import fitting, gave_way, pressed
from tui.screens.base import DeskScreen
from tui.visits import sheets
from tui.visits.keys_in_turn import jump_key, orders
from tui.visits.plan_text import plan_lines, visits_needed
from tui.visits.ready import plan_with_judged
from tui.visits.said import report_words
from tui.widgets.ear_grid import EarGrid
from tui.words.text import cut, full_day, literal, plain

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.people.ear_history import EarHistory

WIDE = 110
NEWLINE = Content("\n")
UNDO_DEPTH = 200


class VisitTyping(DeskScreen):
    """One visit of one person as it is typed: the form, the plan, and the keys of the findings."""

    WHERE = "visit"
    CSS_PATH = "../styles/clinic.tcss"
    AUTO_FOCUS: ClassVar[str] = "#grid"

    def __init__(self, ref: str) -> None:
        """Begin a visit of the person with a reference, or take up one that was begun."""
        super().__init__()
        self.ref = ref
        self.known: EarHistory | None = None
        self.form: VisitForm | None = None
        self.plan: Plan | None = None
        self.judged: list[str] = []
        """What was made of lines of the plan, in words."""
        self.told = ""
        self._before: list[VisitForm] = []
        self._jumped: tuple[str, int] | None = None
        """The letters of the last jump, and where it led."""
        self._typed_at: tuple[Field, Side] | None = None
        """What was typed last, as long as the mark stands where that led to."""
        self._led_to: tuple[int, Side] | None = None

    def body(self) -> Iterable[Widget]:
        """Give the person, both ears, what the digits mean, and the plan."""
        yield Static(literal("Reading …"), id="who")
        yield Static(id="cautions")
        with Vertical(id="halves", classes="body"):
            with Vertical(id="ears"):
                yield Static(id="head")
                yield EarGrid(VisitForm(on=self.app.today or sheets.NO_DAY), orders(), jump_key())
                yield Static(id="legend")
                yield Static(id="beside")
            with Vertical(id="plan-half"):
                yield Static(id="plan-head")
                yield VerticalScroll(Static(id="plan"), id="plan-scroll", can_focus=False)

    @property
    def grid(self) -> EarGrid:
        """Return both ears."""
        return self.query_one(EarGrid)

    # What is read.

    def refill(self) -> None:
        """Read what is known of the ears; what is typed stays."""
        self.read("history", partial(history, ref=self.ref), self._show_history)

    def _show_history(self, known: EarHistory) -> None:
        self.went_well()
        self.known = known
        begun = self.app.begun.get(self.ref)
        if self.form is None:
            today = self.app.today
            assert today is not None, "the register is open once it has answered"
            self.form = begun or VisitForm(on=today, examiner=self.app.acting)
            if begun is not None:
                self.told = "Taken up where you left it."
        self._changed(self.form, keep=False)

    # What changes the form.

    def change(self, form: VisitForm | None) -> bool:
        """Take another state of the form; None changes nothing. Return whether one was taken."""
        if form is None or self.form is None:
            return False
        if form != self.form:
            self._before = [*self._before[-UNDO_DEPTH:], self.form]
        self._changed(form)
        return True

    def take(self, form: VisitForm | None) -> None:
        """Take what a sheet gave."""
        self.change(form)

    def _changed(self, form: VisitForm, *, keep: bool = True) -> None:
        self.form = form
        if keep:
            self.app.begun[self.ref] = form
        if self.known is not None:
            before = before_visit(self.known, form)
            last = {side: last_ear(before, side) for side in SIDES}
            self.grid.show_last(last, max((v.on for v in before.visits), default=None))
        self.grid.show(form, frozenset((w.side, f) for w in wrongs(form) for f in w.fields))
        self._draw()
        self.plan_again()

    def plan_again(self) -> None:
        """Work the plan out again for what is typed now."""
        known, form = self.known, self.form
        if known is None or form is None:
            return
        self.read("plan", partial(_planned, known=known, form=form), self._show_plan)

    def _show_plan(self, made: tuple[Plan, list[str]]) -> None:
        self.plan, self.judged = made
        self._draw_plan()

    # What is drawn.

    def on_resize(self) -> None:
        """Put the plan beside the ears where there is room."""
        self.set_class(self.size.width >= WIDE, "-wide")
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        known, form, today = self.known, self.form, self.app.today
        if known is None or form is None or today is None:
            return
        self.query_one("#who", Static).update(who_line(known, today, self.size.width - 2))
        cautions = self.query_one("#cautions", Static)
        cautions.update(NEWLINE.join([literal(f"! {each.words}") for each in known.cautions]))
        cautions.set_class(bool(known.cautions), "-said")
        self.query_one("#head", Static).update(Content.styled(self.grid.head(), "$desk-quiet"))
        self.query_one("#beside", Static).update(self._beside(form))
        self._draw_legend()
        self._draw_plan()

    def _draw_legend(self) -> None:
        if self.form is None:
            return
        if self.grid.letters is not None:
            says = "Go to which finding? Two letters of its name."
            self.query_one("#legend", Static).update(literal(says, "bold"))
            return
        row, wrong = self.grid.field, [w for w in wrongs(self.form) if w.side == self.grid.side]
        mine = next((w for w in wrong if set(w.fields) & set(row.covers)), None)
        if mine is not None:
            self.query_one("#legend", Static).update(literal(f"! {mine.says}", "bold $desk-alarm"))
            return
        if row.kind != "words":
            line = Content.assemble(("Enter", "bold $desk-key"), f" {row.hint}")
        else:
            parts = [((f"{a.key} ", "bold $desk-key"), f"{a.words}  ") for a in row.answers]
            line = Content.assemble(*[each for part in parts for each in part])
        self.query_one("#legend", Static).update(line)

    def _beside(self, form: VisitForm) -> Content:
        said = ", ".join(report_words(each) for each in form.reported)
        kind = sheets.kind_words(form, self.plan)
        parts = [("Said ", "$desk-quiet"), (plain(said) or "—", ""), ("  Kind ", "$desk-quiet")]
        note = ("  Note ", "$desk-quiet"), (plain(form.note) or "—", "")
        return Content.assemble(*parts, (kind, ""), *note)

    def _draw_plan(self) -> None:
        plan, today, form = self.plan, self.app.today, self.form
        if plan is None or today is None or form is None:
            return
        box = self.query_one("#plan-scroll")
        lines = plan_lines(plan, today, max(30, box.size.width - 4), begun=not form.is_empty)
        lines += [literal(each, "$desk-quiet") for each in self.judged]
        wrong = wrongs(form)
        if wrong:
            lines = [literal(f"! {w.says}", "bold $desk-alarm") for w in wrong] + lines
        self.query_one("#plan", Static).update(NEWLINE.join(lines))
        head = f"Plan  {visits_needed(plan)}" if not form.is_empty else "Open before this visit"
        told = f"   {self.told}" if self.told else ""
        self.query_one("#plan-head", Static).update(literal(head + told))
        self.query_one("#beside", Static).update(self._beside(form))

    @on(EarGrid.Jump)
    def _jump(self, jump: EarGrid.Jump) -> None:
        """Go to the likeliest finding; the same letters once more lead on to the next."""
        places, now = sheets.places_by_letters(jump.letters), self.grid.row
        if not places:
            self.app.bell()
            self.say(f"No finding begins with {jump.letters}.")
            self._draw_legend()
            return
        again = self._jumped == (jump.letters, now)
        at = (places.index(now) + 1) % len(places) if again else 0
        self._jumped = jump.letters, places[at]
        following = FIELDS[places[(at + 1) % len(places)]].label
        self.told = f"{jump.letters} again: {following}." if len(places) > 1 else ""
        self.grid.mark(places[at])
        self._draw_plan()

    def action_jump(self) -> None:
        """Go to a finding by two letters of its name."""
        self.grid.begin_jump()

    @on(EarGrid.Moved)
    def _moved(self) -> None:
        if self.form is not None:
            self._draw_legend()

    # What the keys of the grid do.

    @on(EarGrid.Digit)
    def _digit(self, digit: EarGrid.Digit) -> None:
        row, form = self.grid.field, self.form
        if self.app.screen is not self:  # typed for a sheet that was still opening
            if isinstance(self.app.screen, Digits):
                self.app.screen.early(int(digit.key))
            return
        if form is None:
            return
        if row.kind != "words":
            self._type(digit.key)
        elif (made := pressed(form, self.grid.side, row, digit.key)) is not None:
            self.told = gave_way(form, made, self.grid.side, row)
            self.change(made)
            self._go_on_from(row)
        else:
            self.app.bell()

    @on(EarGrid.Order)
    async def _order(self, order: EarGrid.Order) -> None:
        if self.app.screen is self:
            await self.run_action(order.action)

    def _go_on(self) -> None:
        """Mark the next finding; after the last usual one, the other ear's first."""
        grid = self.grid
        if grid.row == USUAL - 1 and grid.side == "right":
            grid.mark(0, "left")
        else:
            grid.mark(grid.row + 1)

    @on(EarGrid.Chosen)
    def action_type(self) -> None:
        """Type into the marked cell, where it takes text."""
        if self.grid.field.kind == "words":
            self._go_on()
        else:
            self._type("")

    def _type(self, begin: str) -> None:
        if self.form is not None:
            sheet = sheets.typing(self.form, self.grid.side, self.grid.field, begin)
            self.app.push_screen(sheet, self._typed)

    def _typed(self, form: VisitForm | None) -> None:
        if self.change(form):
            self._go_on_from(self.grid.field)

    def _go_on_from(self, row: Field) -> None:
        """Mark the next finding, and remember which one was just typed."""
        side = self.grid.side
        self._go_on()
        while self.form is not None and leads_past(row, self.form.ear(side), self.grid.field):
            self._go_on()
        self._typed_at, self._led_to = (row, side), (self.grid.row, self.grid.side)

    def action_same(self) -> None:
        """Write the same into the other ear: what was just typed; where the mark moved, its row."""
        if self.form is None:
            return
        grid, just = self.grid, self._typed_at
        still = just is not None and self._led_to == (grid.row, grid.side)
        row, side = just if just is not None and still else (grid.field, grid.side)
        other: Side = "left" if side == "right" else "right"
        self.change(fitting(copy_across(self.form, side, row), other))
        self._typed_at = self._led_to = None
        if not still:
            self._go_on()

    def action_blank(self) -> None:
        """Empty the marked cell."""
        if self.form is not None:
            self.change(empty(self.form, self.grid.side, self.grid.field))

    def action_undo(self) -> None:
        """Take back the last thing typed."""
        if self._before:
            self._changed(self._before.pop())
            self.told = "Taken back."
            self._draw_plan()

    def action_down(self) -> None:
        """Mark the next finding."""
        self.grid.mark(self.grid.row + 1)

    def action_up(self) -> None:
        """Mark the finding before."""
        self.grid.mark(self.grid.row - 1)

    def action_right_ear(self) -> None:
        """Go to the right ear, which is drawn on the left."""
        self.grid.mark(self.grid.row, "right")

    def action_left_ear(self) -> None:
        """Go to the left ear, which is drawn on the right."""
        self.grid.mark(self.grid.row, "left")

    def action_other_ear(self) -> None:
        """Go to the other ear."""
        self.grid.mark(self.grid.row, "left" if self.grid.side == "right" else "right")

    def action_first(self) -> None:
        """Mark the first finding."""
        self.grid.mark(0)

    def action_last(self) -> None:
        """Mark the last finding."""
        self.grid.mark(10_000)

    def action_plan_down(self) -> None:
        """Scroll the plan down."""
        self._roll(1)

    def action_plan_up(self) -> None:
        """Scroll the plan up."""
        self._roll(-1)

    def _roll(self, way: int) -> None:
        box = self.query_one("#plan-scroll", VerticalScroll)
        box.scroll_relative(y=way * max(1, box.size.height - 1), animate=False)

    def report(self, error: RecallError) -> None:
        """Say what went wrong; everything typed stays."""
        super().report(error)
        if self.known is None:
            self.query_one("#who", Static).update(literal("This person cannot be shown."))


def before_visit(known: EarHistory, form: VisitForm) -> Case:
    """Return what was known before the visit that is typed."""
    from recall.desk.people.ear_history import without

    case = without(known, form.corrects).case
    earlier = tuple(v for v in case.visits if v.on <= form.on)
    return msgspec.structs.replace(case, visits=earlier)


def who_line(known: EarHistory, today: date, width: int) -> Content:
    """Return name, birth date with age, postcode and reference, together for the check.

    Where there is little room the name is shortened, and never what tells two people apart.
    """
    years = age_on(known.born, today)
    rest = f"   born {full_day(known.born)} ({years})   {plain(known.postcode) or '—'}   "
    room = max(8, width - cell_len(rest) - cell_len(plain(known.ref)))
    name = cut(known.name, room).rstrip()
    return Content.assemble((name, "bold"), rest, (plain(known.ref), "$desk-quiet"))


def history(desk: Desk, *, ref: str) -> EarHistory:
    """Return what is known of somebody's ears."""
    from recall.desk.people.ear_history import ear_history

    return ear_history(desk, ref)


def _planned(desk: Desk, *, known: EarHistory, form: VisitForm) -> tuple[Plan, list[str]]:
    from recall.desk.people.ear_history import without

    visit = form.visit if form.has_findings else None
    return plan_with_judged(desk, without(known, form.corrects), visit, form)
