"""`recall changeover`, as it is typed: today's portion, an answer, a whole kind with its count."""

from __future__ import annotations

import json
from pathlib import Path

from recall.errors import Conflict, InputError, Refused
from recall.records.database.store import Store
from tests.cli.test_loop_commands import Typed
from tests.cli.test_loop_commands import typed as typed  # a fixture
from tests.desk.changing_over import OLD, SEEN, WORN, history, live_desk

DONE = ("--answer", "done", "--where", "Elm House", "--when", "2025-03")


def looked(typed: Typed, *words: str, by: str = "clara") -> tuple[int, str, str]:
    return typed("changeover", *words, by=by, on="2026-09-07")


def a_practice(store: Store, folder: Path) -> None:
    """Two people with the same history, in a practice that went live."""
    with (folder / "recall.toml").open("a") as file:
        file.write("\n[changeover]\nwent_live = 2026-09-07\n")
    history(live_desk(store, folder), folder, OLD, "2025-01-14", **WORN, **SEEN)


def test_the_portion_is_shown_and_one_of_it_answered(
    typed: Typed, store: Store, tmp_path: Path
) -> None:
    a_practice(store, tmp_path)
    status, out, _ = looked(typed)
    assert status == 0
    assert out.splitlines()[0].endswith("to be looked through; 0 answered today, of 25 a day.")
    asked = json.loads(looked(typed, "--json")[1])
    first = asked[0]["ask"]
    assert looked(typed, first, *DONE, by="rob")[0] == Refused.exit_code
    status, out, said = looked(typed, first, *DONE)
    assert (status, out.strip()) == (0, "P1: Done elsewhere: Elm House, 2025-03.")
    assert "recall undo" in said
    assert len(json.loads(looked(typed, "--json")[1])) < len(asked)


def test_a_whole_kind_needs_the_count_that_was_shown(
    typed: Typed, store: Store, tmp_path: Path
) -> None:
    a_practice(store, tmp_path)
    kinds = json.loads(looked(typed, "--kinds", "--json")[1])
    alike = next(each for each in kinds if each["kind"].startswith("refer-ent"))
    mine = ("--kind", alike["kind"])
    assert len(json.loads(looked(typed, *mine, "--json")[1])) == alike["count"]
    assert looked(typed, *mine, *DONE, "--expect", "99")[0] == Conflict.exit_code
    assert looked(typed, *mine, *DONE, "--expect", str(alike["count"]))[0] == 0
    left = json.loads(looked(typed, "--kinds", "--json")[1])
    assert alike["kind"] not in {each["kind"] for each in left}


def test_what_is_missing_is_said(typed: Typed, store: Store, tmp_path: Path) -> None:
    a_practice(store, tmp_path)
    assert looked(typed, "F1", "--answer", "not-needed")[0] == InputError.exit_code
    assert looked(typed, *DONE)[0] == 2
    assert looked(typed, "--kind", "nothing")[0] != 0
