"""Pairs of histories in which a worse earlier look makes a later date, each reviewed by hand.

A grade is compared with the one before it, and three looks none worse than the one before are
looked at less often. So one step more at an earlier look can take a step away, or make three looks
equal. No other pair may; the lists are not read from the protocol. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from itertools import product

from msgspec import convert

from recall.care.case import Case
from recall.protocol.loading import load
from recall.schedule.fold import fold

Grades = tuple[int, ...]
DAYS = ("2026-12-01", "2027-06-01", "2027-12-01")
LEVEL = dict.fromkeys(("500", "1000", "2000", "4000"), 10)
NO_STEP = {
    ((0, 0, 1), (0, 1, 1)),
    ((0, 1, 2), (0, 2, 2)),
    ((1, 1, 2), (1, 2, 2)),
}
"""The last look found one grade more than the one before, and now finds what was known."""
STABLE = {
    ((0, 1, 1), (1, 1, 1)),
    ((1, 0, 1), (1, 1, 1)),
    ((2, 0, 1), (2, 1, 1)),
    ((1, 2, 1), (2, 2, 1)),
    ((1, 2, 2), (2, 2, 2)),
    ((2, 1, 2), (2, 2, 2)),
}
"""Three looks none worse than the one before, where one had been: once a year."""


def last_day(grades: Grades, tested: bool = True) -> date | None:
    """Return the last day for a child's drum after three looks with these grades."""
    hearing = {"hearing_dB": LEVEL} if tested else {}
    visits = [
        {"on": on, "right": {"drum_seen": "full", "tensa_grade": grade, **hearing}}
        for on, grade in zip(DAYS, grades, strict=True)
    ]
    ledger = fold(convert({"born": "2018-03-02", "visits": visits}, Case), load(), date(2028, 1, 1))
    return min((d.latest for d in ledger.open if d.track == "retraction"), default=None)


def later(tested: bool) -> Iterator[tuple[Grades, Grades]]:
    """Yield each history with the same one step worse earlier, where that makes a later date."""
    for grades in product((0, 1, 2), repeat=3):
        for place in (0, 1):
            if grades[place] == 2:
                continue
            worse = tuple(g + (n == place) for n, g in enumerate(grades))
            before, after = last_day(grades, tested), last_day(worse, tested)
            if before is not None and (after is None or after > before):
                yield grades, worse


def test_only_reviewed_pairs_come_later() -> None:
    assert set(later(tested=True)) == NO_STEP | STABLE


def test_without_hearing_tested_nothing_is_stable() -> None:
    assert STABLE.isdisjoint(
        pair for pair in later(tested=False) if last_day(pair[1], tested=False) == date(2029, 2, 1)
    )
