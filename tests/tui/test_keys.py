"""The one table of commands: every key, everywhere it is shown, and what it may be."""

from __future__ import annotations

import importlib
import inspect
from collections import Counter
from functools import cache
from typing import Any

import pytest

from tui.app import DeskApp
from tui.commands.kinds import EVERYWHERE, Command
from tui.commands.table import AREAS, COMMANDS, TITLES, bindings, commands_of, foot

SAFE = {
    *"abcdefghijklmnopqrstuvwxyz0123456789",
    *(f"f{n}" for n in range(1, 11)),
    *("up", "down", "left", "right", "pageup", "pagedown", "home", "end"),
    *("enter", "space", "escape", "tab", "shift+tab", "backspace", "delete", "insert"),
    *("question_mark", "slash", "full_stop", "comma", "plus", "minus", "asterisk", "equals_sign"),
    *("ctrl+p", "ctrl+q", "ctrl+s"),
}
"""Keys that reach a program on every usual terminal. Textual's documentation, "Why do some keys
not make it to my app?": letters, digits, F1 to F10, space, return, arrows, and some control
keys; ctrl+i, ctrl+m, ctrl+h and ctrl+j are other keys, upper case and alt are not sure."""


def keys_of(command: Command) -> list[str]:
    return command.keys.split(",")


def test_ids_are_unique() -> None:
    counted = Counter(command.id for command in COMMANDS)

    assert [each for each, count in counted.items() if count > 1] == []


@pytest.mark.parametrize("where", TITLES)
def test_no_key_does_two_things_on_one_screen(where: str) -> None:
    here = [key for command in commands_of(where) for key in keys_of(command)]
    everywhere = [key for command in commands_of(EVERYWHERE) for key in keys_of(command)]
    both = here if where == EVERYWHERE else [*here, *everywhere]

    assert [key for key, count in Counter(both).items() if count > 1] == []


def test_keys_reach_a_program_on_every_terminal() -> None:
    used = {key for command in COMMANDS for key in keys_of(command)}

    assert used - SAFE == set()


def test_no_key_steals_typing() -> None:
    """A binding with priority would take letters out of a field."""
    made = [binding for where in TITLES for binding in bindings(where)]

    assert [b for b in made if getattr(b, "priority", False)] == []


@pytest.mark.parametrize("where", TITLES)
def test_the_line_of_keys_is_short(where: str) -> None:
    assert len(foot(where)) <= 8


@pytest.mark.parametrize("command", COMMANDS, ids=lambda command: command.id)
def test_every_command_has_words_a_sentence_and_an_action(command: Command) -> None:
    assert command.words
    assert command.says.endswith(".")
    assert has_action(command.where, command.action), command.action


def has_action(where: str, action: str) -> bool:
    """Return whether the app or the screen has the method that an action names."""
    name = action.partition("(")[0]
    target, _, method = name.rpartition(".")
    found = DeskApp if target == "app" else screen_classes().get(where)
    return hasattr(found, f"action_{method}")


@cache
def screen_classes() -> dict[str, Any]:
    """Return every screen by its word in the table."""
    from pathlib import Path

    from tui.screens.base import DeskScreen

    folder = Path(inspect.getfile(DeskScreen)).parent
    found = {}
    for file in folder.glob("*.py"):
        module = importlib.import_module(f"tui.screens.{file.stem}")
        for _name, kind in inspect.getmembers(module, inspect.isclass):
            known = found.get(getattr(kind, "WHERE", ""), DeskScreen)
            if issubclass(kind, known) and kind.WHERE:
                found[kind.WHERE] = kind
    return found


def test_every_screen_is_in_the_table_and_explains_itself() -> None:
    classes = screen_classes()

    assert {area.id for area in AREAS} <= classes.keys()
    assert [where for where, kind in classes.items() if len(kind.HELP) < 40] == []
    assert classes.keys() <= TITLES.keys()
