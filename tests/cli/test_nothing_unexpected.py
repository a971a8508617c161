"""No input reaches the exit status that means "unexpected", whatever command it is given to.

Each command is given odd values for its arguments and options, drawn with a fixed seed: years
that hardly are years, numbers beyond 64 bit, bytes that are no text, folders, devices and the
database itself where a file belongs, empty words, markup and templates.
`RECALL_ODD=2000` in the environment tries so many for each command.
"""

from __future__ import annotations

import io
import os
import random
import sys
from collections.abc import Iterator
from pathlib import Path

import click
import pytest

from recall.cli.main import UNEXPECTED, recall
from recall.cli.shared.numbers import AtLeast, Number
from recall.records.database.store import Store
from tests.cli.test_loop_commands import Typed
from tests.cli.test_loop_commands import typed as typed  # a fixture
from tests.desk.practice import FLUID, desk_at, somebody, visit

TRIES = int(os.environ.get("RECALL_ODD", "4"))
OPENS_A_SCREEN = ("desk", "jobs serve")
"""What does not end by itself."""
COMMON = ("config", "by", "on", "help")
"""Options that every command has: tried in tests of their own."""
REAL = ("W1573", "W1574", "1", "2", "right", "left", "fluid:right", "thu", "2026-09-03", "15/9 10")
ODD = (
    "", " ", "0", "-1", "99999999999999999999999", "0001-01-01", "9999-12-31", "1/1/1", "29/2",
    "31/4/2027", "2026-02-30", "24:00", "10:60", "2026-09-03 25:00", "9999-12-31T23:59", "2026W60",
    "2026Q9", "2026-13", "\udcff\udcfe", "\x1b[31m\u202e", "x" * 5000, "O'Neil [/b]", "{{ 7 * 7 }}",
    "%s%n{0}", "=cmd|' /C'!A0", "\U0001f442", "nan", "1e400", "--", "a,b;c\td", "@", "..", "true",
)  # fmt: skip
FILES = (
    "-",
    "/dev/null",
    "/dev/zero",
    "/dev/full",
    ".",
    "missing.csv",
    "{db}",
    "{text}",
    "{bytes}",
)


def leaves(command: click.Command, path: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """Give every command that is no group, by its words."""
    if not isinstance(command, click.Group):
        yield path
        return
    within = click.Context(command)
    for name in command.list_commands(within):
        found = command.get_command(within, name)
        assert found is not None
        yield from leaves(found, (*path, name))


def found(words: tuple[str, ...]) -> click.Command:
    """Return the command of such words."""
    command: click.Command = recall
    for word in words:
        assert isinstance(command, click.Group)
        within = command.get_command(click.Context(command), word)
        assert within is not None
        command = within
    return command


COMMANDS = [words for words in leaves(recall) if " ".join(words) not in OPENS_A_SCREEN]


def value(draw: random.Random, param: click.Parameter, files: dict[str, str]) -> str:
    """Return a value for a parameter: one of its own, one that could be, or an odd one."""
    if isinstance(param.type, click.Choice) and draw.random() < 0.85:
        return str(draw.choice(list(param.type.choices)))
    file = isinstance(param.type, click.Path | click.File) or draw.random() < 0.1
    pool = FILES if file else REAL if draw.random() < 0.5 else ODD
    word = draw.choice(pool)
    return word.format(**files) if word in ("{db}", "{text}", "{bytes}") else word


def words_for(draw: random.Random, command: click.Command, files: dict[str, str]) -> list[str]:
    """Return a command line's arguments and options, most of them odd."""
    made: list[str] = []
    for param in command.params:
        wanted = param.required or draw.random() < (0.4 if isinstance(param, click.Option) else 0.8)
        if param.name in COMMON or not wanted:
            continue
        times = 1 if param.nargs != -1 else draw.choice((1, 1, 2, 3))
        if isinstance(param, click.Argument):
            made += [value(draw, param, files) for _ in range(times * max(param.nargs, 1))]
        elif param.is_flag:
            made.append(draw.choice([*param.opts, *param.secondary_opts]))
        else:
            made += [param.opts[-1], *(value(draw, param, files) for _ in range(param.nargs))]
    return made


@pytest.fixture
def files(store: Store, tmp_path: Path) -> dict[str, str]:
    """A register with some life in it, and odd files beside it."""
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk, "W1573"), right=FLUID)
    visit(desk, somebody(desk, "W1574"), right=FLUID)
    (tmp_path / "text.csv").write_text("reference,family_name,born\nW1573,Marsh,9999-12-31\n")
    (tmp_path / "bytes.csv").write_bytes(bytes(range(256)) * 20)
    return {
        "db": str(store.path),
        "text": str(tmp_path / "text.csv"),
        "bytes": str(tmp_path / "bytes.csv"),
    }


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_no_command_ends_as_unexpected(
    typed: Typed,
    files: dict[str, str],
    words: tuple[str, ...],
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
) -> None:
    monkeypatch.chdir(tmp_path)
    command = found(words)
    for turn in range(TRIES):
        draw = random.Random(f"{' '.join(words)} {turn}")
        given = words_for(draw, command, files)
        nothing = io.TextIOWrapper(io.BytesIO(b""))
        monkeypatch.setattr(sys, "stdin", nothing)
        status, _out, err = typed(*words, *given, by=draw.choice(("clara", "rob")))
        assert status != UNEXPECTED, (given, err)
        assert "Traceback" not in err, (given, err)


def test_every_number_of_a_command_is_held_to_what_a_register_can_hold() -> None:
    for words in leaves(recall):
        kinds = [
            p.type for p in found(words).params if isinstance(p.type, click.types.IntParamType)
        ]
        able = [isinstance(k, Number | AtLeast) or getattr(k, "max", None) for k in kinds]
        assert all(able), words
