"""DEVELOPERS.md names tests, files and words that exist."""

from __future__ import annotations

import ast
import re
from functools import cache
from typing import get_args

import pytest

from recall.accounts.states import PART_WORDS, RECHECK_STATES, REFERRAL_STATES
from recall.care.case import URGENCIES, Track
from tests.docs.made import ROOT
from tests.protocol.case_files import all_cases

TEXT = (ROOT / "DEVELOPERS.md").read_text("utf-8")
TESTS = sorted(set(re.findall(r"`(?:tests/)?([\w/]+\.py)::(\w+)`", TEXT)))
CASES = sorted(set(re.findall(r"`cases/(\w+)\.toml: ([^`]+)`", TEXT)))
PATHS = sorted(set(re.findall(r"`((?:[\w.-]+/)+[\w.*-]*)`", TEXT)))
ROOMS = ("", "recall/", "tests/", "tui/")
HAZARDS = "Where the work can hurt someone"


def section(title: str) -> str:
    found = re.search(rf"^## {title}\n(.*?)(?=^## |\Z)", TEXT, re.S | re.M)
    assert found
    return found[1]


def rows(title: str) -> list[list[str]]:
    """Return the rows of the first table of a section."""
    lines = [line for line in section(title).splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split(" | ")] for line in lines[2:]]


@cache
def names_in(file: str) -> frozenset[str]:
    """Return what a test file defines at its top."""
    tree = ast.parse((ROOT / "tests" / file).read_text("utf-8"))
    found = {n.name for n in tree.body if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)}
    assigned = [t for n in tree.body if isinstance(n, ast.Assign) for t in n.targets]
    return frozenset(found | {t.id for t in assigned if isinstance(t, ast.Name)})


@pytest.mark.parametrize(("file", "name"), TESTS)
def test_a_named_test_exists(file: str, name: str) -> None:
    assert name in names_in(file)


def test_named_rule_cases_exist() -> None:
    there = {(case.file, case.name) for case in all_cases()}

    assert set(CASES) - there == set()


def test_every_hazard_has_a_control_and_a_test() -> None:
    for hazard, control, tests in rows(HAZARDS):
        assert control, hazard
        assert re.search(r"\.py::|\.toml: ", tests), hazard


def test_no_hazard_is_dropped() -> None:
    """Added to freely; taken out only with the hazard itself."""
    assert len(rows(HAZARDS)) >= 22


@pytest.mark.parametrize("path", PATHS)
def test_a_named_file_exists(path: str) -> None:
    if "NAME" in path or path == "migrations/versions/":
        return
    assert any(list(ROOT.glob(f"{room}{path.rstrip('/')}")) for room in ROOMS), path


def test_the_map_has_every_room_with_what_must_stay_true() -> None:
    mapped = {row[0].strip("`"): row[2] for row in rows("The rooms")}
    rooms = {
        f"recall/{p.name}" for p in (ROOT / "recall").iterdir() if (p / "__init__.py").exists()
    }

    assert rooms | {"tui", "migrations", "demo"} == set(mapped)
    assert all(mapped.values())


def test_the_words_are_those_of_the_code() -> None:
    words = {row[0]: row[1] for row in rows("Words")}

    for track in get_args(Track):
        assert f"`{track}`" in words["track"]
    for urgency in URGENCIES:
        assert f"`{urgency}`" in words["urgency"]


def test_how_tos_stay_short() -> None:
    for part in section("How to").split("\n### ")[1:]:
        assert len(re.findall(r"^\d+\. ", part, re.M)) <= 10, part.partition("\n")[0]


def test_long_forms_name_settings_that_tests_read() -> None:
    read = "".join(p.read_text("utf-8") for p in (ROOT / "tests").rglob("*.py"))

    for name in set(re.findall(r"\b(RECALL_[A-Z]+)=", TEXT)):
        assert f'"{name}"' in read


def test_the_tables_of_states_are_the_tables_that_are_used() -> None:
    told = section("What became of every ask")
    shown = re.findall(r"^\| ([^|]+) \| ([^|]+) \| [^|]+ \|$", told, re.M)
    both = (*RECHECK_STATES, *REFERRAL_STATES)

    assert [row for row in shown if row[0] not in ("state", "---")] == [
        (state.words, PART_WORDS[state.part]) for state in both
    ]
