"""The list of packages in pyproject.toml names every folder that an installed copy needs."""

import tomllib
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SETUP = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["setuptools"]
ELSEWHERE = {"recall._demo": "demo/practice", "recall._migrations": "migrations"}


def folders(top: str, name: str) -> set[str]:
    """Return the packages below a folder: every folder with files, by its dotted name."""
    start = ROOT / top
    holding = {f.parent for f in start.rglob("*") if f.is_file() and "__pycache__" not in f.parts}
    return {".".join((name, *folder.relative_to(start).parts)) for folder in holding}


def test_every_folder_is_listed_and_no_other() -> None:
    there = folders("recall", "recall") | folders("tui", "tui")
    for name, top in ELSEWHERE.items():
        there |= folders(top, name)
    assert set(SETUP["packages"]) == there


def test_the_migrations_and_the_demo_lie_inside_the_package() -> None:
    mapped = {name: top for name, top in SETUP["package-dir"].items() if name.startswith("recall.")}
    assert mapped == ELSEWHERE


def test_every_kind_of_data_file_is_named() -> None:
    kinds = {pattern.rpartition(".")[2] for pattern in SETUP["package-data"]["*"]}
    tops = ("recall", "tui", "migrations", "demo/practice")
    found = {f.suffix.lstrip(".") for top in tops for f in (ROOT / top).rglob("*.*")}
    assert found - kinds - {"py", "pyc", "pyo", "gitattributes", ""} == set()
