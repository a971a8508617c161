"""Calls: what is recorded about the person in hand, and what comes back of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any, TypeVar

from textual.widgets import Static

from recall.desk.contacts.entries import Attempt
from recall.errors import Conflict, InputError, NotFound, RecallError
from tui.calls import acts, booking_sheets, queueing
from tui.calls.undo import ask_undo
from tui.commands.outcomes import opens_sheet
from tui.dialogs.hand_over import HandOver
from tui.people import changes
from tui.screens.call_list import CallListScreen
from tui.words.text import literal

if TYPE_CHECKING:
    from recall.desk.contacts.spoken_of import SpokenOf
    from recall.desk.core.acting import Next
    from recall.desk.core.done import Mine
    from recall.desk.core.session import Desk
    from recall.desk.people.person_card import PersonCard
    from recall.desk.worklists.call_card import CallCard
    from recall.desk.worklists.call_lines import Line
    from recall.loop.outcomes import Outcome

T = TypeVar("T")
REST = 0.2
"""Seconds after which a cursor rests, and the person in hand is read anew."""
EACH = 60.0
"""Seconds between two readings of the list: other desks work at it as well."""
READING = "Reading the list …"
OUTCOME_LINES = 6
"""Lines that are kept for the outcomes, however long the card."""


class QueueScreen(CallListScreen):
    """The day's calls."""

    WHERE = "queue"
    HELP = """\
The person in hand is on the left: check name, birth date and postcode with whoever answers
before you say anything. Read out what stands beside Say, and nothing else. What begins with “!”
comes before everything else.

Press the key of what came of it: the desk says what happens next and when, and takes the next
person in hand. Nobody leaves the list without an outcome, a booking or a reason.

Somebody who says it is worse: press w and do not ring off."""

    # What the keys do.

    def action_outcome(self, outcome: str) -> None:
        """Record what came of trying to reach the person in hand."""
        row, meant = self.row, acts.outcome_of(outcome)
        if row is None or not (opens_sheet(meant) or self.is_read()):
            return
        if self._may_not_open(row, meant):
            return
        log = partial(acts.log, row=row, attempt=Attempt(self.channel, outcome))
        if meant.moves_up:
            self.app.push_screen(HandOver(log, row.name), partial(self._handed_over, row))
        elif meant.stops_contact == "died":
            # A group of its own: the cursor's rest reads the card as well, and would replace it.
            card = partial(queueing.card, ref=row.reference)
            self.read_to_open("death", card, partial(self._death, row))
        elif meant.is_grave:
            self._sheet(acts.ask_first(row, outcome, self.channel), row)
        elif meant.about == "one":
            about = partial(queueing.spoken_of, row=row)
            self.read_to_open("which", about, partial(self._which, row, outcome))
        elif acts.asks_more(row, outcome):
            struck = meant.ends == "number"
            self._sheet(acts.ask_more(row, outcome, self.channel), row, struck=struck)
        elif meant.comes_back and (others := self._on_the_number(row)):
            attempt = Attempt(self.channel, outcome)
            line = partial(acts.log_line, row=row, others=others, attempt=attempt)
            self._store(row, meant.words, line, partial(self._line_done, row))
        else:
            self._store(row, meant.words, log, partial(self._went_on, row))

    def _may_not_open(self, row: CallCard, meant: Outcome) -> bool:
        """Return whether an outcome is refused before anything is typed, and say why.

        What stops all contact, or is handed over, is taken down whoever has them in hand.
        """
        stops = meant.moves_up or meant.is_grave
        handed = row.follow_up == self.on_the_line != self.offered
        if handed and not stops:
            self._keep_wrong(
                f"“{meant.words}” was NOT recorded: {row.name} is with a clinician now. "
                "n notes something, u takes it back, Down goes on."
            )
            self.no_sheet()
            return True
        if queueing.cannot_be_rung(row, self.channel, meant):
            self._keep_wrong(f"{row.name}, “{meant.words}”, was NOT recorded. {queueing.NO_NUMBER}")
            self.no_sheet()
            return True
        return opens_sheet(meant) and not stops and self._is_with_other(row)

    def _is_with_other(self, row: CallCard) -> bool:
        """Return whether another desk has somebody in hand: no sheet opens that it would refuse."""
        other = self.with_other(row)
        if other:
            self._keep_wrong(f"{row.name} was not taken up. {other}")
            self.no_sheet()
        return bool(other)

    def _store(
        self, row: CallCard, what: str, work: Callable[[Desk], T], then: Callable[[T], None]
    ) -> None:
        """Store something about a person, who is named where it fails."""
        self.query_one("#just", Static).update(literal("Last  storing …"), layout=False)
        self.write(work, then, partial(self._refused, row, what))

    def _on_the_number(self, row: CallCard) -> tuple[int, ...]:
        """Return who else was rung by the call: nobody on another number than the line's."""
        is_turned = bool(self._turns.get(row.follow_up))
        return () if self.channel != "phone" or is_turned else self.lines.on_number(row.follow_up)

    def _line_done(self, row: CallCard, came: tuple[Next, tuple[int, ...]]) -> None:
        """Nobody answered the number: everybody under it waits with the one in hand."""
        done, others = came
        for number in others:
            self.lines.done(number, out=True, later=done.later)
        self.done_today += len(others)  # as the register counts them
        self.row_list.forget(*others)
        self._went_on(row, done)

    def _which(self, row: CallCard, outcome: str, about: tuple[SpokenOf, ...]) -> None:
        self._sheet(acts.ask_more(row, outcome, self.channel, about), row)

    def _death(self, row: CallCard, card: PersonCard) -> None:
        self._sheet(changes.death(card), row)

    def action_book(self) -> None:
        """Book an appointment."""
        if self.row is not None and not self._is_with_other(self.row):
            self._sheet(booking_sheets.booking(self.row, self.channel), self.row)

    def action_note(self) -> None:
        """Write something down."""
        if self.row is not None:
            self.app.push_screen(acts.noting(self.row), self._noted)

    def action_skip(self) -> None:
        """Leave the person until a day."""
        if self.row is not None and not self._is_with_other(self.row):
            self._sheet(acts.skipping(self.row), self.row)

    def action_done(self) -> None:
        """Record that the step asked for is done, where it is no call."""
        row = self.row
        if row is None or self._is_with_other(row):
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
            held = self.is_held(row.follow_up)
            claim = partial(acts.claim, row=row, hand=self.app.hand)
            turn, what = (partial(acts.let_go, row=row), "Let go") if held else (claim, "Claim")
            self.turned(row.follow_up, held=not held)
            self.write(turn, self._claimed, partial(self._not_claimed, row, what))

    def _not_claimed(self, row: CallCard, what: str, error: RecallError) -> None:
        """Say why; nobody was taken in hand by it."""
        self.turned(row.follow_up, held=False)
        self._refused(row, what, error)

    def action_undo(self) -> None:
        """Take back what was done last."""
        self.read_to_open("undo", acts.last, self._undo)

    def _undo(self, last: Next | None) -> None:
        """Take it back at once where it was done here last; else ask first."""
        mine = self._finished[-1:]
        ask_undo(self, last, self._undone, at_once=last is not None and [last.follow_up] == mine)

    # What comes back.

    def _sheet(self, sheet: Any, row: CallCard, *, struck: bool = False) -> None:
        def answered(came: Next | None) -> None:
            if came is not None:
                self._went_on(row, came, struck=struck)

        self.app.push_screen(sheet, answered)

    def _went_on(self, row: CallCard, came: Next, *, struck: bool = False) -> None:
        """Say what happens next, and take the next person in hand.

        Where the number was struck nobody is under it any more: the next line comes.
        """
        self._remember(row, came)
        self._turns.pop(row.follow_up, None)
        if came.stays:
            self.refill(stay_on=row.follow_up)
            return
        if came.left is not None:
            self.offered = came.left
            self._stay_with(came.left, row)
            return
        today = self.app.today
        done_with = came.on is None or (today is not None and came.on > today)
        done_with = done_with or not queueing.is_receptions(came.step)
        # Whatever else is open for the same person may stand otherwise now: it is read again.
        self.row_list.forget(
            *self.row_list.known_where(lambda each: each.reference == row.reference),
            *self.lines.others(row.follow_up),
        )
        later = came.later and not done_with
        resume = self._work if self._is_for_later(row) else None
        here = self.lines.done(row.follow_up, out=done_with or came.later, later=later)
        self._take_next(row.follow_up, resume if here is None or struck else here)
        if struck:
            self.refill()

    def _handed_over(self, row: CallCard, came: Next | None) -> None:
        """The person is still on the line: they stay in hand."""
        if came is None:
            self._keep_wrong(f"{row.name}: worse, and NOT recorded. Press w once more.")
            return
        self._remember(row, came)
        self._stay_with(row.follow_up, row)

    def _stay_with(self, number: int, row: CallCard) -> None:
        """Keep whoever is on the line in hand, before those who would have come next."""
        resume = self._work if self._is_for_later(row) else None
        here = self.lines.others(row.follow_up) if resume is None else ()
        onward = (*here, *self._after(row.follow_up if resume is None else resume, None))
        self._onward = tuple(one for one in onward if one != row.follow_up)
        self.on_the_line = number
        self.refill(stay_on=number)

    def _after(self, head: int, but: int | None) -> tuple[int, ...]:
        """Return the lines from one on, the next first, then those before it, the last first."""
        heads = self.lines.heads
        at = heads.index(head) if head in heads else 0
        return tuple(one for one in (*heads[at:], *reversed(heads[:at])) if one != but)

    def _remember(self, row: CallCard, came: Next) -> None:
        self.just, self.last_done = f"{row.name}: {came.words}", came
        self.done_today += 1
        self._finished.append(row.follow_up)
        self._wrong_is_kept = False
        self.went_well()

    def _take_next(self, done: int, here: int | None) -> None:
        """Take the next one under the same number in hand, or else the next line."""
        if here is None or here not in self.lines.heads:
            self.row_list.step_past(done, self.lines.heads)
        else:
            self._same_number, self._onward = here, self._after(here, here)
            self.row_list.show(self.lines.heads, stay_on=here)
        self.count()
        self.draw_call_card()
        self.take_onward()

    def _noted(self, came: Next | None) -> None:
        if came is not None and self.row is not None:
            self.just, self.last_done = f"{self.row.name}: {came.words}", came
            self._wrong_is_kept = False
            self.went_well()
            self.refill()

    def _claimed(self, words_: str) -> None:
        self.just, self.last_done = words_, None
        self._wrong_is_kept = False
        self.went_well()
        self.refill()

    def _undone(self, came: Next) -> None:
        """Take whom it was about in hand; then the work goes on with whoever was in hand now."""
        was = self.row_list.number
        if came.follow_up is not None and was not in (None, came.follow_up):
            self._same_number, self._onward = came.follow_up, self._after(was, came.follow_up)
        self.just, self.last_done = came.words, None
        if self._finished and self._finished[-1] == came.follow_up:
            self._finished.pop()
        self._wrong_is_kept = False
        self.refill(stay_on=came.follow_up)
        self.hold_keys("queue")

    def _refused(self, row: CallCard, what: str, error: RecallError) -> None:
        """Say for whom what was not recorded; where another desk was first, read the list."""
        if isinstance(error, Conflict | NotFound):
            said = f"{row.name}, “{what}”, was NOT recorded: {error.message}"
            # A group of its own: what the list reads by itself must not replace it.
            self.read("refused", queueing.day, partial(self._show_again, row, said))
        else:
            self._keep_wrong(f"{row.name}, “{what}”, was NOT recorded: {error}")

    def _show_again(self, row: CallCard, said: str, day: tuple[Sequence[Line], Mine]) -> None:
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
