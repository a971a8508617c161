"""The demo's steps, run in the tests' own environment: all that start.py does but set up."""

import importlib
import sys
from pathlib import Path
from types import ModuleType

import pytest

from recall.clock import INVENTED
from recall.desk.practice import demo


@pytest.fixture
def start(setting: ModuleType, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> ModuleType:
    """Return the script, with a practice's folder of its own."""
    module = importlib.import_module("start")
    monkeypatch.setattr(module, "PRACTICE", setting.MADE / "practice")
    return module


def taken_through(start: ModuleType, setting: ModuleType) -> list[str]:
    """Run all steps on a fresh practice and return the summary."""
    environment = setting.Environment(Path(sys.prefix))
    with setting.held("start") as lock:
        day = start.fresh_practice(environment, lock)
        assert day == demo.ON.isoformat()
        for step in start.STEPS:
            start.take(step, day, environment, lock)
    return start.summary()


def test_the_demo_finds_something_in_every_list(
    start: ModuleType, setting: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(INVENTED, f"{demo.ON}T09:00")
    lines = taken_through(start, setting)
    for step in start.STEPS:
        if step.found:
            (line,) = (line for line in lines if line.strip().startswith(step.found))
            assert start.rows_of(start.PRACTICE / "lists" / step.into) > 0, line
    assert list((start.PRACTICE / "letters").rglob("*.pdf"))
    rejects = start.PRACTICE.rglob("*reject*.csv")
    mistyped = 5
    assert sum(start.rows_of(file) for file in rejects) == mistyped


@pytest.mark.parametrize("word", ["-h", "--help"])
def test_help_says_what_it_does_and_does_nothing(
    start: ModuleType, word: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert start.asked_for_help([word])

    told = capsys.readouterr().out
    assert "python3 demo/start.py" in told and "To remove everything" in told
    assert not start.asked_for_help([])


def test_a_word_that_it_does_not_know_is_refused(start: ModuleType) -> None:
    with pytest.raises(SystemExit, match="--hlp: this takes no words"):
        start.asked_for_help(["--hlp"])
