"""Running the commands that the documents print, on the demo's practice and its day."""

from __future__ import annotations

import contextlib
import io
import json
import os
import shlex
import shutil
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import click

from recall.cli.main import main, recall
from recall.cli.shared import progress
from recall.clock import INVENTED, Clock
from recall.config import load
from recall.desk.core.session import open_desk
from recall.desk.practice import demo
from tests.docs import pages
from tests.tui.driving import Driver, drive
from tui.app import DeskApp

ROOT = Path(__file__).resolve().parents[2]
PRACTICE = ROOT / "demo" / "practice"
DAY = demo.ON.isoformat()
SIZE = (80, 24)
FIRST, SECOND, REFERRAL, LAST_MADE = "640", "88", "257", "401"
"""Numbers that the documents take for examples: the first two of the calls, a referral that is
not sent yet, and the booking that their commands have just made."""


@dataclass(frozen=True)
class Ran:
    """What a command came to."""

    line: str
    status: int
    out: str
    err: str

    @property
    def went_well(self) -> bool:
        """Return whether it did what it says; some of the demo's rows are sent back on purpose."""
        sends_back = self.line.startswith("recall import ") and "sent back" in self.err
        return self.status == 0 or (self.status == 2 and sends_back)


def run(line: str, folder: Path) -> Ran:
    """Run one line in a folder, at nine o'clock of the demo's day, where it names no other."""
    words = shlex.split(line)[1:]
    if "on" in _options(words) and "--on" not in words:
        words += ["--on", DAY]
    out, err = _stream(), _stream()
    before = Path.cwd()
    os.chdir(folder)
    os.environ[INVENTED] = f"{DAY}T09:00"
    first, progress.FIRST = progress.FIRST, float("inf")  # how quick a machine is, is no output
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            status = main(words)
    finally:
        os.chdir(before)
        del os.environ[INVENTED]
        progress.FIRST = first
    return Ran(line, status, _written(out), _written(err))


def screen(folder: Path, *keys: str, by: str = "thackray") -> str:
    """Return the desk as it stands on a terminal of the usual size, after some keys."""
    config = load(folder / "recall.toml")
    app = DeskApp(partial(open_desk, config, by=by, clock=Clock.at(demo.ON)), log_folder=folder)
    seen: list[str] = []

    async def look(driver: Driver) -> None:
        await driver.press(*keys)
        seen.extend(driver.lines)

    drive(app, look, SIZE)
    return "\n".join(seen) + "\n"


def numbers(folder: Path) -> dict[str, str]:
    """Return what the documents' numbers are today: who is rung first, and referred first."""
    found = {}
    for line, field, names in (
        ("recall queue --json", "follow_up_id", (FIRST, SECOND)),
        ("recall referrals --json", "referral_id", (REFERRAL,)),
    ):
        rows = json.loads(run(line, folder).out)
        if names == (FIRST, SECOND):  # who can be rung and written to
            rows = [row for row in rows if row["step"] == "phone"]
        else:
            rows = [row for row in rows if row["stage"] == "sent" and row["urgency"] == "high"]
        found |= {name: str(row[field]) for name, row in zip(names, rows, strict=False)}
    return found


def renumbered(line: str, now: dict[str, str]) -> str:
    """Return a command of the documents with the numbers of today."""
    return " ".join(now.get(word, word) for word in line.split(" "))


def copy_of_practice(to: Path) -> Path:
    """Lay out the demo's files in a new folder, as a practice would have them."""
    shutil.copytree(PRACTICE, to)
    return to


def take_in(folder: Path) -> list[Ran]:
    """Do in the folder what the page about bringing a practice in says, from top to bottom."""
    return [run(line, folder) for line in pages.commands(pages.text_of(pages.BRINGING))]


def _options(words: list[str]) -> set[str | None]:
    """Return the names of a command's options; a group's first command is meant by default."""
    command: click.Command | None = recall
    context = click.Context(recall)
    for word in words:
        if not isinstance(command, click.Group):
            break
        named = command.get_command(context, word)
        command = named or next(iter(command.commands.values()), None)
    return {option.name for option in command.params} if command else set()


def _stream() -> io.TextIOWrapper:
    return io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True)


def _written(stream: io.TextIOWrapper) -> str:
    stream.flush()
    raw = stream.buffer
    assert isinstance(raw, io.BytesIO)
    return raw.getvalue().decode("utf-8")
