"""Drive the desk by keys: an app, its pilot, and the screen as plain text."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

from textual import events
from textual._context import visible_screen_stack
from textual.keys import _character_to_key
from textual.pilot import Pilot

from tui.app import DeskApp
from tui.screens.call_list import REST

QUIET = 5
"""Rounds without anything to do that count as rest."""
Steps = Callable[["Driver"], Awaitable[None]]


class Driver:
    """Presses keys, waits until the desk has answered, and reads the screen."""

    def __init__(self, app: DeskApp, pilot: Pilot[Any]) -> None:
        self.app = app
        self.pilot = pilot

    async def settle(self) -> None:
        """Wait until nothing is asked of the register and no message waits; never by the clock."""
        quiet = 0
        for _ in range(10_000):
            await asyncio.sleep(0.002)
            quiet = 0 if self._is_busy() else quiet + 1
            if quiet >= QUIET:
                return
        raise AssertionError("the desk never came to rest")

    async def rest(self) -> None:
        """Let the cursor rest as long as the desk waits for that, and settle."""
        await asyncio.sleep(REST * 1.5)
        await self.settle()

    def _is_busy(self) -> bool:
        app = self.app
        if any(not worker.is_finished for worker in app.workers):
            return True
        screen = app.screen
        if screen._dirty_widgets or screen._layout_required or screen._callbacks:
            return True
        nodes = (app, *app.screen_stack, *screen.walk_children())
        return any(not node._message_queue.empty() or node._next_callbacks for node in nodes)

    async def press(self, *keys: str) -> None:
        """Press keys one after the other, each answered before the next."""
        for key in keys:
            self._send(key)
            await self.settle()

    async def type(self, text: str) -> None:
        """Type a text into whatever has the focus."""
        for character in text:
            self._send(character)
        await self.settle()

    def _send(self, key: str) -> None:
        """Hand a key to the app as a terminal would; the pilot's own way sleeps after each."""
        name = _character_to_key(key) if len(key) == 1 else key
        character = key if len(key) == 1 else {"space": " "}.get(key)
        event = events.Key(name, character)
        event.set_sender(self.app)
        assert self.app._driver is not None
        self.app._driver.send_message(event)

    @property
    def words(self) -> str:
        """Return the sheet on top, or else the screen, as one line, whatever was wrapped."""
        lines = self.lines
        for sheet in self.app.screen.query(".sheet"):
            region = sheet.content_region
            lines = [line[region.x : region.right] for line in lines[region.y : region.bottom]]
        return " ".join(" ".join(lines).split())

    @property
    def lines(self) -> list[str]:
        """Return the lines of the screen."""
        # Private, and in this one place only: there is no public way to plain text. A sheet
        # paints what lies behind it from this stack, and each painting uses the stack up.
        visible_screen_stack.set(self.app._background_screens)
        strips = self.app.screen._compositor.render_strips()
        return ["".join(segment.text for segment in strip).rstrip() for strip in strips]

    @property
    def text(self) -> str:
        """Return the screen as one text."""
        return "\n".join(self.lines)

    @property
    def where(self) -> str:
        """Return the name of the screen's class."""
        return type(self.app.screen).__name__


LONGEST = 180
"""Seconds that the steps of one test may take: many times what any of them needs."""


def drive(
    app: DeskApp, steps: Steps, size: tuple[int, int] = (80, 24), *, settled: bool = True
) -> None:
    """Run the app without a terminal and let `steps` work it, once it has come to rest.

    Steps that wait for something that never comes fail after a while: a test that hangs tells
    nobody which it was.
    """

    async def run() -> None:
        async with app.run_test(size=size, notifications=True) as pilot:
            driver = Driver(app, pilot)
            if settled:
                await driver.settle()
            async with asyncio.timeout(LONGEST):
                await steps(driver)

    asyncio.run(run())
