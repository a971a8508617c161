"""The private environment: when it is used again, when it is made anew, what it never touches."""

import doctest
import importlib
import json
import os
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).resolve().parents[2]


def marked(setting: ModuleType, digest: str) -> object:
    """Return an environment of links to this one's Python, marked as ready."""
    environment = setting.Environment(setting.MADE / "environment")
    environment.programs.mkdir(parents=True)
    environment.command("python").symlink_to(sys.executable)
    (environment.folder / "ready.json").write_text(json.dumps({"recipe": digest}), "utf-8")
    return environment


def test_no_mark_means_half_made(setting: ModuleType) -> None:
    environment = setting.Environment(setting.MADE / "environment")
    assert not setting.is_ready(environment, "any")


@pytest.mark.parametrize("mark", ["", "[]", "{", '{"recipe": 1}'])
def test_a_damaged_mark_means_half_made(setting: ModuleType, mark: str) -> None:
    environment = marked(setting, "right")
    (environment.folder / "ready.json").write_text(mark, "utf-8")
    assert not setting.is_ready(environment, "right")


def test_another_recipe_means_made_anew(setting: ModuleType) -> None:
    assert not setting.is_ready(marked(setting, "of yesterday"), "of today")


def test_a_python_that_is_gone_means_made_anew(setting: ModuleType) -> None:
    environment = marked(setting, "right")
    environment.command("python").unlink()
    assert not setting.is_ready(environment, "right")


def test_the_recipe_follows_what_is_asked_for(setting: ModuleType) -> None:
    asked, other = "requirements.txt", "requirements-dev.txt"
    assert setting.recipe(asked) == setting.recipe(asked)
    assert setting.recipe(asked) != setting.recipe(other)


def test_a_lost_file_of_a_library_is_noticed(setting: ModuleType, tmp_path: Path) -> None:
    for name in ("ear_recall", "other"):
        (tmp_path / f"{name}-1.dist-info").mkdir()
        about = f"Metadata-Version: 2.1\nName: {name.replace('_', '-')}\nVersion: 1\n"
        (tmp_path / f"{name}-1.dist-info" / "METADATA").write_text(about)
        (tmp_path / f"{name}-1.dist-info" / "RECORD").write_text(f"{name}.py,,\n")
        (tmp_path / f"{name}.py").touch()
    check = f"import sys; sys.path[:] = [{str(tmp_path)!r}, *sys.path]\n"
    check += "sys.path = [p for p in sys.path if 'site-packages' not in p]\n" + setting.WHOLE
    command = [sys.executable, "-I", "-c", check]
    assert subprocess.run(command, capture_output=True).returncode == 0
    (tmp_path / "other.py").unlink()
    assert subprocess.run(command, capture_output=True).returncode != 0


def test_settings_that_lead_elsewhere_are_dropped(
    setting: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    for name in ("PYTHONPATH", "PYTHONHOME", "PIP_TARGET", "PIP_PREFIX"):
        monkeypatch.setenv(name, "elsewhere")
    monkeypatch.setenv("PIP_USER", "1")
    env = setting.clean_settings()
    assert "elsewhere" not in env.values()
    assert env["PIP_USER"] == "0"


def test_caches_and_temporary_files_stay_in_the_made_folder(setting: ModuleType) -> None:
    env = setting.clean_settings()
    for name in ("PIP_CACHE_DIR", "UV_CACHE_DIR", "XDG_CACHE_HOME", "TMPDIR", "TEMP", "TMP"):
        assert Path(env[name]).is_relative_to(setting.MADE)


def test_a_second_start_waits_for_the_first(setting: ModuleType) -> None:
    with setting.held("start"), (setting.MADE / "start.lock").open("a+b") as second:
        assert not setting.taken(second)
    with (setting.MADE / "start.lock").open("a+b") as third:
        assert setting.taken(third)


def test_trouble_is_one_sentence_and_a_failed_exit(
    setting: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    def work() -> int:
        raise setting.Trouble("The shelf is empty.")

    assert setting.guarded(work) == 1
    assert capsys.readouterr().err.strip() == "The shelf is empty."


def test_ctrl_c_says_how_to_go_on_and_how_to_remove(
    setting: ModuleType, capsys: pytest.CaptureFixture[str]
) -> None:
    def work() -> int:
        raise KeyboardInterrupt

    assert setting.guarded(work) == 130
    assert "start again" in (said := capsys.readouterr().err)
    assert "delete the folder" in said


@pytest.mark.parametrize(
    ("log", "reason"),
    [
        ("OSError: [Errno 28] No space left on device", "the disk is full"),
        ("Failed to establish a new connection: NewConnectionError", "could not be reached"),
        ("ERROR: No matching distribution found for x", "could not be reached, or offers no"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE FILE", "is not the one that"),
        ("one\nlast line\n", "last line"),
        ("", "it wrote nothing"),
    ],
)
def test_a_failed_install_is_explained(scripts: None, log: str, reason: str) -> None:
    assert reason in importlib.import_module("running").explain(log)


def test_a_child_that_is_interrupted_is_ended(scripts: None, tmp_path: Path) -> None:
    running = importlib.import_module("running")
    sleeper = [sys.executable, "-c", "import time; time.sleep(600)"]
    with (
        pytest.raises(KeyboardInterrupt),
        subprocess.Popen(sleeper) as child,
        running.ended_with_us(child),
    ):
        raise KeyboardInterrupt
    assert child.returncode not in (None, 0)


def test_what_a_command_prints_goes_where_it_is_wanted(scripts: None, tmp_path: Path) -> None:
    running = importlib.import_module("running")
    code = "import sys; print('list'); print('trouble', file=sys.stderr); sys.exit(3)"
    how = running.Run(dict(os.environ), tmp_path, tmp_path / "log", tmp_path / "list")
    status, wrote = running.run([sys.executable, "-c", code], "Listing", how)
    assert (status, wrote.split()) == (3, ["trouble"])
    assert (tmp_path / "list").read_text().split() == ["list"]


@pytest.mark.parametrize("name", ["running", "environment"])
def test_examples_in_docstrings(scripts: None, name: str) -> None:
    assert doctest.testmod(importlib.import_module(name)).failed == 0
