"""What lies where, how long a file may be, and what no file may say."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
NEEDED = {
    *("README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml", "config.example.toml"),
    *("recall", "tui", "tests", "migrations", "demo", ".ci", ".gitignore"),
    *("requirements.txt", "requirements-dev.txt"),
}
MADE = {
    ".mutation",
    *(".git", ".venv", "build", "dist", ".pytest_cache", ".mypy_cache", ".ruff_cache"),
    *(".hypothesis", ".coverage", "__pycache__", "ear_recall.egg-info"),
}
"""What tools leave behind; .gitignore keeps it out."""
LONGEST, LONGEST_FUNCTION = 400, 40
TOP = "|".join(("work", "root", "home", "tmp", "opt", "mnt", "Users"))
NOT_TO_BE_SAID = {
    "a path of one machine": re.compile(rf"(?<![\w./~-])/(?:{TOP})/[\w.]"),
    "a working paper": re.compile(r"\b(?:design|style|references|libraries|BRIEF)\.md\b"),
    "a package registry's host": re.compile(
        r"\b(?:pypi|pythonhosted|npmjs|anaconda)\.(?:org|com)\b"
    ),
    "who asked for it": re.compile(
        r"\b(?:Co-Authored-By|as requested in|the owner's rules)\b", re.I
    ),
}


def files() -> Iterator[Path]:
    """Yield the project's own files."""
    made = ROOT / "demo" / "made"
    for top in sorted(ROOT.iterdir()):
        if top.name in MADE:
            continue
        for file in (top, *top.rglob("*")) if top.is_dir() else (top,):
            if file.is_file() and not file.is_relative_to(made) and "__pycache__" not in file.parts:
                yield file


def texts() -> Iterator[tuple[Path, str]]:
    """Yield the files that hold text, with it."""
    for file in files():
        data = file.read_bytes()
        if b"\0" not in data[:4096]:
            yield file.relative_to(ROOT), data.decode("utf-8")


def test_the_top_level_holds_what_it_should_and_nothing_else() -> None:
    there = {each.name for each in ROOT.iterdir()} - MADE
    assert there == NEEDED


def test_modules_stay_short() -> None:
    long = {
        str(file): lines
        for file, text in texts()
        if file.suffix == ".py" and (lines := text.count("\n")) > LONGEST
    }
    assert long == {}


def functions(text: str) -> Iterator[tuple[str, int]]:
    """Yield the functions of a module and how many lines each has, docstring and all."""
    for node in ast.walk(ast.parse(text)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node.name, (node.end_lineno or 0) - node.lineno + 1


def test_functions_stay_short() -> None:
    """But for the migrations, which hold every table as it was made."""
    long = {
        f"{file}:{name}": lines
        for file, text in texts()
        if file.suffix == ".py" and file.parts[0] != "migrations"
        for name, lines in functions(text)
        if lines > LONGEST_FUNCTION
    }
    assert long == {}


@pytest.mark.parametrize("what", NOT_TO_BE_SAID)
def test_no_file_names(what: str) -> None:
    pattern = NOT_TO_BE_SAID[what]
    here = Path("tests/docs/test_layout.py")
    said = [
        f"{file}:{text.count(chr(10), 0, found.start()) + 1}: {found[0]}"
        for file, text in texts()
        if file != here and file.suffix != ".csv"
        for found in pattern.finditer(text)
    ]
    assert said == []


def test_tests_mirror_the_rooms() -> None:
    rooms = {p.name for p in (ROOT / "recall").iterdir() if (p / "__init__.py").is_file()}
    beside = {"tui", "demo", "docs", "packaging", "cases", "benchmarks", "migrations", "journeys"}
    beside |= {"tools", "on_server"}
    folders = {p.name for p in (ROOT / "tests").iterdir() if p.is_dir()} - {"__pycache__"}
    assert folders - rooms - beside == set()
