"""The suite draws the same examples each time, so that red always means the change in hand."""

from __future__ import annotations

import re
from pathlib import Path

from hypothesis import HealthCheck, settings

from tests.seeds import LONG

TESTS = Path(__file__).parents[1]
OWN_SEED = re.compile(r"use_true_random=T|random\.Random\(\)|random\.seed\(\)|derandomize=F")


def test_no_test_draws_from_a_seed_of_its_own() -> None:
    others = [p for p in TESTS.rglob("*.py") if p != Path(__file__)]

    assert [p.name for p in others if OWN_SEED.search(p.read_text("utf-8"))] == []


def test_the_default_is_the_fixed_seed_unless_a_long_run_is_asked_for() -> None:
    drawn = settings()

    assert drawn.derandomize is (LONG is None)
    assert (drawn.database is None) is (LONG is None)


def test_nothing_that_is_drawn_fails_by_the_clock() -> None:
    drawn = settings()

    assert drawn.deadline is None
    assert HealthCheck.too_slow in drawn.suppress_health_check
