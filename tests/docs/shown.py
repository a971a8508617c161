"""What the program shows in a practice that is set up: pictures, and what it says."""

from __future__ import annotations

import csv
import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from recall.exchange.rows_in import REJECT_COLUMNS
from tests.docs import pages, running
from tests.docs.markdown import block, table

PROVOKED = {
    "nobody said who acts": "recall confirm W1494",
    "a misspelt handle": "recall confirm W1494 --by quil",
    "not allowed to decide": "recall confirm W1494 --by thackray",
    "more came in since it was shown": "recall confirm --all --expect 9 --by quill",
    "nobody of that name": "recall person W9999",
    "not on the list any more": "recall contact 99999 no_answer --by thackray",
    "the file is not there": "recall import nobody.csv --by thackray",
    "a word that does not exist": "recall quue",
}
"""What people meet, and a command that meets it."""


def errors(folder: Path) -> str:
    """Return what is said to people who meet the usual errors."""

    def rows() -> Iterator[tuple[str, ...]]:
        for what, line in PROVOKED.items():
            told = running.run(line, folder)
            assert told.status not in (0, 1), f"{line}: {told.out}{told.err}"
            yield what, f"`{line}`", told.err.strip()
        with tempfile.TemporaryDirectory() as empty:
            told = running.run("recall queue", Path(empty))
            yield "a folder without settings", "`recall queue`", _without(empty, told.err)
            shutil.copy(folder / "recall.toml", empty)
            told = running.run("recall queue", Path(empty))
            yield "no database there yet", "`recall queue`", _without(empty, told.err)

    return table(("what happened", "for example", "what you are told"), rows())


def _without(folder: str, told: str) -> str:
    """Return a sentence with a file's name in the place of its whole path."""
    return told.strip().replace(f"{Path(folder).resolve()}{os.sep}", "")


def post_screen(folder: Path) -> str:
    """Return the post after the letters of the week were written, in a copy of the practice."""
    with tempfile.TemporaryDirectory() as scratch:
        copy = Path(scratch) / "practice"
        shutil.copytree(folder, copy)
        written = running.run("recall letters write --by thackray", copy)
        assert written.status == 0, written.err
        return block(running.screen(copy, "f7"))


@contextmanager
def other_practice() -> Iterator[Path]:
    """Give a new practice with the files and the mapping that the manual takes for an example."""
    text = pages.text_of(pages.BRINGING)
    (mapping,) = pages.blocks(text, "toml")
    settings = (running.PRACTICE / "recall.toml").read_text("utf-8").partition("[import]")[0]
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch)
        (folder / "recall.toml").write_text(settings + mapping, "utf-8")
        for name, content in pages.files_of(text).items():
            (folder / name).write_text(content, "utf-8")
        for line in pages.commands(text)[:2]:
            made = running.run(line, folder)
            assert made.status == 0, made.err
        yield folder


def brought_in(_folder: Path) -> str:
    """Return what is said when the example's files are brought in."""
    with other_practice() as folder:
        said = []
        for name in ("people.csv", "visits.csv"):
            line = f"recall import {name} --by thackray --yes"
            said.append(f"$ {line}\n{running.run(line, folder).err}")
        return block("\n".join(said))


def sent_back(_folder: Path) -> str:
    """Return the rows of the example that come back, with the columns that are added."""

    def rows() -> Iterator[tuple[str, ...]]:
        with other_practice() as folder:
            for name in ("people", "visits"):
                running.run(f"recall import {name}.csv --by thackray --yes", folder)
                (file,) = folder.glob(f"{name}.rejects-*.csv")
                with file.open(encoding="utf-8-sig", newline="") as opened:
                    for row in csv.DictReader(opened):
                        yield f"`{file.name}`", *(row[column] for column in REJECT_COLUMNS)

    return table(("file", *(f"`{column}`" for column in REJECT_COLUMNS)), rows())


SHOWN: dict[str, Callable[[Path], str]] = {
    "picture": lambda folder: block(running.screen(folder, "f3")),
    "visit picture": lambda folder: block(
        running.screen(folder, "f4", *"W1494", "enter", "v", by="quill")
    ),
    "register picture": lambda folder: block(running.screen(folder, "f6", by="quill")),
    "post picture": post_screen,
    "queue": lambda folder: block(running.run("recall queue --limit 2", folder).out),
    "errors": errors,
    "brought in": brought_in,
    "sent back": sent_back,
}
"""Parts that the program shows on the demo's day, in a practice that is set up, by name."""
