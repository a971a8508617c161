"""Post: the week's letters, who gets what, what is held back and why, as they will print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.containers import Horizontal, VerticalScroll
from textual.content import Content
from textual.widget import Widget
from textual.widgets import Static

from recall.errors import RecallError
from tui.dialogs.text_sheet import TextSheet
from tui.post import batch as posting
from tui.post.batch import State
from tui.screens.listing import ListScreen
from tui.widgets.row_list import Part, RowList
from tui.words.text import full_day, literal

if TYPE_CHECKING:
    from recall.desk.post.posting import BatchLine, Pile
    from recall.desk.post.showing import Shown

WIDE = 110
NEWLINE = Content("\n")


class PostScreen(ListScreen):
    """The letters of one batch."""

    WHERE = "post"
    CSS_PATH = "../styles/clinic.tcss"
    HELP = """\
One batch of letters at a time, the last one first; Left and Right lead to the others. a writes
the letters of this week into the register: no letter is ever written twice. Read them with
Enter, hold back what must not go, make the file with p, print it, and say with m that it went.
Who has died, objected or moved meanwhile is taken out when the file is made, and named again
when the batch is posted: those letters must come off the pile. “+” is to be rung as well: what
presses never goes by letter alone."""

    def __init__(self) -> None:
        """Begin with the last batch."""
        super().__init__()
        self.state: State | None = None
        self.just = ""
        self._wanted: int | None = None
        self._rows: dict[int, Shown] = {}

    def body(self) -> Iterable[Widget]:
        """Give what the batch is, its letters, and the marked one's text."""
        yield Static(literal("Reading …"), id="told")
        with Horizontal(id="halves"):
            yield RowList(self.draw_row, empty="No letter.", id="rows")
            yield VerticalScroll(Static(id="text"), id="letter", can_focus=False)
        yield Static(id="more")

    @property
    def shown(self) -> BatchLine | None:
        """Return the batch that is shown."""
        return self.state.batch if self.state else None

    @property
    def row(self) -> Shown | None:
        """Return the marked letter."""
        number = self.row_list.number
        return None if number is None else self._rows.get(number)

    def on_mount(self) -> None:
        """Put the cursor into the list."""
        super().on_mount()
        self.row_list.focus()

    # What is read and drawn.

    def refill(self) -> None:
        """Read the batch; the marked letter stays."""
        self.read("batch", partial(posting.state_of, number=self._wanted), self._show)

    def _show(self, state: State) -> None:
        self.went_well()
        self.state = state
        self._wanted = state.batch.number if state.batch else None
        self._rows = {row.letter_id: row for row in state.letters}
        self.row_list.forget()
        self.row_list.show(list(self._rows))
        self.row_list.fill(self._rows)
        self.headline()
        self._draw()

    def on_resize(self) -> None:
        """Show the letter beside the list where there is room."""
        self.set_class(self.size.width >= WIDE, "-wide")
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        state, today = self.state, self.app.today
        if state is None or today is None:
            return
        lines = [literal(self.just, "bold $desk-good")] if self.just else []
        lines.append(literal(posting.batch_words(state)))
        self.query_one("#told", Static).update(NEWLINE.join(lines))
        row = self.row
        self.query_one("#more", Static).update(
            NEWLINE.join(posting.about(row, self.size.width - 3) if row else [])
        )
        if row is not None and self.has_class("-wide"):
            text = partial(posting.text_of, letter_id=row.letter_id)
            self.read("text", text, self._show_text)
        elif row is None:
            self.query_one("#text", Static).update("")

    def _show_text(self, text: str) -> None:
        self.query_one("#text", Static).update(posting.as_printed(text))

    def draw_row(self, row: Any, width: int) -> Sequence[Part]:
        """Return one letter: its number and state, to whom, about whom, and how."""
        return posting.draw(row, width)

    @on(RowList.Marked)
    def _marked(self) -> None:
        self._draw()

    @on(RowList.Chosen)
    def action_read(self) -> None:
        """Show the marked letter as it will print."""
        if self.row is not None:
            text = partial(posting.text_of, letter_id=self.row.letter_id)
            show = partial(self._show_sheet, f"Letter {self.row.number}")
            self.read_to_open("read", text, show)

    def _show_sheet(self, title: str, text: str) -> None:
        self.app.push_screen(TextSheet(title, posting.as_printed(text)))

    # Moving.

    def action_again(self) -> None:
        """Read the batch again."""
        self.refill()

    def action_earlier(self) -> None:
        """Show the batch before."""
        self._turn(1)

    def action_later(self) -> None:
        """Show the next batch."""
        self._turn(-1)

    def _turn(self, by: int) -> None:
        state = self.state
        if state is None or not state.numbers:
            return
        here = state.numbers.index(self._wanted) if self._wanted in state.numbers else 0
        place = min(max(0, here + by), len(state.numbers) - 1)
        self._wanted, self.just = state.numbers[place], ""
        self.refill()

    # What is done.

    def action_prepare(self) -> None:
        """Write the letters of the week."""
        self.write(posting.prepare, self._prepared)

    def _prepared(self, came: posting.Written) -> None:
        self.just = came.words
        self._wanted = came.number or self._wanted
        self.refill()
        if came.nobody:
            title = "No letter could be written about these: what stands beside each says why"
            lines = NEWLINE.join([literal(each) for each in came.nobody])
            self.app.push_screen(TextSheet(title, lines))

    def action_hold(self) -> None:
        """Keep the marked letter back."""
        if self.row is not None:
            self.app.push_screen(posting.hold_sheet(self.row), self._done)

    def action_release(self) -> None:
        """Let the marked letter go."""
        if self.row is not None:
            self.write(partial(posting.release, number=self.row.number), self._done)

    def action_print(self) -> None:
        """Make the file for the printer."""
        if self.shown is not None:
            self.just = "Making the pages …"
            self._draw()
            make = partial(posting.make, batch_id=self.shown.batch_id)
            self.write(make, self._made, self._not_made)

    def _made(self, came: posting.Made) -> None:
        self._done(came.words)
        if came.differs:
            lines = NEWLINE.join([literal(each) for each in came.differs])
            self.app.push_screen(TextSheet("This is not what was printed first", lines))

    def _not_made(self, error: RecallError) -> None:
        self.just = ""
        self._draw()
        self.report(error)

    def action_posted(self) -> None:
        """Say that the batch went into the post, after a look at what comes off the pile first."""
        if self.shown is not None:
            look = partial(posting.pile, number=self.shown.number)
            self.read_to_open("pile", look, self._ask_posted)

    def _ask_posted(self, pile: Pile) -> None:
        batch = self.shown
        if batch is None:
            return

        def agreed(yes: bool | None) -> None:
            if yes:
                off = len(pile.off)
                post = partial(posting.post, number=batch.number, taken_off=off)
                self.write(post, self._done)

        self.app.push_screen(posting.ask_posted(pile, batch), agreed)

    def action_returned(self) -> None:
        """Record that a letter came back; the marked one is offered."""
        marked = self.row.number if self.row is not None else ""
        self.app.push_screen(posting.returned_sheet(marked), self._done)

    def _done(self, words: str | None) -> None:
        if words:
            self.just = words
            self.refill()

    def action_open(self) -> None:
        """Show everything on the person of the marked letter."""
        from tui.screens.person import PersonScreen

        if self.row is not None:
            self.app.push_screen(PersonScreen(self.row.reference))

    def action_export(self) -> None:
        """Write the list into a CSV file."""
        if self.state is not None and self.state.letters:
            self.write(partial(posting.export, rows=self.state.letters), self._done)
        else:
            self.say("There is nothing to write.")

    def title_now(self) -> str:
        """Return which batch is shown."""
        batch = self.shown
        return f"Post  batch {batch.number}, {full_day(batch.week_on)}" if batch else "Post"
