"""A practice set up as the manual says, once for all tests of the documents."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.docs import running


@dataclass(frozen=True)
class SetUp:
    """The folder, and what each command of the page came to."""

    folder: Path
    ran: list[running.Ran]


@pytest.fixture(scope="session")
def set_up(tmp_path_factory: pytest.TempPathFactory) -> SetUp:
    """Return the demo's practice, taken in by the commands of the manual."""
    folder = running.copy_of_practice(tmp_path_factory.mktemp("manual") / "practice")
    return SetUp(folder, running.take_in(folder))


@pytest.fixture
def practice(set_up: SetUp, tmp_path: Path) -> Path:
    """Return a copy of it that a test may change."""
    to = tmp_path / "practice"
    shutil.copytree(set_up.folder, to)
    return to
