"""The one command that checks everything: which Pythons it finds, and what it says was run."""

import doctest
import importlib
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def pythons(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    """Return the module that looks for Pythons."""
    monkeypatch.syspath_prepend(str(ROOT / "tests"))
    return importlib.import_module("pythons")


def test_this_python_says_its_version(pythons: ModuleType) -> None:
    assert pythons.version_of(sys.executable) == pythons.OWN


def test_what_does_not_start_is_no_python(pythons: ModuleType, tmp_path: Path) -> None:
    assert pythons.version_of(str(tmp_path / "gone")) == ""


def test_others_are_found_on_the_path_and_own_and_pretended_ones_are_not(
    pythons: ModuleType, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    for version in ("3.12", "3.13"):
        (tmp_path / f"python{version}").symlink_to(sys.executable)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setenv("PYENV_ROOT", str(tmp_path))
    monkeypatch.setattr(pythons, "SERVED", (pythons.OWN, "3.12", "3.13"))
    assert pythons.others() == {}
    monkeypatch.setattr(pythons, "OWN", "3.0")
    own = "{}.{}".format(*sys.version_info[:2])
    (tmp_path / f"python{own}").unlink(missing_ok=True)
    (tmp_path / f"python{own}").symlink_to(sys.executable)
    assert pythons.others() == {own: str(tmp_path / f"python{own}")}


def test_every_python_that_is_declared_is_served(pythons: ModuleType) -> None:
    declared = (ROOT / "pyproject.toml").read_text("utf-8")
    assert f'requires-python = ">={pythons.SERVED[0]}"' in declared


def test_what_failed_is_named_with_its_first_reason(pythons: ModuleType, tmp_path: Path) -> None:
    failed = importlib.import_module("failed")
    (tmp_path / "test_two.py").write_text(
        "def test_well():\n    pass\n\ndef test_ill():\n    assert 1 == 2, 'one is not two'\n"
    )
    report = tmp_path / "made" / "tests.xml"
    command = [
        sys.executable,
        "-m",
        "pytest",
        "-q",
        "-p",
        "no:cacheprovider",
        *failed.asked(report),
    ]
    ended = subprocess.run(command, cwd=tmp_path, capture_output=True)
    assert ended.returncode == 1
    (line,) = failed.lines(report)
    assert "test_two::test_ill  AssertionError: one is not two" in line


def test_a_report_that_was_cut_off_is_said(pythons: ModuleType, tmp_path: Path) -> None:
    failed = importlib.import_module("failed")
    (tmp_path / "cut.xml").write_text("<testsuites><testcase")
    for name in ("cut.xml", "none.xml"):
        assert failed.lines(tmp_path / name) == [failed.NO_REPORT]


@pytest.mark.parametrize("name", ["pythons", "measuring", "failed"])
def test_examples_in_docstrings(pythons: ModuleType, name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0
