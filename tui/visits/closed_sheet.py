"""What a closed visit came to, with the key that makes the sheet to take home."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, ClassVar

from textual import events
from textual.binding import Binding, BindingType
from textual.content import Content
from textual.widgets import Static

from tui.commands.table import AREAS
from tui.dialogs.text_sheet import TextSheet
from tui.words.text import literal

if TYPE_CHECKING:
    from recall.desk.core.session import Desk


class ClosedSheet(TextSheet):
    """A closed visit, in words; p makes the page that the person takes home."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("p", "screen.take_home", "Sheet to take home", show=False),
        *(
            Binding(area.keys.split(",")[0], f"screen.leave_for('{area.id}')", show=False)
            for area in AREAS
        ),
    ]
    HINT: ClassVar[str] = "p makes the sheet to take home; Esc puts this away; F2 to F8 lead on."

    def __init__(self, ref: str, text: Content) -> None:
        """Show what a visit of the person with a reference came to."""
        super().__init__("The visit is closed", text)
        self._ref = ref
        self.leads_to = ""

    def on_key(self, event: events.Key) -> None:
        """Say what a letter does not do here: nothing that is typed goes by without a word."""
        if event.is_printable and event.key not in self.active_bindings:
            event.stop()
            self.complain("Nothing was done with that key: Esc puts this away first.")

    def action_leave_for(self, area: str) -> None:
        """Put this away, and go to an area of the desk."""
        if not self.writing:
            self.leads_to = area
            self.dismiss(None)

    def action_take_home(self) -> None:
        """Make the page, and say where it is."""
        if not self.writing:
            self.write(partial(take_home, ref=self._ref), self._made)

    def _made(self, words: str) -> None:
        self.query_one(".hint", Static).update(literal(words))
        self.call_after_refresh(self.fit)


def take_home(desk: Desk, *, ref: str) -> str:
    """Make the sheet of somebody's newest visit a page beside the letters; say where it is."""
    from recall.desk.people.visit_sheet import print_sheet, visit_sheet
    from recall.desk.post.printing import letters_folder

    made = visit_sheet(desk, ref)
    page = letters_folder(desk) / f"{made.number}-{desk.today}.pdf"
    print_sheet(desk, made, page)
    return f"To print and hand over: {page}"
