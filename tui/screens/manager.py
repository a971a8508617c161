"""The register: who is overdue or lost, which referrals wait, the work ahead, who came back."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on
from textual.content import Content

from tui.calls.acts import last
from tui.calls.undo import ask_undo
from tui.dialogs.form import Form
from tui.dialogs.text_sheet import TextSheet
from tui.manager import accounts, deciding, trying
from tui.manager.second_look import loosened_sheet, saw
from tui.screens.register_lists import RegisterLists
from tui.widgets.row_list import RowList
from tui.words.text import in_columns, literal

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.plans.decisions import Meant

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


class ManagerScreen(RegisterLists):
    """The register's lists, with what is decided, answered and written down about their lines."""

    HELP = """\
The digits lead from list to list. Everything is sorted by urgency, then by lateness. Nobody
leaves these lists without a decision, its reason in words, and the name of whoever decided: F9
says who acts. Space picks lines for one decision about several; the sheet names them and asks
how many they are. The accounts say what became of every ask of a quarter: left and right lead to
others, Enter opens the people behind a number, z draws twelve months as bars. On Ahead, z shows
the fullest days before and after levelling, and q tries what if. Below the list stands
everything on the marked line: what is next, what was tried, why. e writes what is on the screen
into a CSV file beside the database."""

    @on(RowList.Chosen)
    def _chosen(self) -> None:
        self.action_open()

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

    def action_draw(self) -> None:
        """Show the fullest days levelled, or the bars of twelve months."""
        if self.view == trying.AHEAD:
            show = partial(self._text, "The days before and after levelling")
            self.read_to_open("levelled", trying.levelled_days, show)
        elif self.view == accounts.ID:
            read = partial(trying.bars, back=self.quarters_back)
            self.read_to_open("bars", read, partial(self._text, "Twelve months in numbers"))
        else:
            self.say("The lists Ahead and Accounts have something to draw.")

    def action_what_if(self) -> None:
        """Ask what is to be tried on the weeks ahead, and show what it comes to."""
        if self.view == trying.AHEAD:
            self.app.push_screen(trying.what_if_sheet(), partial(self._text, "What if"))
        else:
            self.say("What if is tried on the list Ahead.")

    def _text(self, title: str, text: str | None) -> None:
        if text is not None:
            self.app.push_screen(TextSheet(title, in_columns(text)))

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
        if self.row is None:
            return
        if self.view == "milder" and take == "saw":
            self.write(partial(saw, number=self.row.number), self._decided)
        elif self.view == "loosened" and take != "saw":
            self._sheet(loosened_sheet(self.row, take=take == "yes"))

    def action_undo(self) -> None:
        """Take back what was done last: what was done to several, from all of them."""
        self.read_to_open("undo", last, self._undo)

    def _undo(self, done: Next | None) -> None:
        """Ask first: it may be about many, or have been done elsewhere."""
        ask_undo(self, done, lambda came: self._decided(came.words), at_once=False)

    def _sheet(self, sheet: Form) -> None:
        self.app.push_screen(sheet, self._decided)

    def _decided(self, words: str | None) -> None:
        if words:
            self.just = words
            self.picked = set()
            self.refill()


def _export(desk: Desk, *, name: str, rows: Sequence[Any]) -> str:
    from recall.desk.oversight import manager_lists

    if name == "returns":
        from recall.desk.oversight.returns import return_line

        rows = [return_line(row) for row in rows]
    return str(manager_lists.export(desk, name, type(rows[0]), rows))
