"""A part of the invented practice for the desk's tests: made once, copied for each test."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

from recall.clock import Clock
from recall.config import load
from recall.desk.core.session import Desk, open_desk
from recall.desk.practice import demo
from tui.app import DeskApp

EVERY = 4
"""One in so many people of the practice."""
HOSTILE = (
    ("O'Neil [/x] [Jr", "[/b]"),
    ("[bold red]Ann[/]", "Lee [dec]"),
    ("\u202eevil\u202c", "مريم العربية"),
    ("👩‍👩‍👧 Zoë", "Ö" * 60),
    ("{user}", "%s $desk-alarm \\[x"),
)
"""Names that hold what could be markup, another direction of writing, or no end."""

Opening = Callable[[], DeskApp]


@pytest.fixture(scope="session")
def made_practice(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register with a quarter of the invented practice, five of them with hostile names."""
    folder = tmp_path_factory.mktemp("practice")
    path = demo.lay_out(folder)
    kept = _thin(folder / "people.csv", "reference", None)
    for name in ("visits", "contacts", "bookings"):
        _thin(folder / f"{name}.csv", "person", kept)
    demo.fill(path, lambda _line: None)
    return folder


def _thin(path: Path, column: str, kept: set[str] | None) -> set[str]:
    """Keep one row in so many, or the rows of those kept; give some people hostile names."""
    with path.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    if kept is None:
        rows = rows[::EVERY]
        for row, (given, family) in zip(rows[40:], HOSTILE, strict=False):
            row["given_name"], row["family_name"] = given, family
    else:
        rows = [row for row in rows if row[column] in kept]
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    return {row[column] for row in rows}


@pytest.fixture
def practice(made_practice: Path, tmp_path: Path) -> Path:
    """This test's own copy of the register; gives its configuration file."""
    folder = tmp_path / "practice"
    shutil.copytree(made_practice, folder)
    return folder / "recall.toml"


@pytest.fixture
def desk(practice: Path) -> Iterator[Desk]:
    """Another desk at the same register, for looking at what was stored."""
    opened = open_desk(load(practice), by="lund", clock=Clock.at(demo.ON))
    yield opened
    opened.close()


def opening(path: Path, by: str = demo.WHO) -> Desk:
    """Open the register of a configuration file on the practice's day."""
    return open_desk(load(path), by=by, clock=Clock.at(demo.ON))


@pytest.fixture
def app(practice: Path) -> Iterator[DeskApp]:
    """The desk on this test's register; nothing unexpected may have happened in it."""
    log = practice.with_name("log")
    log.mkdir()
    yield DeskApp(partial(opening, practice), log_folder=log)
    told = [file.read_text("utf-8") for file in log.iterdir()]
    assert told == []


@pytest.fixture
def clinician(app: DeskApp, practice: Path) -> DeskApp:
    """The desk with a clinician at it who may decide."""
    app._opening = lambda: opening(practice, "quill")
    return app
