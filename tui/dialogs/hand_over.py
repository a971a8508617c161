"""Hand over: somebody says it is worse. What to do stands there while it is being recorded.

The sheet says that it is recorded only once it is. Where it cannot be, it says so, and Enter
tries again.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.events import Key
from textual.widgets import Static

from recall.errors import RecallError
from tui.dialogs.base import DeskDialog
from tui.words.text import literal

if TYPE_CHECKING:
    from recall.desk.core.acting import Next
    from recall.desk.core.session import Desk

WHAT_TO_DO = """\
Hand the call to a clinician now, while the person is on the line.

If no clinician is here: follow the practice's own pathway, and for an emergency tell them to
ring 999 or go to an emergency department."""
RECORDING = "Recording it …"
RECORDED = (
    "It is recorded, and stands at the top of the clinicians' list until one has spoken with them."
)
NOT_RECORDED = "NOT RECORDED: {error} Press Enter to try again, or write it on paper."
NOT_KEPT = (
    "Nothing that is typed here is kept: tell the clinician, and write it down for them "
    "afterwards (p, a message)."
)


class HandOver(DeskDialog[Any]):
    """What to do for somebody who is worse; gives what storing it came to, or None."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "screen.go_on", "Go on", show=False),
    ]

    def __init__(self, store: Callable[[Desk], Next], who: str) -> None:
        """Record it of somebody by `store` as soon as the sheet is there."""
        super().__init__()
        self._who = who
        self._store = store
        self._came: Next | None = None

    def compose(self) -> ComposeResult:
        """Show what to do, and how far the recording is."""
        with Vertical(classes="sheet"):
            yield Static(literal(f"Do not ring off: {self._who}"), classes="title")
            with VerticalScroll(can_focus=False):
                yield Static(literal(WHAT_TO_DO))
            yield Static(literal(RECORDING), id="recorded")
            yield Static("", classes="wrong")
            yield Static(literal("Esc puts this away."), classes="hint")

    def on_mount(self) -> None:
        """Record it."""
        self._try()

    def _try(self) -> None:
        self.complain("")
        self.query_one("#recorded", Static).update(literal(RECORDING))
        self.write(self._store, self._stored, self._not_stored)

    def _stored(self, came: Next) -> None:
        self._came = came
        self.query_one("#recorded", Static).update(literal(RECORDED, "bold $desk-good"))

    def _not_stored(self, error: RecallError) -> None:
        self.query_one("#recorded", Static).update("")
        self.complain(NOT_RECORDED.format(error=error))

    def on_key(self, event: Key) -> None:
        """Say of what somebody types that it goes nowhere."""
        if event.is_printable and self._came is not None:
            self.complain(NOT_KEPT)

    def action_go_on(self) -> None:
        """Put the sheet away once it is recorded; else try again."""
        if self._came is None and not self.writing:
            self._try()
        else:
            self.action_leave()

    def action_leave(self) -> None:
        """Put the sheet away; not while it is being recorded."""
        if not self.writing:
            self.dismiss(self._came)
