"""What every screen of the desk has: headline, notice, keys, help, and a way back.

A screen sets `WHERE` to its word in the table of commands, `TITLE` and `HELP`, gives its own
widgets in `body`, and asks the register through `read` and `write`.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable, Iterable
from functools import partial
from typing import Any, ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import BindingsMap
from textual.widget import Widget

from recall.errors import InputError, RecallError
from recall.schedule.calendar import say_day
from tui.commands.table import TITLES, bindings, foot
from tui.register.background import Working
from tui.register.key_pace import PASTED
from tui.widgets.lines import Headline, KeysLine, Notice
from tui.widgets.row_list import RowList

Does = Callable[[], Awaitable[object]]


class DeskScreen(Working[None]):
    """One screen of the desk."""

    WHERE: ClassVar[str] = ""
    HELP: ClassVar[str] = ""
    """What one sees here and how it is worked, for `?`."""

    REFILL_ON_RETURN: ClassVar[bool] = False
    """Whether the register is read again whenever somebody comes back."""

    def __init__(self, **more: Any) -> None:
        """Take the keys of this screen from the table."""
        super().__init__(**more)
        self._is_begun = False
        self._was_left = False
        # The table's keys go first: the toolkit's screen has some of its own, such as Tab, and
        # of two bindings of one key only the first one acts.
        self._bindings = BindingsMap.merge([BindingsMap(bindings(self.WHERE)), self._bindings])
        self._right: tuple[str, ...] = ()
        self._wrong: RecallError | None = None

    def compose(self) -> ComposeResult:
        """Give the edges, and the screen's own widgets between them."""
        yield Headline()
        yield Notice()
        yield from self.body()
        yield KeysLine(foot(self.WHERE))

    def body(self) -> Iterable[Widget]:
        """Return the screen's own widgets."""
        return ()

    def on_mount(self) -> None:
        """Draw the headline and read the register.

        Textual calls this for every class of a screen by itself: a screen's own `on_mount`
        comes beside it, and never calls it.
        """
        if not self._is_begun:
            self._is_begun = True
            self.headline()
            self.refill()

    def on_screen_resume(self) -> None:
        """Somebody came back: the day, the person acting or the register may be another."""
        self.headline()
        self.announce()
        if self._was_left and self.REFILL_ON_RETURN:
            self.refill()
        self._was_left = False

    def on_screen_suspend(self) -> None:
        """Remember that somebody looks elsewhere."""
        self._was_left = True

    async def take_key(self, key: events.Key) -> bool:
        """Act on a key at once, where nothing has the focus that reads keys by itself.

        What is typed next finds the sheet that this key opens: a key that goes round by the
        focus would come back too late.
        """
        if not (self.focused is None or isinstance(self.focused, RowList)):
            return False
        found = self.active_bindings.get(key.key)
        does = None
        if found is not None:
            does = partial(self.app.run_action, found.binding.action, found.node)
        await self.let_act(key, does)
        return True

    async def let_act(self, key: events.Key, does: Does | None) -> None:
        """Let a key do what it does here; None for nothing."""
        if does is not None:
            await does()

    def on_paste(self, pasted: events.Paste) -> None:
        """Say that pasted text does nothing where no field takes it."""
        self.report(InputError(PASTED))

    def refill(self) -> None:
        """Read the register anew; what is marked or typed stays."""

    def headline(self, *right: str) -> None:
        """Draw the headline; what stands on the right stays until it is given anew."""
        if right:
            self._right = right
        day = say_day(self.app.today, weekday=True) if self.app.today else ""
        who = self.app.acting or ""
        place = self.app.sites_shown
        self.query_one(Headline).show(self.title_now(), day, (*self._right, place, who))

    def title_now(self) -> str:
        """Return what the headline calls this screen now."""
        return TITLES.get(self.WHERE, "")

    def announce(self) -> None:
        """Show what is wrong here, or else what concerns everybody."""
        notice = self.query_one(Notice)
        if self._wrong is not None:
            notice.show([str(self._wrong)], alarm=True)
        else:
            notice.show(self.app.announcements, key="a" if self.WHERE == "start" else "")

    def report(self, error: RecallError) -> None:
        """Say what went wrong, in a place that stays until something goes right."""
        self._wrong = error
        self.announce()

    def went_well(self) -> None:
        """Take the last complaint away."""
        if self._wrong is not None:
            self._wrong = None
            self.announce()

    def unsaved(self) -> str:
        """Return in words what would be lost by leaving; nothing where nothing would be."""
        return ""

    def explained(self) -> str:
        """Return the help of this screen."""
        return self.HELP
