"""The lock files fit what pyproject.toml asks for, hold a hash for each file, and name no host."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).resolve().parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
RUNNING, TESTING = "requirements.txt", "requirements-dev.txt"
PYTHONS = ("3.11", "3.12", "3.13")
ASKED = [*PROJECT["project"]["dependencies"], *PROJECT["dependency-groups"]["build"]]
ASKED_FOR_TESTS = [*ASKED, *PROJECT["project"]["optional-dependencies"]["dev"]]


def locked(name: str) -> list[Requirement]:
    """Return what a lock file pins, with the conditions under which it does."""
    text = (ROOT / name).read_text("utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line[:1].strip(" #")]
    return [Requirement(line.partition(" --hash")[0]) for line in lines]


def pinned(name: str, python: str) -> dict[str, str]:
    """Return the version of each package that is installed on one Python, on Linux."""
    here = {
        "python_version": python,
        "python_full_version": f"{python}.0",
        "sys_platform": "linux",
        "platform_system": "Linux",
        "implementation_name": "cpython",
        "platform_python_implementation": "CPython",
    }
    found: dict[str, str] = {}
    for one in locked(name):
        if one.marker is None or one.marker.evaluate(here):
            assert canonicalize_name(one.name) not in found, f"{one.name} is pinned twice"
            found[canonicalize_name(one.name)] = str(one.specifier).removeprefix("==")
    return found


@pytest.mark.parametrize("python", PYTHONS)
@pytest.mark.parametrize(("name", "asked"), [(RUNNING, ASKED), (TESTING, ASKED_FOR_TESTS)])
def test_what_is_asked_for_is_locked_at_a_version_that_fits(
    name: str, asked: list[str], python: str
) -> None:
    versions = pinned(name, python)
    wrong = [
        wanted
        for wanted in asked
        if not (one := Requirement(wanted)).specifier.contains(
            versions.get(canonicalize_name(one.name), "0")
        )
    ]
    assert wrong == []


@pytest.mark.parametrize("python", PYTHONS)
def test_the_tests_run_on_the_very_libraries_that_people_get(python: str) -> None:
    assert pinned(RUNNING, python).items() <= pinned(TESTING, python).items()


@pytest.mark.parametrize("name", [RUNNING, TESTING])
def test_every_package_is_pinned_exactly_and_has_hashes(name: str) -> None:
    text = (ROOT / name).read_text("utf-8").replace("\\\n", " ")
    lines = [line for line in text.splitlines() if line[:1].strip(" #")]
    assert lines
    for line in lines:
        assert re.match(r"[A-Za-z0-9._-]+==[^ ]+ ", line), line
        assert re.search(r"--hash=sha256:[0-9a-f]{64}", line), line


@pytest.mark.parametrize("name", [RUNNING, TESTING])
def test_no_host_and_no_path_is_named(name: str) -> None:
    text = (ROOT / name).read_text("utf-8")
    assert re.findall(r"\S*(?:://|--index|--find-links|/\w|@ )\S*", text) == []


def test_what_builds_is_what_is_locked() -> None:
    assert PROJECT["build-system"]["requires"] == PROJECT["dependency-groups"]["build"]
