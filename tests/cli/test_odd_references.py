"""Every command that takes a person's reference takes it as people type it."""

from __future__ import annotations

from collections.abc import Iterator

import click
import pytest

from recall.cli.main import recall
from recall.errors import NotFound
from recall.records.database.store import Store
from tests.cli.test_loop_commands import Typed
from tests.cli.test_loop_commands import typed as typed  # a fixture
from tests.desk.practice import FLUID, desk_at, somebody, visit

STORED, ODD = "W1573", "w 01573"
DIED = ("person", "died", STORED, "--day", "today", "--name", "Rowan Thackwell")
TAKES = ("ref", "references", "who", "person", "case")
"""What commands call an argument that is a reference, or may be one."""
ONLY_A_FILE = ("plan",)
_DAYS = ("--earliest", "2026-10-01", "--target", "2026-10-08", "--latest", "2026-10-20")
ARGUMENTS: dict[str, tuple[str, ...]] = {
    "close": ("--category", "fluid_recheck", "--ear", "right", "--yes"),
    "confirm": (),
    "line list": (),
    "line move": ("fluid:right", *_DAYS, "--because", "judgement"),
    "line strike": ("fluid:right", "--because", "judgement", "--considered"),
    "line urgency": ("fluid:right", "high", "--because", "judgement"),
    "explain": (),
    "matters add": ("Needs a word.",),
    "person adult": ("Ida", "responsible-adult"),
    "person card": (),
    "person care": ("ent",),
    "person contact-again": ("objected", "--why", "said so"),
    "person correct": ("--title", "Mx"),
    "person copy": ("--out", "copy.zip"),
    "person erase": ("--name", "Rowan Thackwell", "--why", "kept long enough"),
    "person details": ("--language", "cy"),
    "person died": ("--day", "today", "--name", "Rowan Thackwell"),
    "person look": ("hearing-check", "--ear", "right", "--why", "asked"),
    "person needs": ("interpreter",),
    "person not-died": ("--why", "another person"),
    "person not-safe": (),
    "person objects": (),
    "person looked": (),
    "person reach": ("phone", "01632 960777"),
    "person risk": ("diabetes",),
    "person story": (),
    "person sheet": (),
    "person told": ("2026-03", "right", "--source", "GP", "--effusion", "present"),
    "refer ask": ("ent", "--ear", "right", "--urgency", "high", "--why", "asked"),
}
"""What each needs beside the reference."""
FIRST = {"matters add": ("message",)}
"""What stands before the reference."""


def taking(command: click.Command, path: tuple[str, ...] = ()) -> Iterator[str]:
    """Give the commands that take a reference as an argument."""
    if isinstance(command, click.Group):
        ctx = click.Context(command)
        for name in command.list_commands(ctx):
            found = command.get_command(ctx, name)
            assert found is not None
            yield from taking(found, (*path, name))
    elif any(isinstance(p, click.Argument) and p.name in TAKES for p in command.params):
        yield " ".join(path)


def test_every_command_that_takes_a_reference_is_tried_here() -> None:
    # `find` searches, and has tests of its own; it takes words.
    assert {*taking(recall)} - {*ONLY_A_FILE, "find"} == {*ARGUMENTS}


@pytest.mark.parametrize("command", ARGUMENTS)
def test_a_reference_is_taken_however_it_is_typed(typed: Typed, store: Store, command: str) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk, STORED), right=FLUID)
    before = {
        "person not-died": (
            "person",
            "died",
            STORED,
            "--day",
            "today",
            "--name",
            "Rowan Thackwell",
        ),
        "person contact-again": ("person", "objects", STORED),
        "person erase": DIED,
    }
    if command in before:
        assert typed(*before[command], by="clara")[0] == 0

    status, _, err = typed(
        *command.split(), *FIRST.get(command, ()), ODD, *ARGUMENTS[command], by="clara"
    )
    assert status == 0, err
    status, _, err = typed(
        *command.split(), *FIRST.get(command, ()), "W1574", *ARGUMENTS[command], by="clara"
    )
    assert status == NotFound.exit_code, err
