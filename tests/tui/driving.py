"""Drive the desk by keys: an app, its pilot, and the screen as plain text."""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from typing import Any

from textual import events
from textual._context import active_app, visible_screen_stack
from textual.keys import _character_to_key
from textual.message_pump import MessagePump
from textual.pilot import Pilot

from tui.app import DeskApp
from tui.screens.call_list import REST

ALONE = 1.0
"""Seconds on the clock of keys before and after one that is pressed alone."""
QUIET = 5
"""Rounds without anything to do that count as rest."""
Steps = Callable[["Driver"], Awaitable[None]]


@dataclass
class Waiting:
    """Something that a clock has still to do."""

    at: float
    do: Callable[[], Awaitable[object]]
    node: MessagePump

    def stop(self) -> None:
        self.at = float("inf")


@dataclass
class MovedClock:
    """A clock for keys that stands still until it is moved."""

    at: float = 1000.0
    waiting: list[Waiting] = field(default_factory=list)

    def now(self) -> float:
        return self.at

    def later(self, node: MessagePump, seconds: float, do: Callable[[], Any]) -> Waiting:
        self.waiting.append(Waiting(self.at + seconds, do, node))
        return self.waiting[-1]

    def move(self, seconds: float) -> bool:
        """Move on, and do what was to be done by then; return whether there was anything."""
        self.at += seconds
        due = [each for each in self.waiting if each.at <= self.at]
        self.waiting = [each for each in self.waiting if self.at < each.at < float("inf")]
        for each in due:
            each.node.call_later(each.do)
        return bool(due)


class Driver:
    """Presses keys, waits until the desk has answered, and reads the screen."""

    def __init__(self, app: DeskApp, pilot: Pilot[Any]) -> None:
        self.app = app
        self.pilot = pilot
        self.clock = MovedClock()
        app.key_clock = self.clock

    async def settle(self) -> None:
        """Wait until nothing is asked of the register and no message waits; never by the clock."""
        quiet = 0
        for _ in range(40_000):
            await asyncio.sleep(0.002)
            quiet = 0 if self._under_way() else quiet + 1
            if quiet >= QUIET:
                return
        raise AssertionError(f"the desk never came to rest: {self._under_way()}")

    async def until(self, holds: Callable[[], bool]) -> None:
        """Wait until something holds, however long the machine takes."""
        for _ in range(40_000):
            if holds():
                return
            await asyncio.sleep(0.002)
        raise AssertionError("it never came to hold")

    async def rest(self) -> None:
        """Let the cursor rest as long as the desk waits for that, and settle."""
        await asyncio.sleep(REST * 1.5)
        await self.settle()

    def _under_way(self) -> str:
        """Return the first thing that is under way; nothing where the desk is at rest."""
        app = self.app
        if app._exit:  # the desk was left: what still waits waits for ever
            return ""
        screen = app.screen
        if app.waiting or app._paced:
            opens = [getattr(each, "_opens", "") for each in app.screen_stack]
            return f"keys {list(app.waiting)} on {screen}, which waits for {opens}"
        if running := [worker for worker in app.workers if not worker.is_finished]:
            return f"work {running}"
        if screen._dirty_widgets or screen._layout_required or screen._callbacks:
            return f"drawing of {screen}: {screen._dirty_widgets} {screen._callbacks}"
        for node in (app, *app.screen_stack, *screen.walk_children()):
            if not node._message_queue.empty() or node._next_callbacks:
                return f"messages of {node}: {node._next_callbacks}"
        return ""

    async def press(self, *keys: str) -> None:
        """Press keys one after the other, each alone and answered before the next."""
        for key in keys:
            self.clock.move(ALONE)
            self._send(key)
            await self.settle()
            if self.clock.move(ALONE):
                await self.settle()

    async def burst(self, *keys: str, apart: float = 0.03) -> None:
        """Press keys as fast as a terminal brings what is typed or pasted into it."""
        for n, key in enumerate(keys):
            self._send(key, after=n * apart)
        await self.settle()
        self.clock.move(len(keys) * apart)
        await self.settle()

    async def paste(self, text: str) -> None:
        """Paste a text as a terminal marks it."""
        self._hand_in(events.Paste(text))
        await self.settle()

    async def type(self, text: str) -> None:
        """Type a text into whatever has the focus."""
        for character in text:
            self._send(character)
        await self.settle()

    def _send(self, key: str, after: float = 0) -> None:
        """Hand a key to the app as a terminal would; the pilot's own way sleeps after each."""
        name = _character_to_key(key) if len(key) == 1 else key
        character = key if len(key) == 1 else {"space": " "}.get(key)
        self._hand_in(events.Key(name, character), after)

    def _hand_in(self, event: events.Event, after: float = 0) -> None:
        event.time = self.clock.now() + after
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
            # As in the app's own tasks: what was just taken away is painted once more at times,
            # and has no other way to its app.
            active_app.set(app)
            async with asyncio.timeout(LONGEST):
                await steps(driver)

    asyncio.run(run())
