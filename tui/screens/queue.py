"""Calls: the people to reach today, one of them in hand.

The call card of the person in hand is on the left, everybody to come on the right. Below stand what
to do now and what was done last; both are always there.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.containers import Horizontal
from textual.content import Content
from textual.timer import Timer
from textual.widget import Widget
from textual.widgets import Static

from recall.desk.contacts.entries import Attempt
from recall.errors import Conflict, InputError, NotFound, RecallError
from tui.calls import acts, booking_sheets, queueing
from tui.calls.card import call_card, outcomes
from tui.calls.line import call_line
from tui.calls.numbers import turned
from tui.calls.undo import ask_undo
from tui.dialogs.hand_over import HandOver
from tui.people import changes, matters
from tui.people.card import now_open
from tui.screens.in_hand import InHandScreen
from tui.widgets.row_list import Part, RowList
from tui.widgets.words import Words
from tui.words.signs import CHANNEL_WORDS, words
from tui.words.text import literal, plain, wrapped

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.people.person_card import PersonCard
    from recall.desk.worklists.call_card import CallCard

CHANNELS = tuple(CHANNEL_WORDS)
REST = 0.2
"""Seconds after which a cursor rests, and the person in hand is read anew."""
EACH = 60.0
"""Seconds between two readings of the list: other desks work at it as well."""
READING = "Reading the list …"
OUTCOME_LINES = 6
"""Lines that are kept for the outcomes, however long the card."""


class QueueScreen(InHandScreen):
    """The day's calls."""

    WHERE = "queue"
    HELP = """\
The person in hand is on the left: check name, birth date and postcode with whoever answers
before you say anything. Read out what stands beside Say, and nothing else. What begins with “!”
comes before everything else.

Press the key of what came of it: the desk says what happens next and when, and takes the next
person in hand. Nobody leaves the list without an outcome, a booking or a reason.

Somebody who says it is worse: press w and do not ring off."""

    def __init__(self) -> None:
        """Begin with the telephone, and nothing done."""
        super().__init__()
        self.channel = CHANNELS[0]
        self.every_outcome = False
        self.just = ""
        self.done_today = 0
        self._finished: list[int] = []
        self._turns: dict[int, int] = {}
        """How many numbers were passed over, by the follow-up in hand."""
        self._card: PersonCard | None = None
        self._rest: Timer | None = None
        self._wrong_is_kept = False

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
        self.set_interval(EACH, self.refill)

    # What is read.

    def refill(self, stay_on: int | None = None) -> None:
        """Read the order of the list; the row under the cursor stays where it is."""
        self.read("queue", queueing.day, partial(self._show, stay_on))

    def _show(self, stay_on: int | None, day: tuple[Sequence[int], int]) -> None:
        numbers, self.done_today = day
        if not self._wrong_is_kept:
            self.went_well()
        numbers = self.with_the_line(numbers)
        begins, self._is_read = not self._is_read, True
        self.row_list.say_empty("Nobody is left to reach today.")
        self.row_list.forget()
        self.row_list.show(numbers, stay_on=stay_on)
        self.count()
        self.draw_call_card()
        if begins:
            self.take(self.row_list.numbers)

    def count(self) -> None:
        """Say in the headline how many are left and done."""
        left = f"{len(self.row_list.numbers):,} left today"
        self.headline(left, f"{self.done_today:,} done")

    @on(RowList.Wanted)
    def _wanted(self, wanted: RowList.Wanted) -> None:
        ask = partial(queueing.rows, numbers=wanted.numbers)
        # A group of its own for each page: no page replaces another.
        self.read(f"rows {wanted.numbers[0]}", ask, self._filled)

    def _filled(self, rows: dict[int, CallCard | None]) -> None:
        self.row_list.fill(rows)
        self.count()

    @on(RowList.Marked)
    def _marked(self) -> None:
        self.draw_call_card()
        if self._rest is not None:
            self._rest.stop()
        self._rest = self.set_timer(REST, self._look_again)

    def _look_again(self) -> None:
        """Read the person in hand anew once the cursor rests: another desk may be at it."""
        number = self.row_list.number
        self.take_resting(number)
        if number is not None:
            self.read("hand", partial(queueing.rows, numbers=(number,)), self._filled_in)
        if self.row is not None and self.has_class("-wide"):
            ask = partial(queueing.card, ref=self.row.reference)
            self.read("card", ask, self._carded, self._no_card)

    def _filled_in(self, rows: dict[int, CallCard | None]) -> None:
        if rows != {n: self.row_list.row_of(n) for n in rows}:
            self._filled(rows)

    def _carded(self, card: PersonCard) -> None:
        self._card = card
        self.draw_call_card()

    def _no_card(self, _error: RecallError) -> None:
        """What there is room for and cannot be read is left out; the card has what matters."""

    @on(RowList.Chosen)
    def _chosen(self) -> None:
        self.action_open()

    # What is drawn.

    def draw_row(self, row: CallCard, width: int) -> Sequence[Part]:
        """Return one line of the list."""
        taken = bool(queueing.with_other(row, self.app.acting))
        return call_line(row, width, self.app.today, taken=taken)

    def draw_call_card(self) -> None:
        """Draw the call card, what to do now, and what was done last."""
        row, shown = self.row, self.query_one("#call-card", Static)
        # Nothing here changes its size: laying the screen out anew would cost more than all.
        self.query_one("#now", Static).update(self._now(row), layout=False)
        self.query_one("#just", Static).update(self._just(), layout=False)
        today = self.app.today
        if row is None or today is None:
            shown.update(literal(self._nobody()), layout=False)
            return
        width, height = shown.size.width, shown.size.height
        above = max(3, height - OUTCOME_LINES - 1)
        lines = [] if self.every_outcome else call_card(row, today, width, above)
        lines = [*lines, Content(""), *outcomes(width, height - len(lines) - 1)]
        if self._card is not None and self._card.ref == row.reference and len(lines) < height - 2:
            lines += [Content(""), *now_open(self._card, today, width)]
        shown.update(Content("\n").join(lines[:height]), layout=False)

    def _nobody(self) -> str:
        if not self._is_read:
            return READING
        if self.row_list.numbers:
            return "…"
        return "Nobody is left to reach today. F2 shows what else there is."

    def _now(self, row: CallCard | None) -> Content:
        if row is None:
            here = "nothing to do here." if self._is_read else READING
            return literal(f"Now   {here}", "$desk-quiet")
        other = queueing.with_other(row, self.app.acting)
        text = other or queueing.what_now(row, words(CHANNEL_WORDS, self.channel))
        return Content.assemble(("Now   ", "bold $desk-lead"), (plain(text), "bold"))

    def _just(self) -> Content:
        lines = wrapped(f"Last {self.just or 'nothing yet'}", max(20, self.size.width - 3), 2)
        rest = "\n".join([lines[0].removeprefix("Last "), *lines[1:]])
        return Content.assemble(("Last  ", "$desk-quiet"), (rest, "$desk-quiet"))

    def on_resize(self) -> None:
        """Show more where there is room."""
        self.set_class(self.size.width >= 110, "-wide")
        self.call_after_refresh(self.draw_call_card)

    # What the keys do.

    def action_more(self) -> None:
        """Show every outcome, or the card again."""
        self.every_outcome = not self.every_outcome
        self.draw_call_card()

    def action_via(self) -> None:
        """Take the next way of reaching people."""
        self.channel = CHANNELS[(CHANNELS.index(self.channel) + 1) % len(CHANNELS)]
        self.draw_call_card()

    def action_again(self) -> None:
        """Read the list again."""
        self.refill()

    def action_open(self) -> None:
        """Show everything on the person in hand."""
        from tui.screens.person import PersonScreen

        if self.row is not None:
            self.app.push_screen(PersonScreen(self.row.reference))

    def action_outcome(self, outcome: str) -> None:
        """Record what came of trying to reach the person in hand."""
        row = self.row
        if row is None:
            return
        log = partial(acts.log, row=row, attempt=Attempt(self.channel, outcome))
        meant = acts.outcome_of(outcome)
        if meant.moves_up:
            self.app.push_screen(HandOver(log), partial(self._handed_over, row))
        elif meant.stops_contact == "died":
            # A group of its own: the cursor's rest reads the card as well, and would replace it.
            self.read("death", partial(queueing.card, ref=row.reference), partial(self._death, row))
        elif meant.is_grave:
            self._sheet(acts.ask_first(row, outcome, self.channel), row)
        elif acts.asks_more(row, outcome):
            self._sheet(acts.ask_more(row, outcome, self.channel), row)
        else:
            self._store(row, meant.words, log)

    def action_number(self) -> None:
        """Take the next number of the person in hand."""
        row = self.row
        if row is None or len(row.numbers) < 2:
            self.say("No other number is recorded for this person.")
            return
        self._turns[row.follow_up] = self._turns.get(row.follow_up, 0) + 1
        self.draw_call_card()

    def _store(self, row: CallCard, what: str, work: Callable[[Desk], Next]) -> None:
        """Store something about a person, who is named where it fails."""
        self.query_one("#just", Static).update(literal("Last  storing …"), layout=False)
        self.write(work, partial(self._went_on, row), partial(self._refused, row, what))

    def _death(self, row: CallCard, card: PersonCard) -> None:
        self._sheet(changes.death(card), row)

    def action_book(self) -> None:
        """Book an appointment."""
        if self.row is not None:
            self._sheet(booking_sheets.booking(self.row, self.channel), self.row)

    def action_note(self) -> None:
        """Write something down."""
        if self.row is not None:
            self.app.push_screen(acts.noting(self.row), self._noted)

    def action_pass_on(self) -> None:
        """Write down what somebody else has to see to."""
        if (row := self.row) is not None:
            matters.ask(self.app, (row.reference, acts.about(row)), (), self._noted)

    def action_skip(self) -> None:
        """Leave the person until a day."""
        if self.row is not None:
            self._sheet(acts.skipping(self.row), self.row)

    def action_done(self) -> None:
        """Record that the step asked for is done, where it is no call."""
        row = self.row
        if row is None:
            return
        sheet = acts.step_done(row)
        if sheet is None:
            self.say("This step is a call: press the key of what came of it.")
        else:
            self._sheet(sheet, row)

    def action_take(self) -> None:
        """Claim the person in hand, or let go."""
        row = self.row
        if row is not None:
            held = queueing.is_mine(row, self.app.acting)
            turn = partial(acts.let_go if held else acts.claim, row=row)
            what = "Let go" if held else "Claim"
            self.turned(row.follow_up, held=not held)
            self.write(turn, self._claimed, partial(self._refused, row, what))

    def action_undo(self) -> None:
        """Take back what was done last."""
        self.read("undo", acts.last, self._undo)

    def _undo(self, last: Next | None) -> None:
        """Take it back at once where it was done here last; else ask first."""
        mine = self._finished[-1:]
        ask_undo(self, last, self._undone, at_once=last is not None and [last.follow_up] == mine)

    # What comes back.

    def _sheet(self, sheet: Any, row: CallCard) -> None:
        def answered(came: Next | None) -> None:
            if came is not None:
                self._went_on(row, came)

        self.app.push_screen(sheet, answered)

    def _went_on(self, row: CallCard, came: Next) -> None:
        """Say what happens next, and take the next person in hand."""
        self._remember(row, came)
        self._turns.pop(row.follow_up, None)
        if came.stays:
            self.refill(stay_on=row.follow_up)
            return
        today = self.app.today
        done_with = came.on is None or (today is not None and came.on > today)
        out = row.follow_up if done_with else None
        # Whatever else is open for the same person may stand otherwise now: it is read again.
        self.row_list.forget(
            *self.row_list.known_where(lambda each: each.reference == row.reference)
        )
        self._take_next(row.follow_up, [n for n in self.row_list.numbers if n != out])

    def _handed_over(self, row: CallCard, came: Next | None) -> None:
        """The person is still on the line: they stay in hand."""
        if came is None:
            self._keep_wrong(f"{row.name}: worse, and NOT recorded. Press w once more.")
            return
        self._remember(row, came)
        self.on_the_line = row.follow_up
        self.refill(stay_on=row.follow_up)

    def _remember(self, row: CallCard, came: Next) -> None:
        self.just = f"{row.name}: {came.words}"
        self.done_today += 1
        self._finished.append(row.follow_up)
        self._wrong_is_kept = False
        self.went_well()

    def _take_next(self, done: int, numbers: Sequence[int]) -> None:
        self.row_list.step_past(done, numbers)
        self.count()
        self.draw_call_card()
        self.take_onward()

    def _noted(self, came: Next | None) -> None:
        if came is not None and self.row is not None:
            self.just = f"{self.row.name}: {came.words}"
            self.refill()

    def _claimed(self, words_: str) -> None:
        self.just = words_
        self.refill()

    def _undone(self, came: Next) -> None:
        self.just = came.words
        if self._finished and self._finished[-1] == came.follow_up:
            self._finished.pop()
        self._wrong_is_kept = False
        self.refill(stay_on=came.follow_up)

    def _refused(self, row: CallCard, what: str, error: RecallError) -> None:
        """Say for whom what was not recorded; where another desk was first, read the list."""
        if isinstance(error, Conflict | NotFound):
            said = f"{row.name}, “{what}”, was NOT recorded: {error.message}"
            self.read("queue", queueing.day, partial(self._show_again, row, said))
        else:
            self._keep_wrong(f"{row.name}, “{what}”, was NOT recorded: {error}")

    def _show_again(self, row: CallCard, said: str, day: tuple[Sequence[int], int]) -> None:
        """Another desk was first: the person may be gone from the list, and another in hand."""
        self._show(None, day)
        if self.row_list.number != row.follow_up:
            said += " Somebody else is in hand now: look before you press."
        self._keep_wrong(said)

    def _keep_wrong(self, words: str) -> None:
        """Say what was not recorded, until something is."""
        self._wrong_is_kept = True
        self.report(InputError(words))
        self.draw_call_card()
