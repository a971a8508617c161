"""The wheel: what it holds; installed in a clean environment by the lock file, and used there."""

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.packaging.conftest import quietly

ROOT = Path(__file__).resolve().parents[2]
NEW_DATABASE = ("set-up", "--clinician", "quill", "--name", "A. Quill")
PLAN_ON = "2026-09-01"
CASE = {
    "born": "2018-03-02",
    "visits": [
        {
            "on": PLAN_ON,
            "right": {"drum_seen": "full", "effusion": "present"},
            "left": {"drum_seen": "full", "effusion": "absent"},
        }
    ],
}
PIP = (sys.executable, "-m", "pip", "--disable-pip-version-check")


@pytest.fixture(scope="module")
def installed(source: Path, wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of programs of a clean environment with the wheel and what it needs."""
    clean = tmp_path_factory.mktemp("clean")
    quietly(sys.executable, "-m", "venv", "--without-pip", clean, cwd=clean)
    programs = clean / ("Scripts" if os.name == "nt" else "bin")
    python = programs / ("python.exe" if os.name == "nt" else "python")
    into = (*PIP, "--python", python, "install", "--no-compile")
    quietly(*into, "--require-hashes", "-r", source / "requirements.txt", cwd=clean)
    quietly(*into, "--no-deps", wheel, cwd=clean)
    return programs


@pytest.fixture
def away(tmp_path: Path) -> Path:
    """Return a practice's folder, away from the checkout."""
    shutil.copy(ROOT / "demo" / "practice" / "recall.toml", tmp_path)
    return tmp_path


def outside() -> dict[str, str]:
    """Return an environment in which nothing leads back to the checkout."""
    return {n: v for n, v in os.environ.items() if n not in ("PYTHONPATH", "VIRTUAL_ENV")}


def recall(programs: Path, *words: object, cwd: Path) -> str:
    """Run the installed command."""
    return quietly(programs / "recall", *words, cwd=cwd, env=outside())


@pytest.mark.parametrize(
    "pattern",
    [
        "recall/manual/reception.md",
        "recall/protocol/default.toml",
        "recall/protocol/contact.toml",
        "recall/letters/wording/en/invitation_adult.txt",
        "recall/letters/page/letter.typ",
        "recall/letters/fonts/NotoSans-Variable.ttf",
        "recall/_migrations/env.py",
        "recall/_migrations/script.py.mako",
        "recall/_example/config.example.toml",
        "recall/_demo/recall.toml",
        "recall/_demo/people.csv",
        "recall/_demo/visits.csv",
        "recall/_demo/contacts.csv",
        "recall/_demo/bookings.csv",
        "recall/_demo/referrals.csv",
    ],
)
def test_the_wheel_carries(held: set[str], pattern: str) -> None:
    assert pattern in held


@pytest.mark.parametrize(
    ("top", "inside"),
    [
        ("recall", "recall"),
        ("tui", "tui"),
        ("migrations", "recall/_migrations"),
        ("demo/practice", "recall/_demo"),
    ],
)
def test_the_wheel_carries_every_file_of(
    source: Path, held: set[str], top: str, inside: str
) -> None:
    start = source / top
    wanted = {
        f"{inside}/{file.relative_to(start).as_posix()}"
        for file in start.rglob("*")
        if file.is_file() and file.name[0] != "."
    }
    assert wanted - held == set()


def test_of_the_top_of_the_checkout_one_file_is_taken(held: set[str]) -> None:
    inside = {name for name in held if name.startswith("recall/_example/")}
    assert inside == {"recall/_example/config.example.toml"}


def test_the_wheel_brings_nothing_beside_its_packages(held: set[str]) -> None:
    tops = {name.partition("/")[0] for name in held}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"recall", "tui"}


def test_it_is_the_installed_copy_that_runs(installed: Path, away: Path) -> None:
    code = "import recall, tui; print(recall.__file__); print(tui.__file__)"
    where = quietly(installed / "python", "-c", code, cwd=away, env=outside()).split("\n")[:2]
    assert all(Path(file).is_relative_to(installed.parent) for file in where)


def test_the_lock_file_has_all_that_it_asks_for(installed: Path, away: Path) -> None:
    said = quietly(*PIP, "--python", installed / "python", "check", cwd=away)
    assert "No broken requirements" in said


def test_without_settings_it_says_where_the_example_lies(installed: Path, tmp_path: Path) -> None:
    command = (installed / "recall", "queue")
    said = subprocess.run(command, cwd=tmp_path, env=outside(), capture_output=True, text=True)
    found = re.search(r"Copy (.+) to recall\.toml", " ".join(said.stderr.split()))
    assert found and Path(found[1]).read_text("utf-8").startswith("#"), said.stderr


def test_help_is_there(installed: Path, away: Path) -> None:
    assert "plan" in recall(installed, "--help", cwd=away)


def test_a_plan_needs_no_setting_up(installed: Path, away: Path) -> None:
    case = away / "case.json"
    case.write_text(json.dumps(CASE), "utf-8")
    plan = json.loads(recall(installed, "plan", case, "--on", PLAN_ON, cwd=away))
    rules = [due["rule"] for each in plan["follow_ups"] for due in each["dues"]]
    assert "fluid-child-look" in rules


def test_a_fresh_database_is_made_by_the_migrations_inside(installed: Path, away: Path) -> None:
    recall(installed, *NEW_DATABASE, cwd=away)
    assert (away / "recall.db").read_bytes()[:15] == b"SQLite format 3"
