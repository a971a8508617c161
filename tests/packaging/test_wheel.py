"""The wheel: built from the checkout's files, installed in a clean environment, and used there."""

import json
import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

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


def quietly(*command: object, cwd: Path, env: dict[str, str] | None = None) -> str:
    """Run a command that must go well, and return what it printed."""
    words = [str(word) for word in command]
    ran = subprocess.run(words, cwd=cwd, env=env, capture_output=True, text=True)
    assert ran.returncode == 0, f"{' '.join(words)}\n{ran.stdout}\n{ran.stderr}"
    return ran.stdout


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a copy of the checkout, so that nothing an earlier build left gets in."""
    source = tmp_path_factory.mktemp("source")
    for file in (ROOT / "pyproject.toml", ROOT / "LICENSE", *ROOT.glob("*.md")):
        shutil.copy(file, source)
    bare = shutil.ignore_patterns("__pycache__", "made")
    for name in ("recall", "tui", "migrations", "demo"):
        shutil.copytree(ROOT / name, source / name, ignore=bare)
    return source


@pytest.fixture(scope="module")
def wheel(source: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the wheel."""
    out = tmp_path_factory.mktemp("wheel")
    quietly(*PIP, "wheel", "--no-deps", "--wheel-dir", out, source, cwd=out)
    (built,) = out.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def held(wheel: Path) -> set[str]:
    """Return the names of the files in the wheel."""
    with zipfile.ZipFile(wheel) as opened:
        return set(opened.namelist())


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of programs of a clean environment with the wheel and what it needs."""
    clean = tmp_path_factory.mktemp("clean")
    quietly(sys.executable, "-m", "venv", "--without-pip", clean, cwd=clean)
    programs = clean / ("Scripts" if os.name == "nt" else "bin")
    python = programs / ("python.exe" if os.name == "nt" else "python")
    quietly(*PIP, "--python", python, "install", "--no-compile", wheel, cwd=clean)
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
        "recall/protocol/default.toml",
        "recall/protocol/contact.toml",
        "recall/letters/wording/en/invitation_adult.txt",
        "recall/letters/page/letter.typ",
        "recall/letters/fonts/NotoSans-Variable.ttf",
        "recall/_migrations/env.py",
        "recall/_migrations/script.py.mako",
        "recall/_demo/recall.toml",
        "recall/_demo/people.csv",
        "recall/_demo/visits.csv",
        "recall/_demo/contacts.csv",
        "recall/_demo/bookings.csv",
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


def test_the_wheel_brings_nothing_beside_its_packages(held: set[str]) -> None:
    tops = {name.partition("/")[0] for name in held}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"recall", "tui"}


def test_it_is_the_installed_copy_that_runs(installed: Path, away: Path) -> None:
    code = "import recall, tui; print(recall.__file__); print(tui.__file__)"
    where = quietly(installed / "python", "-c", code, cwd=away, env=outside()).split("\n")[:2]
    assert all(Path(file).is_relative_to(installed.parent) for file in where)


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
