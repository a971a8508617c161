"""What else can be done for the person in hand: the words for the call, a matter passed on."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from textual.content import Content

from tui.calls import acts
from tui.dialogs.text_sheet import TextSheet
from tui.people import matters
from tui.screens.in_hand import InHandScreen
from tui.words.text import literal

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk
    from recall.desk.worklists.call_card import CallCard


class BesideTheCall(InHandScreen):
    """A screen with somebody in hand."""

    @property
    def row(self) -> CallCard | None:
        """Return the person in hand."""
        found: CallCard | None = self.row_list.row
        return found

    def _noted(self, came: Next | None) -> None:
        """Take what came of a sheet that leaves the person in hand."""

    def action_pass_on(self) -> None:
        """Write down what somebody else has to see to."""
        if (row := self.row) is not None:
            matters.ask(self.app, (row.reference, acts.about(row)), (), self._noted)

    def action_words(self) -> None:
        """Show the words for the call: who I am, whom I ask for, what I may say, on a machine."""
        if (row := self.row) is not None:
            script = partial(_script, number=row.follow_up, rung=row.contact_point_id)
            self.read_to_open("words", script, self._show_words)

    def _show_words(self, text: str) -> None:
        lines = [
            literal(line, "bold $desk-lead" if _is_head(line) else "") for line in text.splitlines()
        ]
        self.app.push_screen(TextSheet("Words for the call", Content("\n").join(lines)))


def _is_head(line: str) -> bool:
    """Return whether a line is a heading: neither a point, nor said, nor a sentence.

    >>> [_is_head(line) for line in ("Voicemail", "- Say your name.", "Leave nothing else.", "")]
    [True, False, False, False]
    """
    return bool(line) and line[0] not in '-"' and line[-1] not in '."'


def _script(desk: Desk, *, number: int, rung: int | None) -> str:
    from recall.desk.post import call_scripts

    return call_scripts.script_for(desk, number, rung)
