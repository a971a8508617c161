"""The desk as a terminal program: it holds the open register and the areas, and little else."""

from __future__ import annotations

import gc
import importlib
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any, ClassVar

from textual.app import App
from textual.binding import BindingType
from textual.screen import Screen

from tui.commands import AREAS, bindings
from tui.keyed import EVERYWHERE, Area
from tui.palette import DeskCommands
from tui.styles.themes import NAMES, TERMINAL, THEMES, roles

if TYPE_CHECKING:
    from recall.clock import Clock
    from recall.desk.session import Desk
    from recall.desk.tally import Tally
    from tui.visit_form import VisitForm

HOME = AREAS[0].id
FIND = "find"
ALLOCATIONS = 5_000
"""How many new objects begin a round of the garbage collector; Python's own is 700."""


def file_of(path: Path) -> tuple[int, int] | None:
    """Return what tells one file from another of the same name; None where there is none."""
    try:
        found = path.stat()
    except OSError:
        return None
    return found.st_dev, found.st_ino


def settle() -> None:
    """Keep what stands now out of the garbage collector's rounds, and let those be rarer.

    It stands until the desk is left, and a round over it made a key wait a tenth of a second.
    """
    gc.freeze()
    gc.set_threshold(ALLOCATIONS)


def screen_of(area: Area) -> Screen[Any]:
    """Return a new screen for an area; its module is imported now and not before."""
    module, _, name = area.screen.partition(":")
    made: Screen[Any] = getattr(importlib.import_module(module), name)()
    settle()
    return made


class DeskApp(App[str], inherit_bindings=False):
    """The desk."""

    TITLE = "Ear recall"
    CSS_PATH = "styles/desk.tcss"
    BINDINGS: ClassVar[list[BindingType]] = bindings(EVERYWHERE)
    COMMANDS: ClassVar[set[Any]] = {DeskCommands}
    MODES: ClassVar[dict[str, Any]] = {area.id: partial(screen_of, area) for area in AREAS}
    DEFAULT_MODE = HOME
    ENABLE_COMMAND_PALETTE = True

    def __init__(
        self,
        opening: Callable[[], Desk],
        *,
        log_folder: Path | None = None,
        colours: str = NAMES[0],
        demo: bool = False,
        setting_up: Callable[[], object] | None = None,
        glancing: Callable[[], Tally] | None = None,
    ) -> None:
        """Open the register by `opening` when it is first needed.

        `glancing` counts what there is before that: opening takes longer.
        """
        super().__init__()
        self._opening = opening
        self._lock = Lock()
        self._desk: Desk | None = None
        self._file: tuple[int, int] | None = None
        self._clock: Clock | None = None
        self.acting = ""
        """The handle of whoever acts at this desk, once the register was open."""
        self.log_folder = log_folder
        self.is_demo = demo
        self._setting_up = setting_up
        self._glancing = glancing
        self.announcements: tuple[str, ...] = ()
        self.begun: dict[str, VisitForm] = {}
        """Visits that are typed and not closed, by the person's reference."""
        self._colours = colours if colours in NAMES else NAMES[0]
        for theme in THEMES:
            self.register_theme(theme)
        if not self._colours.startswith("ansi"):
            # Before anything is drawn: the style sheet is then read once.
            self.set_reactive(App.theme, self._colours)

    def on_mount(self) -> None:
        """Take the colours, where they are not there from the start."""
        self.theme = self._colours

    def get_theme_variable_defaults(self) -> dict[str, str]:
        """Return our colours for the themes that leave them to the terminal."""
        return roles(TERMINAL)

    def open_desk(self) -> Desk:
        """Return the open register; called in threads.

        A database that was taken away, or another put in its place, is noticed at the next
        question: an open connection alone would go on writing into the file that is gone.
        """
        with self._lock:
            if self._desk is not None and file_of(self._desk.store.path) != self._file:
                self._let_go()
            if self._desk is None:
                desk = self._opening()
                self._file = file_of(desk.store.path)
                self._desk = desk.acting_as(self.acting) if self.acting else desk
                self._clock, self.acting = desk.clock, self._desk.by.handle
                settle()
            return self._desk

    def reopen(self) -> None:
        """Let go of the register, so that the next question opens it anew."""
        with self._lock:
            self._let_go()

    def _let_go(self) -> None:
        if self._desk is not None:
            self._desk.close()
        self._desk = None

    @property
    def can_glance(self) -> bool:
        """Whether what there is can be counted sooner than the register can be opened."""
        return self._glancing is not None and self._desk is None

    def glance(self) -> Tally:
        """Count what there is; called in threads."""
        assert self._glancing is not None
        return self._glancing()

    @property
    def can_set_up(self) -> bool:
        """Whether the database can be made from here."""
        return self._setting_up is not None

    def set_up(self) -> object:
        """Make the database, or bring it up to date; called in threads."""
        return self._setting_up() if self._setting_up else None

    @property
    def today(self) -> date | None:
        """Return the practice's day, once the register was open."""
        return self._clock.today() if self._clock else None

    def act_as(self, desk: Desk) -> None:
        """Let somebody else act from now on."""
        with self._lock:
            self._desk, self.acting = desk, desk.by.handle

    def announce(self, sentences: tuple[str, ...]) -> None:
        """Keep what concerns everybody at this desk; every screen shows it."""
        self.announcements = sentences
        show = getattr(self.screen, "announce", None)
        if show is not None:
            show()

    def on_unmount(self) -> None:
        """Close the register."""
        self.reopen()

    def action_go(self, area: str) -> None:
        """Go to an area; it is as one left it, but Find, which is for the next caller.

        A person who was left open there would take the letters of a name for commands.
        """
        if len(self.screen_stack) > 1 and self.screen.is_modal:
            return
        if area != self.current_mode:
            self.switch_mode(area)
            if area != FIND:
                return
        while len(self.screen_stack) > 1 and not self.screen.is_modal:
            self.pop_screen()

    def action_step_back(self) -> None:
        """Go back one step; from an area to Today."""
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

    def action_nothing(self) -> None:
        """Do nothing: the key belongs to whatever has the focus."""

    def action_leave(self) -> None:
        """Leave the desk; ask first where something typed would be lost."""
        waiting = [
            words
            for stack in self._screen_stacks.values()
            for screen in stack
            if (words := getattr(screen, "unsaved", lambda: "")())
        ]
        if self.begun:
            waiting.append(f"Visits typed and not closed: {', '.join(self.begun)}.")
        if not waiting:
            self.exit()
            return
        from tui.dialogs.ask import Ask

        question = Ask("Leave, and lose this?", waiting, yes="Leave", no="Stay")
        self.push_screen(question, lambda yes: self.exit() if yes else None)
