"""The source archive: everything that the checkout has, and as good to build from."""

import re
from pathlib import Path

import pytest

from tests.packaging.conftest import built, names

LINK = re.compile(r"\]\((?!#|[a-z]+:)([^)#]+)[^)]*\)")
"""A link or a picture of Markdown that leads to a file."""
COMMAND = re.compile(r"python3? ((?:demo|tests)/\S+\.py)")


def test_it_holds_every_file_of_the_checkout(archive: Path, files: frozenset[str]) -> None:
    assert [name for name in sorted(files) if not (archive / name).is_file()] == []


def test_it_adds_only_what_builders_write(archive: Path, files: frozenset[str]) -> None:
    there = {f.relative_to(archive).as_posix() for f in archive.rglob("*") if f.is_file()}
    added = {name for name in there - files if not name.startswith("ear_recall.egg-info/")}
    assert added == {"PKG-INFO", "setup.cfg"}


@pytest.mark.parametrize("name", ["README.md", "DEVELOPERS.md"])
def test_what_the_documents_name_is_there(archive: Path, name: str) -> None:
    text = (archive / name).read_text("utf-8")
    named = {*LINK.findall(text), *COMMAND.findall(text), "config.example.toml", ".ci/run"}
    named = {each for each in named if "NAME" not in each}
    assert [each for each in sorted(named) if not (archive / each).exists()] == []


def test_a_wheel_built_from_it_is_the_same(archive: Path, held: set[str], tmp_path: Path) -> None:
    assert names(built("wheel", archive, tmp_path)) == held
