"""Drive the desk by keys: an app, its pilot, and the screen as plain text."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any

from textual.pilot import Pilot

from tui.app import DeskApp

Steps = Callable[["Driver"], Awaitable[None]]


class Driver:
    """Presses keys, waits until the desk has answered, and reads the screen."""

    def __init__(self, app: DeskApp, pilot: Pilot[Any]) -> None:
        self.app = app
        self.pilot = pilot

    async def settle(self) -> None:
        """Wait until nothing is being asked of the register and nothing waits to be drawn."""
        for _ in range(50):
            await self.pilot.pause()
            if not [w for w in self.app.workers if not w.is_finished]:
                break
            await self.app.workers.wait_for_complete()
        await self.pilot.pause()

    async def press(self, *keys: str) -> None:
        """Press keys one after the other, each answered before the next."""
        for key in keys:
            await self.pilot.press(key)
            await self.settle()

    async def type(self, text: str) -> None:
        """Type a text into whatever has the focus."""
        await self.pilot.press(*[" " and "space" if c == " " else c for c in text])
        await self.settle()

    @property
    def lines(self) -> list[str]:
        """Return the lines of the screen."""
        # Private, and in this one place only: there is no public way to plain text.
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


def drive(app: DeskApp, steps: Steps, size: tuple[int, int] = (80, 24)) -> None:
    """Run the app without a terminal and let `steps` work it."""

    async def run() -> None:
        async with app.run_test(size=size, notifications=True) as pilot:
            driver = Driver(app, pilot)
            await driver.settle()
            await steps(driver)

    asyncio.run(run())
