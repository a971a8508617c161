"""An invented practice for the desk's tests: made once, copied for each test."""

from __future__ import annotations

import csv
import shutil
from collections.abc import Callable, Iterator
from datetime import date
from functools import partial
from pathlib import Path

import pytest

from recall.clock import Clock
from recall.config import load
from recall.desk.core.session import Desk, open_desk
from recall.desk.practice import demo
from tui.app import DeskApp
from tui.screens import live

FILES = Path(__file__).with_name("practice")
ON = date(2026, 9, 7)
"""The last day that its files know."""
HOSTILE = (
    ("O'Neil [/x] [Jr", "[/b]"),
    ("[bold red]Ann[/]", "Lee [dec]"),
    ("\u202eevil\u202c", "مريم العربية"),
    ("👩‍👩‍👧 Zoë", "Ö" * 60),
    ("{user}", "%s $desk-alarm \\[x"),
)
"""Names that hold what could be markup, another direction of writing, or no end."""

HOUR = 3600.0


@pytest.fixture(autouse=True)
def looking(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a screen look by itself at what others wrote only in the tests of that.

    Elsewhere what is in sight follows from the keys alone, however long the machine takes.
    """
    if not getattr(request.module, "LOOKS", False):
        monkeypatch.setattr(live, "LOOK", HOUR)


Opening = Callable[[], DeskApp]


@pytest.fixture(scope="session")
def made_practice(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A register of an invented practice that is far behind; five people have hostile names.

    Much is open in it and long overdue, so that every screen has more than it can show.
    """
    folder = tmp_path_factory.mktemp("practice")
    for file in FILES.iterdir():
        shutil.copyfile(file, folder / file.name)
    _rename(folder / "people.csv")
    demo.fill(folder / "recall.toml", lambda _line: None, on=ON)
    return folder


def _rename(path: Path) -> None:
    """Give some people hostile names."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row, (given, family) in zip(rows[40:], HOSTILE, strict=False):
        row["given_name"], row["family_name"] = given, family
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)


@pytest.fixture
def practice(made_practice: Path, tmp_path: Path) -> Path:
    """This test's own copy of the register; gives its configuration file."""
    folder = tmp_path / "practice"
    shutil.copytree(made_practice, folder)
    return folder / "recall.toml"


@pytest.fixture
def desk(practice: Path) -> Iterator[Desk]:
    """Another desk at the same register, for looking at what was stored."""
    opened = open_desk(load(practice), by="lund", clock=Clock.at(ON))
    yield opened
    opened.close()


def opening(path: Path, by: str = demo.WHO) -> Desk:
    """Open the register of a configuration file on the practice's day."""
    return open_desk(load(path), by=by, clock=Clock.at(ON))


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
