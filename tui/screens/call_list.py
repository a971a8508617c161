"""The list of calls as it is read and drawn: one person in hand, everybody to come.

The call card of the person in hand is on the left, everybody to come on the right. Below stand what
to do now and what was done last; both are always there.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date
from functools import partial
from typing import TYPE_CHECKING

from textual import on
from textual.containers import Horizontal
from textual.content import Content
from textual.timer import Timer
from textual.widget import Widget
from textual.widgets import Static

from recall.errors import RecallError
from tui.calls import queueing
from tui.calls.card import call_card, outcome_lines, outcomes, shortest
from tui.calls.line import call_line
from tui.calls.lines import Lines
from tui.calls.numbers import turned
from tui.people.card import now_open
from tui.register.once import once
from tui.screens.beside_call import BesideTheCall
from tui.widgets.row_list import Part, RowList
from tui.widgets.words import Words
from tui.words.signs import CHANNEL_WORDS
from tui.words.text import literal, plain, wrapped

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.done import Mine
    from recall.desk.people.person_card import PersonCard
    from recall.desk.worklists.call_card import CallCard
    from recall.desk.worklists.call_lines import Line

CHANNELS = tuple(CHANNEL_WORDS)
REST = 0.2
"""Seconds after which a cursor rests, and the person in hand is read anew."""
EACH = 60.0
"""Seconds between two readings of the list: other desks work at it as well."""
READING = "Reading the list …"
JUST = 4
"""Lines of what was done last, at the most: what follows stands at its end."""
OUTCOME_LINES, LEAST_OUTCOMES = 6, 2
"""Lines that are kept for the outcomes; so few where what must be said takes the room."""
REST_IN, AGAIN = "… more: y for the words, Enter for all else", "… more: . or Esc"
"""What stands in the last line of a card that is longer than its room."""


class CallListScreen(BesideTheCall):
    """The day's calls, without what is recorded of them."""

    def __init__(self) -> None:
        """Begin with the telephone, and nothing done."""
        super().__init__()
        self._way = 0, CHANNELS[0]
        """By which way whom, by their follow-up: the next one is rung again."""
        self.every_outcome = False
        self._more_of: int | None = None
        """For whom every outcome is shown: the card of the next one is read first."""
        self.just = ""
        self.last_done: Next | None = None
        """What `just` tells, as long as it stands."""
        self.done_today = 0
        self._finished: list[int] = []
        self._work: int | None = None
        """Who was in hand last of those who are rung now: there the work goes on."""
        self._stay_on: int | None = None
        self._onward: tuple[int, ...] = ()
        """Who comes after whoever is on the line, the next first: there the work goes on."""
        self._same_number: int | None = None
        """Who came into hand because the number was rung already: their line stays where it was,
        whoever presses more, so that the work goes on after it and not far below."""
        self._turns: dict[int, int] = {}
        """How many numbers were passed over, by the follow-up in hand."""
        self.lines = Lines()
        self._card: PersonCard | None = None
        self._rest: Timer | None = None
        self._wrong_is_kept = False
        self._is_ready = False

    def body(self) -> Iterable[Widget]:
        """Give the call card, the list, and the two lines below."""
        yield Horizontal(
            Words(id="call-card"),
            RowList(self.draw_row, empty=READING, id="rows"),
            classes="body",
        )
        yield Static(id="now")
        yield Static(id="just")

    @property
    def row(self) -> CallCard | None:
        """Return the person in hand."""
        found: CallCard | None = self.row_list.row
        return found and turned(found, self._turns.get(found.follow_up, 0))

    def on_mount(self) -> None:
        """Put the cursor into the list, and read it again now and then."""
        self.row_list.focus()
        self.set_interval(EACH, self.each)

    def each(self) -> None:
        """Go on with whoever is in hand, and read the list again."""
        self.keep()
        self.refill()

    # What is read.

    def refill(self, stay_on: int | None = None) -> None:
        """Read the order of the list; the row under the cursor stays where it is."""
        # Kept until it is shown: a look at the register may read the list once more before that.
        self._stay_on = stay_on or self._stay_on
        self.read("queue", queueing.day, partial(self._show, self._stay_on))

    def _show(self, stay_on: int | None, day: tuple[Sequence[Line], Mine]) -> None:
        self._stay_on = None
        self.lines, self.done_today = Lines(day[0]), day[1].counted
        self._forget_taken_back(day[1])
        if not self._wrong_is_kept:
            self.went_well()
        kept = self.on_the_line if self.on_the_line is not None else self._same_number
        if kept is not None and (kept == self.on_the_line or kept in self.lines.people):
            self.lines.put_before(kept, self._onward)
        self.lines.lead(self.row_list.number if stay_on is None else stay_on)
        begins, self._is_read, was = not self._is_read, True, self.row_list.number
        self.row_list.say_empty("Nobody is left to reach today.")
        self.row_list.forget()
        self.row_list.show(self.lines.heads, stay_on=stay_on)
        self.count()
        self.draw_call_card()
        if begins:
            self.take(self.row_list.numbers)
        elif self.row_list.number != stay_on:
            self._gone_on(was)

    def _forget_taken_back(self, mine: Mine) -> None:
        """Say of what was done last here that it was taken back, where that was done elsewhere."""
        last = self.last_done
        if last is not None and last.action <= mine.known and last.action not in mine.standing:
            self.just = f"{self.just.partition(': ')[0]}: taken back. It stands no longer."
            self.last_done = None
            if self._finished and self._finished[-1] == last.follow_up:
                self._finished.pop()

    def _gone_on(self, was: int | None) -> None:
        """Where who was in hand left the list, take the next one whom no other desk holds."""
        now = self.row_list.number
        if was is not None and now not in (None, was) and was not in self.lines.people:
            self.take_onward()

    def count(self) -> None:
        """Say in the headline how many are left and done."""
        left = f"{len(self.lines.people):,} left today"
        self.headline(left, f"{self.done_today:,} done")

    @on(RowList.Wanted)
    def _wanted(self, wanted: RowList.Wanted) -> None:
        ask = partial(queueing.rows, numbers=wanted.numbers, on_the_line=self.on_the_line)
        # A group of its own for each page: no page replaces another.
        self.read(f"rows {wanted.numbers[0]}", ask, self._filled)

    def _filled(self, rows: dict[int, CallCard | None]) -> None:
        # Whoever is on the line stays, also where they were read before that was known.
        rows = {n: row for n, row in rows.items() if row is not None or n != self.on_the_line}
        marked, stay_on = self.row_list.number, None
        for number in (number for number, row in rows.items() if row is None):
            after = self.lines.done(number, out=True)
            stay_on = after if number == marked else stay_on
        self.row_list.fill(rows)
        self._make_ready()
        self._remember_work()
        if self.row_list.numbers != self.lines.heads:
            self.row_list.show(self.lines.heads, stay_on=stay_on)
        self._gone_on(marked)
        self.count()

    @on(RowList.Marked)
    def _marked(self) -> None:
        if self.row_list.number != self._same_number and self._stay_on is None:
            self._same_number = None
        self._remember_work()
        self.draw_call_card()
        if self._rest is not None:
            self._rest.stop()
        self._rest = once(self, REST, self._look_again)

    def _remember_work(self) -> None:
        """Remember where the work is, by nothing that is being read anew: its hour may be other."""
        row = self.row
        if row is None or not self.row_list.is_fresh(row.follow_up):
            return
        if not self._is_for_later(row):
            self._work = row.follow_up

    def _look_again(self) -> None:
        """Read the person in hand anew once the cursor rests: another desk may be at it.

        Not while the list is about to be shown with somebody in hand: until then the cursor may
        rest on another. Nor does anybody leave the list under a sheet that is about them.
        """
        if self._stay_on is not None:
            return
        number, was = self.row_list.number, self.on_the_line
        self.take_resting(number)
        if was is not None and self.on_the_line is None:
            self.refill()  # who was handed over is a clinician's from now on
        if number is not None and self.is_current:
            some = (number, *self.lines.others(number)[:1])
            ask = partial(queueing.rows, numbers=some, on_the_line=self.on_the_line)
            self.read("hand", ask, self._filled_in)
        if self.row is not None and self.has_class("-wide"):
            card = partial(queueing.card, ref=self.row.reference)
            self.read("card", card, self._carded, self._no_card)

    def _make_ready(self) -> None:
        """Once somebody stands there to be read, make ready what the first outcome takes."""
        if not self._is_ready:
            self._is_ready = True
            once(self, REST, lambda: self.read("ready", queueing.make_ready, lambda _: None))

    def _filled_in(self, rows: dict[int, CallCard | None]) -> None:
        if rows != {n: self.row_list.row_of(n) for n in rows}:
            self._filled(rows)

    def _carded(self, card: PersonCard) -> None:
        self._card = card
        self.draw_call_card()

    def _no_card(self, _error: RecallError) -> None:
        """What there is room for and cannot be read is left out; the card has what matters."""

    def _is_for_later(self, row: CallCard) -> bool:
        """Return whether somebody stands at the end of the list, for an hour that has not come."""
        today = self.app.today
        if today is None or row.hour is None or row.next_step_on != today:
            return False
        return not self.app.has_come(today, row.hour)

    @on(RowList.Chosen)
    def _chosen(self) -> None:
        self.action_open()

    # What is drawn.

    def with_other(self, row: CallCard) -> str:
        """Return in words that another desk has somebody in hand, or nothing."""
        app = self.app
        return queueing.with_other(row, app.acting, app.hand.mine, app.is_past)

    def draw_row(self, row: CallCard, width: int) -> Sequence[Part]:
        """Return one line of the list."""
        taken = bool(self.with_other(row))
        more = len(self.lines.others(row.follow_up))
        return call_line(row, width, self.app.today, taken=taken, more=more)

    def draw_call_card(self) -> None:
        """Draw the call card, what to do now, and what was done last."""
        row, shown = self.row, self.query_one("#call-card", Static)
        # Nothing here changes its size: laying the screen out anew would cost more than all.
        self.query_one("#now", Static).update(self._now(row), layout=False)
        self._draw_just()
        today = self.app.today
        if row is None or today is None:
            shown.update(literal(self._nobody()), layout=False)
            return
        width, height = shown.size.width, shown.size.height
        lines = self._card_and_outcomes(row, today, width, height)
        if self._card is not None and self._card.ref == row.reference and len(lines) < height - 2:
            lines += [Content(""), *now_open(self._card, today, width)]
        shown.update(Content("\n").join(lines[:height]), layout=False)

    def _card_and_outcomes(
        self, row: CallCard, today: date, width: int, height: int
    ) -> list[Content]:
        """Return the card, and below it as many outcomes as what must be said leaves room for."""
        here = self.lines.said(row.follow_up)
        self.every_outcome = self.every_outcome and self._more_of == row.follow_up
        if self.every_outcome:
            kept = outcome_lines(width)
            lines = call_card(row, today, width, max(3, height - kept), here, AGAIN)
            gap = [Content("")] if len(lines) + kept < height else []
            return [*lines, *gap, *outcomes(width, height - len(lines) - len(gap))]
        least = height - 1 - len(shortest(row, today, width, here))
        above = height - 1 - max(LEAST_OUTCOMES, min(OUTCOME_LINES, least))
        lines = call_card(row, today, width, max(3, above), here, REST_IN)
        return [*lines, Content(""), *outcomes(width, height - len(lines) - 1)]

    def _nobody(self) -> str:
        if not self._is_read:
            return READING
        if self.row_list.numbers:
            return "…"
        return "Nobody is left to reach today. F2 shows what else there is."

    def _now(self, row: CallCard | None) -> Content:
        if row is None:
            is_empty = self._is_read and not self.row_list.numbers
            here = "nothing to do here." if is_empty else READING
            return literal(f"Now   {here}", "$desk-quiet")
        other = self.with_other(row)
        text = other or queueing.what_now(row, self.channel)
        if row.follow_up == self.on_the_line == self.offered:
            text = queueing.OFFER_TOO
        return Content.assemble(("Now   ", "bold $desk-lead"), (plain(text), "bold"))

    def _draw_just(self) -> None:
        """Draw what was done last, whole: it takes more lines only where it needs them."""
        just, text = self.query_one("#just", Static), self._just()
        high = max(2, text.plain.count("\n") + 1)
        if just.styles.height is None or just.styles.height.value != high:
            just.styles.height = high
        just.update(text, layout=False)

    def _just(self) -> Content:
        lines = wrapped(f"Last {self.just or 'nothing yet'}", max(20, self.size.width - 3), JUST)
        rest = "\n".join([lines[0].removeprefix("Last "), *lines[1:]])
        return Content.assemble(("Last  ", "$desk-quiet"), (rest, "$desk-quiet"))

    def show_waiting(self, words: str) -> None:
        """Show the key that was pressed where what came of it will stand."""
        if words:
            shown = literal(f"Last  {words} …", "$desk-quiet")
            self.query_one("#just", Static).update(shown, layout=False)
        else:
            self._draw_just()

    def on_resize(self) -> None:
        """Show more where there is room."""
        self.set_class(self.size.width >= 110, "-wide")

    @on(Words.Resized, "#call-card")
    def _resized(self) -> None:
        """Fill the card anew, also where only the lines below it take more or fewer."""
        self.draw_call_card()

    # What turns the view.

    def action_more(self) -> None:
        """Show every outcome, or the card again."""
        self.every_outcome = not self.every_outcome
        self._more_of = self.row_list.number
        self.draw_call_card()

    def put_away(self) -> bool:
        """Show the card again where every outcome stands in its place; return whether that was."""
        was = self.every_outcome
        if was:
            self.action_more()
        return was

    @property
    def channel(self) -> str:
        """Return the way in which whoever is in hand is reached: by telephone, unless chosen."""
        whose, way = self._way
        return way if self.row is not None and self.row.follow_up == whose else CHANNELS[0]

    def action_via(self) -> None:
        """Take the next way of reaching people."""
        way = CHANNELS[(CHANNELS.index(self.channel) + 1) % len(CHANNELS)]
        self._way = (self.row.follow_up if self.row else 0), way
        self.draw_call_card()

    def action_again(self) -> None:
        """Read the list again."""
        self.refill()

    def action_open(self) -> None:
        """Show everything on the person in hand."""
        from tui.screens.person import PersonScreen

        if self.row is not None:
            self.app.push_screen(PersonScreen(self.row.reference))

    def action_number(self) -> None:
        """Take the next number of the person in hand."""
        row = self.row
        if row is None or len(row.numbers) < 2:
            self.say("No other number is recorded for this person.")
            return
        self._turns[row.follow_up] = self._turns.get(row.follow_up, 0) + 1
        self.draw_call_card()
