"""What every screen with a list shares: keys that go up and down in it, and how fast they act."""

from __future__ import annotations

from functools import partial
from typing import Any

from textual import events, on

from recall.errors import InputError
from tui.commands.kinds import Command, Writes
from tui.commands.table import commands_of
from tui.register import key_pace
from tui.register.key_pace import KeyPace, Later
from tui.screens.base import Does
from tui.screens.live import LiveScreen
from tui.widgets.row_list import RowList


class ListScreen(LiveScreen):
    """A screen with one list, of which one row is marked."""

    def __init__(self, **more: Any) -> None:
        """Begin with nothing in sight."""
        super().__init__(**more)
        self._pace = KeyPace()
        self._to_do: Does | None = None
        self._timer: Later | None = None
        self._said_of_pace = ""
        """What was said of a key that came too soon or too fast: the next one takes it away."""
        self._said_no_sheet = False
        self._by_key: dict[str, Command] = {
            key: command for command in commands_of(self.WHERE) for key in command.keys.split(",")
        }

    @property
    def row_list(self) -> RowList:
        """Return the list."""
        return self.query_one(RowList)

    # How fast keys act.

    @on(RowList.Marked)
    def _comes_into_sight(self) -> None:
        if self.row_list.row is None:
            self._pace.show(None, self.app.key_clock.now())
        else:
            self.call_after_refresh(partial(self._is_in_sight, self.row_list.number))

    def _is_in_sight(self, number: int | None) -> None:
        if self.row_list.number == number:
            self._pace.show(number, self.app.key_clock.now())

    def is_read(self) -> bool:
        """Return whether the marked row was in sight long enough; if not, say so."""
        if self._pace.has_read(self.row_list.number, self.app.key_clock.now()):
            return True
        self.refuse(key_pace.TOO_EARLY)
        return False

    def refuse(self, words: str) -> None:
        """Say why nothing was recorded, where it stays until something is.

        What is being stored meanwhile would take it away as soon as it went well.
        """
        if self.writing:
            self.say(words, alarm=True)
        else:
            self.report(InputError(words))
            self._said_of_pace = words

    def _forget_what_was_said(self) -> None:
        """Take away what was said of the key before, unless something else was said since."""
        if self._said_of_pace and str(self._wrong or "") == self._said_of_pace:
            self.went_well()
        self._said_of_pace = ""

    async def let_act(self, key: events.Key, does: Does | None) -> None:
        """Let a key act a moment later, and only if it came alone; one that writes waits longer.

        Args:
            key: the key.
            does: what it does here; None for nothing.
        """
        if not key_pace.is_typed(key) or self._pace.waited_alone(key.time):
            await self._do_what_waits()
            if self.is_opening or self.app.screen is not self:
                self.app.put_back(key)
                return
        if not key_pace.is_typed(key):
            self._pace.no_sheet(None)
            self._forget_what_was_said()
            await super().let_act(key, does)
            return
        if not self._is_for_nothing(key):
            await self._let_typed_act(key, does)

    def _is_for_nothing(self, key: events.Key) -> bool:
        """Return whether a key goes on with a text for a sheet that did not open; say it once."""
        for_nothing = self._pace.is_for_nothing(key.time)
        if for_nothing and not self._said_no_sheet:
            self._said_no_sheet = True
            self.say(key_pace.NO_SHEET)
        return for_nothing

    async def _let_typed_act(self, key: events.Key, does: Does | None) -> None:
        """Let a key act that a text could consist of, by how fast it came."""
        command = self._by_key.get(key.key)
        writes: Writes = command.writes if command is not None else ""
        marked = self.row_list.number
        verdict = self._pace.judge(key.time, writes, marked, means=does is not None)
        if verdict in ("wait", "look", "go"):
            self._forget_what_was_said()
        if does is not None and verdict in ("wait", "look"):
            self._let_wait(partial(self._do, does, writes, marked), brief=verdict == "look")
            if verdict == "wait" and command is not None:
                self.show_waiting(command.words)
        elif verdict == "too fast":
            self._forget_what_waits()
            self.show_waiting("")
            self.refuse(key_pace.TOO_FAST)
        elif verdict == "too early":
            self.refuse(key_pace.TOO_EARLY)
        else:
            await super().let_act(key, does)

    def _let_wait(self, do: Does, *, brief: bool) -> None:
        self._to_do = do
        span = key_pace.PASTE if brief else key_pace.TOGETHER
        self._timer = self.app.key_clock.later(self, span, self._do_what_waits)

    def _forget_what_waits(self) -> Does | None:
        if self._timer is not None:
            self._timer.stop()
        to_do, self._to_do, self._timer = self._to_do, None, None
        self._pace.done()
        return to_do

    async def _do_what_waits(self) -> None:
        to_do = self._forget_what_waits()
        if to_do is not None:
            await to_do()

    def no_sheet(self) -> None:
        """No sheet opened: what goes on being typed for it does nothing here, until a pause."""
        self._pace.no_sheet(self.app.key_clock.now())
        self._said_no_sheet = False
        super().no_sheet()

    def show_waiting(self, words: str) -> None:
        """Say at once which key waits to be the only one; nothing where none does any more."""

    async def _do(self, does: Does, writes: Writes, marked: int | None) -> None:
        if writes == "marked" and self.row_list.number != marked:
            self.show_waiting("")
            self.refuse(key_pace.OTHER_IN_HAND)
        else:
            await does()

    def on_paste(self, pasted: events.Paste) -> None:
        """Do nothing with what is pasted, and nothing with a key that came just before."""
        self._pace.judge(pasted.time, "", None, means=False)
        self._forget_what_waits()
        self.show_waiting("")

    # Up and down.

    def move(self, by: int) -> None:
        """Mark the row so many further on."""
        self.row_list.move(by)

    def action_next(self) -> None:
        """Mark the next row."""
        self.move(1)

    def action_previous(self) -> None:
        """Mark the row before."""
        self.move(-1)

    def action_page_down(self) -> None:
        """Go a page down."""
        self.move(self.row_list.page)

    def action_page_up(self) -> None:
        """Go a page up."""
        self.move(-self.row_list.page)

    def action_first(self) -> None:
        """Mark the first row."""
        self.row_list.mark(0)

    def action_last(self) -> None:
        """Mark the last row."""
        self.row_list.mark(len(self.row_list.numbers) - 1)
