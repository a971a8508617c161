"""Every command that can be given here and now, found by a few letters, each with its key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import ClassVar

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.content import Content
from textual.widgets import Input, OptionList, Static
from textual.widgets.option_list import Option

from tui.commands.kinds import Command
from tui.commands.table import TITLES
from tui.dialogs.base import DeskDialog
from tui.dialogs.fields import Line
from tui.words.text import cut, literal

KEYS, WORDS, WHERE = 13, 17, 14
"""Cells for the keys, the words and the screen of a command."""


class FindCommand(DeskDialog[Command]):
    """Look for a command; gives the one that was chosen, or None."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("down", "screen.go(1)", show=False),
        Binding("up", "screen.go(-1)", show=False),
        Binding("pagedown", "screen.go(8)", show=False),
        Binding("pageup", "screen.go(-8)", show=False),
    ]
    AUTO_FOCUS = "#asked-command"

    def __init__(self, commands: Sequence[Command]) -> None:
        """Offer these commands, in the order of the table."""
        super().__init__()
        self._commands = tuple(commands)
        self.shown = self._commands

    def compose(self) -> ComposeResult:
        """Show the field, the commands that fit, and what the marked one does."""
        with Vertical(classes="sheet"):
            yield Static(literal("Which command?"), classes="title")
            yield Line(id="asked-command", placeholder="a few letters of what you want to do")
            yield OptionList(id="commands")
            yield Static("", classes="hint")
            yield Static("", classes="wrong")

    def on_mount(self) -> None:
        """Show all of them."""
        self._fill("")

    @on(Input.Changed)
    def _typed(self, changed: Input.Changed) -> None:
        self._fill(changed.value)

    def _fill(self, text: str) -> None:
        self.shown = fitting(self._commands, text)
        listed = self.query_one(OptionList)
        listed.clear_options()
        listed.add_options([Option(_line(each)) for each in self.shown])
        listed.highlighted = 0 if self.shown else None
        self.complain("" if self.shown else "No command here is called so.")
        self._say()

    @on(OptionList.OptionHighlighted)
    def _say(self) -> None:
        place = self.query_one(OptionList).highlighted
        says = self.shown[place].says if place is not None and self.shown else ""
        self.query_one(".hint", Static).update(literal(says))

    def action_go(self, by: int) -> None:
        """Mark the command so many further on."""
        listed = self.query_one(OptionList)
        if self.shown:
            here = listed.highlighted or 0
            listed.highlighted = max(0, min(len(self.shown) - 1, here + by))

    @on(Input.Submitted)
    def _chosen(self) -> None:
        place = self.query_one(OptionList).highlighted
        if place is not None and self.shown:
            self.dismiss(self.shown[place])

    @on(OptionList.OptionSelected)
    def _clicked(self, event: OptionList.OptionSelected) -> None:
        self.dismiss(self.shown[event.option_index])


def fitting(commands: Sequence[Command], text: str) -> tuple[Command, ...]:
    """Return the commands that hold every word typed: first those by name, then by what they do.

    >>> open_, undo = (
    ...     Command("find.open", "enter", "Open", "Open the person that is marked."),
    ...     Command("person.undo", "u", "Undo", "Take back the last thing you did."),
    ... )
    >>> [each.words for each in fitting([undo, open_], "marked")]
    ['Open']
    """
    asked = text.casefold().split()
    named = [each for each in commands if _holds(each.words, asked)]
    told = [each for each in commands if each not in named and _holds(_all_words(each), asked)]
    return (*named, *told)


def _holds(words: str, asked: Sequence[str]) -> bool:
    return all(each in words.casefold() for each in asked)


def _all_words(command: Command) -> str:
    return f"{TITLES[command.where]} {command.words} {command.says}"


def _line(command: Command) -> Content:
    return Content.assemble(
        (cut(command.all_keys, KEYS), "bold $desk-key"),
        f"{cut(command.words, WORDS)} ",
        (cut(TITLES[command.where], WHERE), "$desk-quiet"),
    )
