"""The table of contact steps: complete, and what people decided about each, written by hand.

Who acts, and which steps wait for nothing, are common practice, no source.
"""

from __future__ import annotations

import ast
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from recall.protocol.contact_steps import (
    AWAITS_CLINICIAN,
    CONTACT_STEPS,
    FIRST_OF_ALL,
    LETTER_STEPS,
    RUN_LETTERS,
    STEP,
    TOLD,
)

ROOT = Path(__file__).parents[2]
OTHER_THINGS = {"phone", "decision", "look_through"}
"""Words that name a channel, a table or a state of the accounts as well."""
COLUMN = {
    ("recall/desk/imports/people.py", "tell_gp"),
    ("recall/desk/imports/desk_first.py", "tell_gp"),
}
"""A heading of the people's file is called like a step."""
OUTSIDE = ("recall/cli", "recall/desk", "recall/jobs", "recall/records", "tui")


def test_every_step_stands_in_the_table_once_with_words_of_its_own() -> None:
    assert len(STEP) == len(CONTACT_STEPS) == 18
    assert len({step.short for step in CONTACT_STEPS}) == len(CONTACT_STEPS)
    assert len({step.task for step in CONTACT_STEPS}) == len(CONTACT_STEPS)
    assert all(0 < len(step.short) <= 16 for step in CONTACT_STEPS)


def test_letters_go_with_the_post_and_nothing_else_does() -> None:
    letters = {"invitation", "reminder", "last_letter", "missed_letter", "asked_letter"}

    assert {step.kind for step in CONTACT_STEPS if step.who == "post"} == letters
    assert {step.kind for step in CONTACT_STEPS if step.done_as == "posted"} == letters
    assert set(LETTER_STEPS) == letters
    assert {step.kind for step in CONTACT_STEPS if step.letter} == {*letters, "address_check"}
    assert RUN_LETTERS == ("invitation", "reminder", "last_letter")


def test_what_waits_for_nothing_and_what_waits_for_a_clinician() -> None:
    assert set(FIRST_OF_ALL) == {"clinician_call", "safeguarding"}
    assert set(AWAITS_CLINICIAN) == {"decision", "clinician_call", "safeguarding", "ask_result"}
    assert set(TOLD) == {"clinician_call", "ask_result"}
    lapsing = {step.kind for step in CONTACT_STEPS if step.lapses}
    assert lapsing == {"book_now", "list_look"}


def test_a_run_holds_seven_steps_and_ends_in_a_decision() -> None:
    held = {step.kind for step in CONTACT_STEPS if step.in_run}
    assert held == {"book_now", "list_look", "phone", *RUN_LETTERS, "decision"}
    assert [step.kind for step in CONTACT_STEPS if step.ends_run] == ["decision"]
    assert [step.kind for step in CONTACT_STEPS if step.about_address] == ["address_check"]


def named_by_hand(path: Path) -> Iterator[str]:
    """Give the steps that a module names, and the words with which it compares a step."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Constant) and node.value in STEP.keys() - OTHER_THINGS:
            yield str(node.value)
        if isinstance(node, ast.Compare) and re.search(r"\bstep(\.kind)?$", ast.unparse(node.left)):
            sides = (*node.comparators, node.left)
            yield from (c.value for c in sides if isinstance(c, ast.Constant) and c.value in STEP)


def test_no_step_is_named_by_hand_outside_the_loop() -> None:
    found = {
        (path.relative_to(ROOT).as_posix(), name)
        for folder in OUTSIDE
        for path in (ROOT / folder).rglob("*.py")
        for name in named_by_hand(path)
    }
    assert found == COLUMN


def test_the_loop_names_no_step_that_is_not_in_the_table() -> None:
    text = "".join(path.read_text("utf-8") for path in (ROOT / "recall/loop").glob("*.py"))
    named = set(re.findall(r'(?:asked\.step|RunStep)\(\s*"(\w+)"', text))
    named |= set(re.findall(r'StepKind = "(\w+)"', text))
    assert named <= set(STEP) and {"safeguarding", "missed_letter", "address_check"} <= named


ROW = """\
    _made("postcard", "post", "postcard", "The postcard goes out with the letters.",
          because="No answer yet: a postcard goes out.", done_as="posted", letter="reminder",
          in_run=True),
    _made("last_letter","""
IN_RUN = """\
  { kind = "reminder", from = "halfway" },
  { kind = "postcard", from = "halfway", after = "3 days" },
"""


def test_an_invented_step_is_one_row_of_the_table_and_its_place_in_a_run(tmp_path: Path) -> None:
    for name in ("recall", "tui"):
        shutil.copytree(ROOT / name, tmp_path / name)
    table, run = (
        tmp_path / "recall/protocol" / name for name in ("contact_steps.py", "contact.toml")
    )
    table.write_text(table.read_text("utf-8").replace('    _made("last_letter",', ROW), "utf-8")
    first, second = IN_RUN.splitlines(keepends=True)
    run.write_text(run.read_text("utf-8").replace(first, first + second), "utf-8")

    ran = subprocess.run(
        [sys.executable, ROOT / "tests/protocol/followed_step.py"],
        env=os.environ | {"PYTHONPATH": f"{tmp_path}{os.pathsep}{ROOT}"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (ran.returncode, ran.stdout) == (0, f"followed in {tmp_path}\n"), ran.stderr[-3000:]
