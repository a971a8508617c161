"""Appointments: who comes on a day, one of them in hand, and one key for who came."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.containers import Container, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from recall.errors import RecallError
from recall.schedule.calendar import WEEKDAYS
from tui.appointments import acts, rows
from tui.calls.acts import last
from tui.calls.undo import ask_undo
from tui.dialogs.choose import Choose
from tui.dialogs.text_sheet import TextSheet
from tui.screens.listing import ListScreen
from tui.widgets.row_list import RowList
from tui.words.text import full_day, literal

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.worklists.appointments import AppointmentRow
    from recall.desk.worklists.earlier import Freed

WIDE = 110
NEWLINE = Content("\n")


class AppointmentsScreen(ListScreen):
    """The appointments of one day."""

    WHERE = "day"
    CSS_PATH = "../styles/clinic.tcss"
    REFILL_ON_RETURN = True
    HELP = """\
Who comes when and with whom; below stands what to know of the one in hand: what begins with “!”
before they are spoken to or, for whoever examines them, treated. Press 1 when they came, 2 when
they did not, 3 when whoever was to bring them did not; the next one is then in hand, and u takes
it back. A day that was worked on paper is typed in the same way: Left goes to the day before, one
key a row.

“^” would come earlier: when something is called off, f says whom to ring, in order. What is
free is said only as far as the bookings here tell: this is not the practice's appointment book.
Coming closes nothing by itself: the visit that is then recorded does."""

    def __init__(self) -> None:
        """Begin with today, and nothing done."""
        super().__init__()
        self.day: date | None = None
        self.shown: acts.Day | None = None
        self.just = self._done_last = ""
        self._hint_for: int | None = None
        """Who was in hand when it was said why nothing was done."""
        self._mine: list[tuple[int, int]] = []
        """What was recorded here: the action, and the appointment it was about."""
        self._stay_on: int | None = None

    def body(self) -> Iterable[Widget]:
        """Give how the day stands, its list, and what to know of the one in hand."""
        yield Static(literal("Reading …"), id="told")
        with Container(id="halves"):
            yield RowList(rows.draw, empty="", id="rows")
            yield VerticalScroll(Static(id="about"), id="more", can_focus=False)
        yield Static(id="just")

    @property
    def row(self) -> AppointmentRow | None:
        """Return the one in hand."""
        found: AppointmentRow | None = self.row_list.row
        return found

    def on_mount(self) -> None:
        """Put the cursor into the list."""
        self.row_list.focus()

    # What is read and drawn.

    def refill(self, stay_on: int | None = None) -> None:
        """Read the day; the one in hand stays in hand."""
        # Kept until it is shown: a look at the register may read the day once more before that.
        self._stay_on = stay_on or self._stay_on
        self.read("day", partial(acts.look, on=self.day), partial(self._show, self._stay_on))

    def _show(self, stay_on: int | None, found: acts.Day) -> None:
        self._stay_on = None
        self.went_well()
        first = self.shown is None or self.shown.on != found.on
        self.shown, self.day = found, found.on
        if first and stay_on is None:
            stay_on = next((row.id for row in found.rows if not row.ended), None)
        self.row_list.say_empty("Nobody comes.")
        self.row_list.forget()
        self.row_list.show([row.id for row in found.rows], stay_on=stay_on)
        self.row_list.fill({row.id: row for row in found.rows})
        self.headline()
        self._draw()

    def on_resize(self) -> None:
        """Show what to know beside the list where there is room."""
        self.set_class(self.size.width >= WIDE, "-wide")
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        found, today = self.shown, self.app.today
        if found is None or today is None:
            return
        said = rows.told(found, today, max(20, self.size.width - 2))
        self.query_one("#told", Static).update(NEWLINE.join([literal(line) for line in said]))
        row, about = self.row, self.query_one("#about", Static)
        lines = rows.about(row, today, self.query_one("#more").size.width - 3) if row else []
        about.update(NEWLINE.join(lines))
        self.query_one("#just", Static).update(literal(self.just or "Nothing recorded here yet."))

    @on(RowList.Marked)
    def _marked(self) -> None:
        if self._hint_for not in (None, self.row_list.number):
            self.just, self._hint_for = self._done_last, None
        self._draw()

    @on(RowList.Chosen)
    def action_open(self) -> None:
        """Show everything on the one in hand."""
        from tui.screens.person import PersonScreen

        if self.row is not None:
            self.app.push_screen(PersonScreen(self.row.ref))

    def title_now(self) -> str:
        """Return which day is shown, where it is not today."""
        if self.day is None or self.day == self.app.today:
            return "Appointments"
        return f"Appointments of {WEEKDAYS[self.day.weekday()][:3]} {full_day(self.day)}; today is"

    # Which day.

    def action_earlier_day(self) -> None:
        """Show the day before."""
        self._turn(-1)

    def action_later_day(self) -> None:
        """Show the next day."""
        self._turn(1)

    def _turn(self, days: int) -> None:
        if self.day is not None:
            self._go(self.day + timedelta(days=days))

    def _go(self, day: date | None) -> None:
        if day is not None:
            self.just, self._hint_for = self._done_last, None
            self.day = day
            self.refill()

    def action_today(self) -> None:
        """Show today."""
        self._go(self.app.today)

    def action_other_day(self) -> None:
        """Ask for a day."""
        self.app.push_screen(acts.other_day(), self._go)

    def action_again(self) -> None:
        """Read the day again."""
        self.refill()

    # What is recorded.

    def action_came(self) -> None:
        """Record that the one in hand came."""
        self._record("came", acts.came)

    def action_missed(self) -> None:
        """Record that the one in hand did not come."""
        self._record("did not come", partial(acts.missed, not_brought=False))

    def action_not_brought(self) -> None:
        """Record that the one in hand was not brought."""
        self._record("was not brought", partial(acts.missed, not_brought=True))

    def _record(self, what: str, work: Callable[..., Next]) -> None:
        row = self._in_hand()
        if row is not None:
            store: Callable[[Desk], Next] = partial(work, number=row.id)
            self.write(store, partial(self._recorded, row), partial(self._refused, row, what))

    def _in_hand(self) -> AppointmentRow | None:
        """Return the one in hand whose appointment stands; else say why no key acts."""
        row = self.row
        if row is None:
            self._tell("Nobody is in hand: Up and Down take somebody.")
        elif row.ended:
            how = rows.ENDED_WORDS.get(row.ended, row.ended)
            self._tell(f"{row.name}: {how}, recorded already. u takes back what you did last.")
        return row if row is not None and not row.ended else None

    def _tell(self, words: str) -> None:
        """Say why nothing was done, until another is in hand."""
        self.just, self._hint_for = words, self.row_list.number
        self._draw()

    def _recorded(self, row: AppointmentRow, came: Next) -> None:
        """Say what follows, and take the next one in hand who is not ticked off."""
        self._remember(row, came)
        waiting = [each.id for each in self._after(row) if not each.ended]
        self.refill(stay_on=next(iter(waiting), row.id))

    def _after(self, row: AppointmentRow) -> Sequence[AppointmentRow]:
        all_ = list(self.shown.rows) if self.shown else []
        place = next((n for n, each in enumerate(all_) if each.id == row.id), 0)
        return [*all_[place + 1 :], *all_[:place]]

    def _remember(self, row: AppointmentRow, came: Next) -> None:
        self._did(f"{row.name}: {came.words}")
        self._mine.append((came.action, row.id))

    def _did(self, words: str) -> None:
        """Say what was done last, and go on saying it."""
        self.just = self._done_last = words
        self._hint_for = None

    def _refused(self, row: AppointmentRow, what: str, error: RecallError) -> None:
        """Say for whom what was not recorded, and read the day: a desk may have been first."""
        self.just = f"{row.name}, “{what}”, was NOT recorded: {error.message}"
        self.refill()
        self.report(error)

    def _sheet(self, sheet: Any, row: AppointmentRow) -> None:
        def answered(came: Next | None) -> None:
            if came is not None:
                self._remember(row, came)
                self.refill(stay_on=row.id)

        self.app.push_screen(sheet, answered)

    def action_move(self) -> None:
        """Move the appointment of the one in hand."""
        row = self._in_hand()
        if row is not None:
            self._sheet(acts.moving(row), row)

    def action_call_off(self) -> None:
        """Call the appointment of the one in hand off."""
        row = self._in_hand()
        if row is not None:
            self._sheet(acts.calling_off(row), row)

    def action_wish(self) -> None:
        """Record when the one in hand would come earlier."""
        row = self._in_hand()
        if row is not None:
            self._sheet(acts.wishing(row), row)

    def action_free(self) -> None:
        """Show every time that is free on the day."""
        found = self.shown
        if found is None or not found.free:
            self._tell("No free times are known for this day.")
        else:
            lines = [literal(line) for line in found.free]
            self.app.push_screen(TextSheet(acts.free_title(found.on), NEWLINE.join(lines)))

    def action_offer(self) -> None:
        """Say whom to ring about a time that was called off."""
        row = self.row
        if row is None or not row.is_off:
            self._tell("Mark an appointment that was called off: its time may be free.")
            return
        ask = partial(acts.who_would_come, number=row.id)
        self.read_to_open("offer", ask, partial(self._offer, row))

    def _offer(self, row: AppointmentRow, freed: Freed) -> None:
        if not freed.wishes:
            self._tell(f"{freed.words} {acts.NOBODY_FITS}")
            return

        def chosen(place: str | None) -> None:
            if place is not None:
                self._sheet(acts.taking(freed, place), row)

        self.app.push_screen(Choose(f"{freed.words} Ring:", acts.wish_choices(freed)), chosen)

    def action_diary(self) -> None:
        """Say how many appointments the practice's own diary has for the day."""
        if self.day is not None:
            self.app.push_screen(acts.counting(self.day), self._counted)

    def _counted(self, came: Next | None) -> None:
        if came is not None:
            self._did(came.words)
            self.refill()

    def action_print(self) -> None:
        """Make a PDF of the day's list."""
        self._write(acts.print_day)

    def action_reminders(self) -> None:
        """Write the file for whatever sends reminders."""
        self._write(acts.write_reminders)

    def _write(self, work: Callable[..., str]) -> None:
        if self.day is not None:
            self._tell("Writing …")
            store: Callable[[Desk], str] = partial(work, on=self.day)
            self.write(store, self._written_file, self._not_written)

    def _written_file(self, words: str) -> None:
        self._did(words)
        self._draw()

    def _not_written(self, error: RecallError) -> None:
        self._tell("Nothing was written.")
        self.report(error)

    def action_undo(self) -> None:
        """Take back what was done last."""
        self.read_to_open("undo", last, self._undo)

    def _undo(self, done: Next | None) -> None:
        """Take it back at once where it was done here last; else ask first."""
        mine = done is not None and bool(self._mine) and self._mine[-1][0] == done.action
        ask_undo(self, done, self._undone, at_once=mine)

    def _undone(self, came: Next) -> None:
        self._did(came.words)
        about = self._mine.pop()[1] if self._mine else None
        self.refill(stay_on=about)  # the correction that follows is for the same person
