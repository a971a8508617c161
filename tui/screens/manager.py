"""The register: who is overdue or lost, which referrals wait, the work ahead, who came back."""

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
from tui.dialogs.form import Form
from tui.dialogs.text_sheet import TextSheet
from tui.manager import accounts, deciding
from tui.manager.charts import DRAWN
from tui.manager.lists import Listed, RegisterList
from tui.manager.names import ALL_LISTS, VIEWS, names
from tui.manager.rereading import OLD, Rereading, place_of
from tui.manager.second_look import answer_sheet
from tui.screens.listing import ListScreen
from tui.widgets.lines import KeysLine
from tui.widgets.row_list import Part, RowList
from tui.words.text import literal, several

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.plans.decisions import Meant

    Heard = tuple[object, Listed]
    """What was written before a list was read, and the list."""

NEWLINE = Content("\n")
DECISIONS = {
    "keep_trying": "keep_trying",
    "hand_back": "hand_back",
    "decline": "informed_decline",
    "transferred": "transferred",
    "other_reason": "clinician_decision",
    "carry_on": "carry_on",
    "move": "move",
}
DECIDED = ("overdue", "lost", "clinician")
MORE = 8
"""Lines at most about the marked line."""


class ManagerScreen(ListScreen):
    """The manager's lists."""

    WHERE = "manager"
    CSS_PATH = "../styles/clinic.tcss"
    HELP = """\
The digits lead from list to list. Everything is sorted by urgency, then by lateness. Nobody
leaves these lists without a decision, its reason in words, and the name of whoever decided: F9
says who acts. Space picks lines for one decision about several; the sheet names them and asks
how many they are. The accounts say what became of every ask of a quarter: left and right lead to
others, Enter opens the people behind a number. Below the list stands everything on the marked
line: what is next, what was tried, why. e writes what is on the screen into a CSV file beside
the database."""

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
        return lambda desk: (self.app.written(), read(desk))

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
        wanted = found.keys if found else ("export", "again")
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

    @on(RowList.Chosen)
    def _chosen(self) -> None:
        self.action_open()

    # Which list.

    def go(self, view: str) -> None:
        """Show another list."""
        self.view, self.listed, self.just, self.behind = view, None, "", None
        self._is_old = False
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

    def action_pick(self) -> None:
        """Pick the marked line, or let it go."""
        number = self.row_list.number
        if number is None or self.view not in DECIDED:
            return
        self.picked ^= {number}
        self.row_list.redraw()
        self.row_list.move(1)
        self._draw()

    def action_pick_all(self) -> None:
        """Pick every line, or none."""
        if self.view in DECIDED:
            everything = set(self._rows)
            self.picked = set() if self.picked == everything else everything
            self.row_list.redraw()
            self._draw()

    def action_open(self) -> None:
        """Show everything on the marked person."""
        from tui.screens.person import PersonScreen

        if self.view == accounts.ID and self.behind is None:
            if self.row is not None:
                row = self.row
                self.go(accounts.ID)
                self.behind = accounts.behind_list(row, self.quarters_back)
                self.refill()
            return
        reference = getattr(self.row, "reference", "")
        if reference:
            self.app.push_screen(PersonScreen(reference))

    def action_export(self) -> None:
        """Write what is on the screen into a CSV file."""
        if self.listed is not None and self.listed.rows:
            export = partial(_export, name=self.view, rows=self.listed.rows)
            self.write(export, self._exported)
        else:
            self.say("There is nothing to write.")

    def _exported(self, path: str) -> None:
        self.just = f"Written: {path}"
        self._draw()

    # Deciding.

    def action_decide(self, key: str) -> None:
        """Decide about the picked people, or the marked one."""
        if self.view == "referrals":
            self.action_known(key)
            return
        marked = [self.row_list.number] if self.row_list.number is not None else []
        ids = [n for n in self._rows if n in self.picked] or marked
        if self.view not in DECIDED or not ids:
            self.say("Decisions are taken on the lists Overdue and Lost.")
            return
        decision = DECISIONS[key]
        look = partial(deciding.whom_meant, ids=ids, decision=decision)
        self.read_to_open("meant", look, partial(self._ask, decision))

    def _ask(self, decision: str, found: tuple[tuple[Meant, ...], str]) -> None:
        meant, who = found
        if not any(m.allowed for m in meant):
            lines = NEWLINE.join([literal(each) for each in deciding.none_allowed(meant)])
            self.app.push_screen(TextSheet("Not allowed yet", lines))
            return
        self._sheet(deciding.decision_sheet(meant, decision, who))

    def action_known(self, what: str) -> None:
        """Record something about the marked referral."""
        if self.view == "referrals" and self.row is not None and what in deciding.ABOUT_REFERRALS:
            self._sheet(deciding.referral_sheet(self.row, what))

    def action_letter(self) -> None:
        """Show the draft of the referral letter."""
        if self.view == "referrals" and self.row is not None:
            draft = partial(deciding.draft_of, row=self.row)
            self.read_to_open("draft", draft, self._show_draft)

    def _show_draft(self, text: str) -> None:
        lines = [literal(line) for line in text.splitlines()]
        self.app.push_screen(TextSheet("Draft, to check and sign", NEWLINE.join(lines)))

    def action_answer(self, forward: str) -> None:
        """Answer the marked proposal, or all lines of the marked rule."""
        if self.view == "proposals" and self.row is not None:
            self._sheet(deciding.proposal_sheet(self.row, forward=forward == "yes"))
        elif self.view == "loosened" and forward == "no":
            self.action_take("no")

    def action_take(self, take: str) -> None:
        """Answer the marked correction or rule of what waits for a second look."""
        wanted = "milder" if take == "saw" else "loosened"
        if self.view == wanted and self.row is not None:
            self._sheet(answer_sheet(self.row, take=take == "yes"))

    def _sheet(self, sheet: Form) -> None:
        self.app.push_screen(sheet, self._decided)

    def _decided(self, words: str | None) -> None:
        if words:
            self.just = words
            self.picked = set()
            self.refill()

    def report(self, error: RecallError) -> None:
        """Say what went wrong."""
        super().report(error)
        if self.listed is None:
            self.query_one("#told", Static).update(literal("This list cannot be read."))


def _export(desk: Desk, *, name: str, rows: Sequence[Any]) -> str:
    from recall.desk.oversight import manager_lists

    if name == "returns":
        from recall.desk.oversight.returns import return_line

        rows = [return_line(row) for row in rows]
    return str(manager_lists.export(desk, name, type(rows[0]), rows))
