"""One entry, one rule and its cases are all of a finding: an invented one is followed through."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.care.catalogue.invented import copy_with_the_finding

DERIVED = (
    "tests/care/catalogue/test_entries.py",
    "tests/care/test_case_file_contradictions.py",
    "tests/care/test_case_file_decoding.py",
    "tests/exchange/test_visits_in.py",
    "tests/protocol/test_checking.py",
    "tests/tui/test_visit_form.py",
)
"""Tests that walk every finding by themselves."""


@pytest.fixture(scope="module")
def copy(tmp_path_factory):
    """A copy of the program with the invented finding."""
    return copy_with_the_finding(tmp_path_factory.mktemp("copy"))


def run_in(copy, *arguments):
    """Run tests of the copy, and return what they say where one fails."""
    command = [sys.executable, "-m", "pytest", "-p", "no:cacheprovider", "-p", "no:xdist"]
    settings = os.environ | {"PYTHONPATH": str(copy), "RECALL_EXAMPLES": "10"}
    settings.pop("PYTEST_ADDOPTS", None)
    ran = subprocess.run(
        [*command, *arguments], cwd=copy, env=settings, capture_output=True, text=True, check=False
    )
    assert ran.returncode == 0, ran.stdout[-4000:] + ran.stderr[-1000:]


def test_it_turns_up_wherever_findings_do(copy):
    run_in(copy, "tests/care/catalogue/followed.py")


def test_every_test_that_walks_the_findings_takes_it_in(copy):
    run_in(copy, *DERIVED)


def test_its_cases_and_the_properties_of_plans_hold(copy):
    files = (
        "protocol/test_cases.py",
        "protocol/test_rule_changes.py",
        "schedule/test_properties.py",
    )
    names = "invented or drum-colour or worse_value"
    run_in(copy, *(f"tests/{name}" for name in files), "-k", names)
