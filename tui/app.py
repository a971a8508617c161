"""The desk as a terminal program: it holds the open register and the areas, and little else."""

from __future__ import annotations

import asyncio
import gc
import importlib
import signal
from collections.abc import Callable
from contextlib import suppress
from functools import partial
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import App
from textual.binding import BindingType
from textual.screen import Screen
from textual.widgets import Static

from tui.commands.kinds import EVERYWHERE, Area, Command
from tui.commands.table import AREAS, NARROW, bindings, commands_of
from tui.register.holding import settle
from tui.register.keys import KeyedApp
from tui.styles.themes import NAMES, TERMINAL, THEMES, roles

if TYPE_CHECKING:
    from recall.desk.core.session import Desk

HOME = AREAS[0].id
FIND = "find"


def screen_of(area: Area) -> Screen[Any]:
    """Return a new screen for an area; its module is imported now and not before."""
    module, _, name = area.screen.partition(":")
    made: Screen[Any] = getattr(importlib.import_module(module), name)()
    if gc.isenabled():  # otherwise the desk is still being opened, which ends with it
        settle()
    return made


class DeskApp(KeyedApp, inherit_bindings=False):
    """The desk."""

    TITLE = "Ear recall"
    CSS_PATH = "styles/desk.tcss"
    BINDINGS: ClassVar[list[BindingType]] = bindings(EVERYWHERE)
    MODES: ClassVar[dict[str, Any]] = {area.id: partial(screen_of, area) for area in AREAS}
    DEFAULT_MODE = HOME
    ENABLE_COMMAND_PALETTE = False
    """Our own sheet does it, which looks and works like every other."""

    def __init__(
        self, opening: Callable[[], Desk], *, colours: str = NAMES[0], **more: Any
    ) -> None:
        """Open the register by `opening` when it is first needed; more is the holder's."""
        super().__init__(opening, **more)
        self._held: list[tuple[str, dict[str, Any]]] = []
        self._colours = colours if colours in NAMES else NAMES[0]
        for theme in THEMES:
            self.register_theme(theme)
        if not self._colours.startswith("ansi"):
            # Before anything is drawn: the style sheet is then read once.
            self.set_reactive(App.theme, self._colours)

    def on_mount(self) -> None:
        """Take the colours, where they are not there from the start; leave in order when told to.

        A window that is closed, or a machine that is shut down, must not leave somebody claimed.
        """
        self.theme = self._colours
        loop = asyncio.get_running_loop()
        with suppress(NotImplementedError, RuntimeError, ValueError):  # not here: it runs out
            for told in (signal.SIGHUP, signal.SIGTERM):
                loop.add_signal_handler(told, self._window_closed)

    def _window_closed(self) -> None:
        """The window is gone: first give back, for what is drawn from now on may fail."""
        self.leave()
        self._leave()

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our colours for the themes that leave them to the terminal."""
        return roles(TERMINAL)

    def begin_visit(self, reference: str) -> None:
        """Show the form of a visit of somebody."""
        from tui.screens.visit import VisitScreen

        self.push_screen(VisitScreen(reference))

    def show_person(self, reference: str, just: str = "") -> None:
        """Show the screen of one person, and what was just done about them."""
        from tui.screens.person import PersonScreen

        self.push_screen(PersonScreen(reference, just))

    def lock(self) -> None:
        """Hide everything until somebody signs in; what was typed stays behind it."""
        if not self.locked:
            self.locked = True
            self.clear_notifications()
            self._show_lock()

    def lock_again(self) -> None:
        """Lock, where something opened over the lock."""
        if self.locked and not getattr(self.screen, "locks", False):
            self._show_lock()

    def _show_lock(self) -> None:
        from tui.dialogs.sign_in import SignIn

        self.push_screen(SignIn("Who is at this desk?", self.acting, locks=True))

    def signed(self) -> None:
        """Go on where the desk was, and say what came meanwhile."""
        self.locked = False
        self.watch_for_idling()
        held, self._held = self._held, []
        for words, more in held:
            self.notify(words, **more)

    def notify(self, message: str, **more: Any) -> None:
        """Say something short; on a locked desk only once somebody is there."""
        if self.locked:
            self._held.append((message, more))
        else:
            super().notify(message, **more)

    def on_unmount(self) -> None:
        """Let go of whoever is in hand, and close the register."""
        self.leave()
        self.reopen()

    def action_go(self, area: str) -> None:
        """Go to an area; it is as one left it, but Today, and Find, which is for the next caller.

        A person who was left open there would take the letters of a name for commands. Find once
        more asks which of those who were rung today it is.
        """
        if len(self.screen_stack) > 1 and self.screen.is_modal:
            return
        if area != self.current_mode:
            self.switch_mode(area)
            if area not in (FIND, HOME):
                return
        elif area == FIND and len(self.screen_stack) == 1:
            getattr(self.screen, "ask_who_rings_back", self.action_nothing)()
        while len(self.screen_stack) > 1 and not self.screen.is_modal:
            self.pop_screen()

    def action_step_back(self) -> None:
        """Put away what was opened last, on the screen or else it; from an area to Today."""
        if getattr(self.screen, "put_away", lambda: False)():
            return
        if len(self.screen_stack) > 1:
            self.pop_screen()
        elif self.current_mode != HOME:
            self.switch_mode(HOME)

    def action_explain(self) -> None:
        """Explain the screen one is on, with its keys."""
        from tui.dialogs.explain import explanation

        if not self.screen.is_modal:
            self.push_screen(explanation(self.screen))

    def action_look(self) -> None:
        """Take the next set of colours."""
        here = NAMES.index(self.theme) if self.theme in NAMES else -1
        self.theme = NAMES[(here + 1) % len(NAMES)]
        self.notify(f"Colours: {self.theme}.", markup=False, timeout=3)

    def action_act_as(self) -> None:
        """Ask who is at this desk now."""
        from tui.dialogs.acting import ask_who

        if not self.screen.is_modal:
            ask_who(self)

    def action_sites(self) -> None:
        """Ask which site's people the lists are to show."""
        from tui.dialogs.acting import ask_where

        if not self.screen.is_modal:
            ask_where(self)

    def action_command_palette(self) -> None:
        """Look for a command by name, and do it."""
        from tui.dialogs.commands import FindCommand

        screen = self.screen
        if screen.is_modal:
            return
        here = (*commands_of(getattr(screen, "WHERE", "")), *commands_of(EVERYWHERE))
        offered = [each for each in here if each.action != "app.nothing"]
        offered += [NARROW] if self.sites else []

        async def chosen(command: Command | None) -> None:
            if command is not None:
                await self.run_action(command.action, default_namespace=screen)

        self.push_screen(FindCommand(offered), chosen)

    def action_nothing(self) -> None:
        """Do nothing: the key belongs to whatever has the focus."""

    def action_leave(self) -> None:
        """Leave the desk, and say so; ask first where something typed would be lost."""
        from tui.dialogs.ask import Ask
        from tui.dialogs.sign_in import LOCKED

        if isinstance(self.screen, Ask):
            self.screen.complain("Answer this first: y or n.")
            return
        waiting = [
            words
            for stack in self._screen_stacks.values()
            for screen in stack
            if (words := getattr(screen, "unsaved", lambda: "")())
        ]
        if self.begun:
            waiting.append(f"Visits typed and not closed: {', '.join(self.begun)}.")
        if not waiting:
            self._leave()
            return
        if self.locked:
            self.screen.query_one(".wrong", Static).update(LOCKED)
            return
        question = Ask("Leave, and lose this?", waiting, yes="Leave", no="Stay")
        self.push_screen(question, lambda yes: self._leave() if yes else None)

    def _leave(self) -> None:
        self.exit(message=f"The desk is closed. {self.acting or 'Nobody'} acts here no longer.")
