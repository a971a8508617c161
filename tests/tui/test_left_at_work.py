"""What a screen has begun with the register is done, though the screen was left meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from threading import Thread
from types import SimpleNamespace
from typing import Any

import pytest

from recall.desk.core.session import Desk
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.register import background
from tui.screens.person import PersonScreen


@pytest.mark.parametrize("way", ["read", "write"])
def test_a_screen_that_was_left_does_what_it_began(
    app: DeskApp, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    """The thread begins late, and by then the screen stands in no app any more."""
    done, begun = list[str](), list[Callable[[], None]]()

    def note(desk: Desk) -> None:
        done.append(desk.by.handle)

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "enter")
        await driver.rest()
        screen: Any = app.screen
        assert isinstance(screen, PersonScreen)
        with monkeypatch.context() as late:
            late.setattr(screen, "run_worker", lambda run, **_how: begun.append(run))
            if way == "read":
                screen.read("late", note, print)
            else:
                assert screen.write(note, print)
        screen.writing = False
        await driver.press("escape")
        await driver.rest()
        assert not screen.is_attached
        monkeypatch.setattr(
            background, "get_current_worker", lambda: SimpleNamespace(is_cancelled=True)
        )
        thread = Thread(target=begun[0])
        thread.start()
        thread.join()

    drive(app, steps)

    assert done == ["thackray"]
