"""The course of both ears over the years, and the person's own wax cycle."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from recall.care.audiogram import audiogram
from recall.care.dates import add
from recall.care.ear import SIDES, Side
from recall.errors import RecallError
from tui.screens.base import DeskScreen
from tui.screens.visit_typing import who_line
from tui.widgets.audiogram_chart import LEGEND as HEARING_LEGEND
from tui.widgets.audiogram_chart import audiogram_lines
from tui.widgets.course_chart import LEGEND, axis, course_lines, cycle_words, scale_of
from tui.words.text import full_day, literal

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.people.ear_history import EarHistory

WIDE = 110
NEWLINE = Content("\n")


class CourseScreen(DeskScreen):
    """The course of one person's ears."""

    WHERE = "course"
    CSS_PATH = "../styles/clinic.tcss"
    HELP = """\
Each line has a mark at every visit that recorded something. A line that runs on between visits
is fluid that nobody has documented as gone; an empty place is not recorded. Grades are written
as digits with whoever graded below: another examiner may grade differently. Hearing is the mean
of 500, 1000, 2000 and 4000 Hz, further down is worse. Between two times of wax stands how long
it took to come back.
● is fluid, or a blocked canal; ◐ suspected, or partial; ○ absent, or clear; ? was not seen.
a draws the newest hearing test of each ear, with the one before it in grey.
Left and Right show the ears as they were known at an earlier day."""

    def __init__(self, ref: str) -> None:
        """Show the ears of the person with a reference."""
        super().__init__()
        self.ref = ref
        self.known: EarHistory | None = None
        self.cycle = ""
        self._years_back = 0
        self._draws_hearing = False

    def body(self) -> Iterable[Widget]:
        """Give the person, both ears, and the wax cycle."""
        yield Static(literal("Reading …"), id="who")
        with VerticalScroll(id="ears", can_focus=False), Horizontal(id="halves"):
            yield Static(id="right", classes="half")
            yield Static(id="left", classes="half")
        yield Static(id="cycle")

    def refill(self) -> None:
        """Read what is known of the ears."""
        self.read("course", partial(_read, ref=self.ref), self._show)

    def _show(self, found: tuple[EarHistory, str]) -> None:
        self.went_well()
        self.known, self.cycle = found
        self._draw()

    def on_resize(self) -> None:
        """Put the ears side by side where there is room."""
        self.set_class(self.size.width >= WIDE, "-wide")
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        known, today = self.known, self.app.today
        if known is None or today is None:
            return
        on = add(today, years=-self._years_back)
        then = f" as known on {full_day(on)}" if self._years_back else ""
        self.query_one("#who", Static).update(
            who_line(known, today, self.size.width - 2 - len(then)) + literal(then)
        )
        wide = self.has_class("-wide") or self._draws_hearing
        width = (self.size.width // 2 if wide else self.size.width) - 4
        draw = self._hearing if self._draws_hearing else self._course
        for side in SIDES:
            lines = draw(known, side, on, width)
            self.query_one(f"#{side}", Static).update(NEWLINE.join(lines))
        legend = HEARING_LEGEND if self._draws_hearing else LEGEND
        last = [literal(legend, "$desk-quiet")] if self.size.height >= 26 else []
        last.append(literal(self.cycle))
        self.query_one("#cycle", Static).update(NEWLINE.join(last))

    def _course(self, known: EarHistory, side: Side, on: date, width: int) -> list[Content]:
        wide, scale = self.has_class("-wide"), scale_of(known.case, on, width)
        head = _head(side)
        lines = [head, axis(scale)] if wide else [_beside(head, axis(scale))]
        bands = 3 if self.size.height < 26 else 4
        return [*lines, *course_lines(known.case, side, scale, tall=wide, bands=bands)]

    def _hearing(self, known: EarHistory, side: Side, on: date, width: int) -> list[Content]:
        found = audiogram([v for v in known.case.visits if v.on <= on])
        return [_head(side), *audiogram_lines(found, side, width)]

    def action_hearing(self) -> None:
        """Draw the newest hearing tests in the place of the course, or go back to it."""
        self._draws_hearing = not self._draws_hearing
        self.set_class(self._draws_hearing, "-beside")
        self._draw()

    def action_back_in_time(self) -> None:
        """Show what was known a year before."""
        if self._years_back < 20:
            self._years_back += 1
            self._draw()

    def action_on_in_time(self) -> None:
        """Go forward a year, at most to today."""
        self._years_back = max(0, self._years_back - 1)
        self._draw()

    def action_down(self) -> None:
        """Scroll down."""
        self.query_one("#ears", VerticalScroll).scroll_relative(y=1, animate=False)

    def action_up(self) -> None:
        """Scroll up."""
        self.query_one("#ears", VerticalScroll).scroll_relative(y=-1, animate=False)

    def action_visit(self) -> None:
        """Begin a visit."""
        self.app.begin_visit(self.ref)

    def report(self, error: RecallError) -> None:
        """Say what went wrong."""
        super().report(error)
        if self.known is None:
            self.query_one("#who", Static).update(literal("This person cannot be shown."))


def _head(side: Side) -> Content:
    return Content.styled(f"{side.upper()} EAR", "bold $desk-lead")


def _beside(head: Content, years: Content) -> Content:
    """Return the heading in the empty beginning of the line of years."""
    return head + years[head.cell_length :]


def _read(desk: Desk, *, ref: str) -> tuple[EarHistory, str]:
    from recall.desk.people.ear_history import ear_history

    known = ear_history(desk, ref)
    return known, cycle_words(known.case, desk.populations, desk.today)
