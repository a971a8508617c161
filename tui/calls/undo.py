"""Taking back what was done last: at once where one just did it there, else after a question."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

from tui.calls import acts
from tui.dialogs.ask import Ask
from tui.register.background import WRITE, Working

if TYPE_CHECKING:
    from recall.desk.core.acting import Next


def ask_undo(
    screen: Working[Any], last: Next | None, undone: Callable[[Next], None], *, at_once: bool
) -> None:
    """Take back what was done last, and say first what that is, unless one just did it there.

    Args:
        screen: where the key was pressed.
        last: what would be taken back, as the register says it.
        undone: takes what came of it.
        at_once: it is what one did last on this very screen.
    """
    if last is None:
        screen.say("You have done nothing today that can be taken back.")
        return
    store = partial(acts.undo, number=last.action)
    if at_once:
        if screen.write(store, undone):
            screen.hold_keys(WRITE)
        return

    def answered(yes: bool | None) -> None:
        if yes:
            screen.write(store, undone)

    screen.app.push_screen(
        Ask("Take this back?", [last.words], yes="Take it back", no="Leave it"), answered
    )
