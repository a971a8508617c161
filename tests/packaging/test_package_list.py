"""The list of packages in pyproject.toml names every folder that an installed copy needs."""

import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SETUP = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
ELSEWHERE = {"recall._demo": "demo/practice", "recall._migrations": "migrations"}
TOP = {"recall._example": "."}
"""Of the top of the checkout only files that are named are taken."""


def folders(top: str, name: str) -> set[str]:
    """Return the packages below a folder: every folder with files, by its dotted name."""
    start = ROOT / top
    holding = {f.parent for f in start.rglob("*") if f.is_file() and "__pycache__" not in f.parts}
    return {".".join((name, *folder.relative_to(start).parts)) for folder in holding}


def test_every_folder_is_listed_and_no_other() -> None:
    there = folders("recall", "recall") | folders("tui", "tui")
    for name, top in ELSEWHERE.items():
        there |= folders(top, name)
    assert set(SETUP["packages"]) == there | set(TOP)


def test_the_migrations_and_the_demo_lie_inside_the_package() -> None:
    mapped = {name: top for name, top in SETUP["package-dir"].items() if name.startswith("recall.")}
    assert mapped == ELSEWHERE | TOP


def test_of_the_top_only_the_example_of_the_settings_is_taken() -> None:
    assert SETUP["package-data"]["recall._example"] == ["config.example.toml"]
    assert SETUP["include-package-data"] is False
    assert "*" not in SETUP["package-data"]
