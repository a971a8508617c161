"""Levelling: by hand, by its properties, and against an exact solver.

The objective is design's own (the sum of squared daily minutes). That equal loads make it least is
Jensen's inequality (J. L. W. V. Jensen, Acta Mathematica 30, 1906, p. 175): the examples by hand
use it. The oracle is HiGHS (Q. Huangfu and J. A. J. Hall, Mathematical Programming Computation
10, 2018, p. 119), as scipy has it, on the whole problem with the squares cut into whole steps.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from scipy.optimize import Bounds, LinearConstraint, milp

from recall.ahead.levelling import Levelled, level
from recall.ahead.proposals import FINE, fine_of
from recall.ahead.work import NEVER_LATER, Booked, Hours, Piece, Slot, slots
from tests.ahead.drawn import DAYS, MONDAY, weeks

DAY = timedelta(days=1)
STEP = 10
"""Minutes of one step of the oracle: every length that is drawn is a multiple."""
ALL_WEEK = slots([Hours(who="ada", minutes=dict.fromkeys(range(5), 240))], DAYS)


def piece(number: int, minutes: int = 20, first: int = 0, last: int = 4, **more: object) -> Piece:
    """A piece whose window is some days of the week, aimed at the first."""
    start, end = MONDAY + first * DAY, MONDAY + last * DAY
    window = {"earliest": start, "target": start, "latest": end}
    return Piece(**{"number": number, "minutes": minutes, **window, **more})


def test_ten_on_monday_become_two_a_day() -> None:
    """By hand: 200 minutes on one day are 40 000; 40 on each of five are 5 × 1600 = 8000."""
    found = level([piece(n) for n in range(10)], ALL_WEEK, ())

    assert (found.before.squares, found.after.squares) == (40_000, 8_000)
    assert (found.before.busiest, found.after.busiest) == (200, 40)
    assert set(found.after.days.values()) == {40}


def test_what_is_booked_stands_and_is_worked_round() -> None:
    """By hand: 120 stand on Monday; 80 more go to the four other days, 20 to each."""
    found = level([piece(n) for n in range(4)], ALL_WEEK, [Booked(on=MONDAY, minutes=120)])

    assert sorted(p.on for p in found.after.placed) == DAYS[1:]
    assert found.after.squares == 120**2 + 4 * 20**2


def test_a_chain_is_followed() -> None:
    """Monday's may only go to Tuesday, and Tuesday's to Wednesday: 60, 40, 20 become 40, 40, 40."""
    mon = [piece(n, last=1) for n in range(3)]
    tue = [piece(n, first=1, last=2) for n in (3, 4)]
    found = level([*mon, *tue, piece(5, first=2, last=2)], ALL_WEEK, ())

    assert [found.after.days[day] for day in DAYS[:3]] == [40, 40, 40]


def test_what_is_of_high_urgency_stays_and_others_make_room() -> None:
    """Two for Tuesday: the one of high urgency keeps it, or comes sooner; never later."""
    pressing = piece(1, first=1, urgency="high")
    found = level([pressing, piece(2, first=1)], ALL_WEEK, ())

    on = {p.piece.number: p.on for p in found.after.placed}
    assert on[1] == DAYS[1] < on[2]


def test_a_minute_beyond_the_rota_is_the_last_resort() -> None:
    """Half a day on Monday: 60 minutes stay there although the squares alone would share evenly."""
    short = slots([Hours(who="ada", minutes={0: 60, 1: 240})], DAYS)
    found = level([piece(n, last=1) for n in range(10)], short, ())

    assert found.after.over == 0
    assert [found.after.days[d] for d in DAYS[:2]] == [60, 140]
    assert fine_of(61, 60) - fine_of(60, 60) == 121 + FINE


@pytest.mark.parametrize(
    ("which", "why"),
    [
        (piece(1, first=-3, last=-1), "no day is left before its latest day"),
        (piece(1, first=7, last=9), "its window opens later"),
        (piece(1, first=3, last=3), "no day of its window is open with anybody on the rota"),
        (piece(1, does=frozenset({"clear_wax"})), "nobody on the rota of those days does what is"),
    ],
)
def test_what_has_no_day_is_left_out_with_why(which: Piece, why: str) -> None:
    hours = Hours(who="ada", minutes={0: 60, 4: 60}, does=frozenset({"otoscopy"}))
    (left,) = level([which], slots([hours], DAYS), ()).left_out

    assert left.why.startswith(why)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(weeks(most=25))
def test_nobody_is_moved_out_of_what_holds(
    drawn: tuple[list[Piece], tuple[Slot, ...], list[Booked]],
) -> None:
    pieces, within, booked = drawn
    found = level(pieces, within, booked)

    placed = {p.piece.number for p in found.after.placed}
    assert placed | {left.piece.number for left in found.left_out} == {p.number for p in pieces}
    total = sum(b.minutes for b in booked) + sum(p.piece.minutes for p in found.after.placed)
    assert sum(found.after.days.values()) == sum(found.before.days.values()) == total
    assert found.after.cost <= found.before.cost
    by = {(slot.on, slot.who): slot for slot in within}
    for was, now in zip(found.before.placed, found.after.placed, strict=True):
        assert now.piece.earliest <= now.on <= now.piece.latest
        assert by[now.on, now.who].fits(now.piece)
        if now.piece.urgency in NEVER_LATER:
            assert now.on <= was.on


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(weeks())
def test_levelling_is_within_three_per_cent_of_an_exact_solver(
    drawn: tuple[list[Piece], tuple[Slot, ...], list[Booked]],
) -> None:
    pieces, within, booked = drawn
    found = level(pieces, within, booked)

    assert found.after.cost <= 1.03 * exact(found, within, booked) + 1e-6


def exact(found: Levelled, within: tuple[Slot, ...], booked: list[Booked]) -> float:
    """Return the least cost of the same pieces, by a solver that tries everything.

    One whole number for each piece and slot, one for each step of a slot's minutes; as each step
    costs more than the one before, the cheapest steps are those that are taken first.
    """
    stand = _standing(within, booked)
    pairs = [
        (i, n)
        for i, was in enumerate(found.before.placed)
        for n, slot in enumerate(within)
        if was.piece.earliest <= slot.on <= was.piece.latest
        and slot.fits(was.piece)
        and not (was.piece.urgency in NEVER_LATER and slot.on > was.on)
    ]
    base = sum(fine_of(stand[n], slot.minutes) for n, slot in enumerate(within))
    if not pairs:
        return base
    pieces = [was.piece for was in found.before.placed]
    most = sum(p.minutes for p in pieces) // STEP
    steps = [(n, k) for n in range(len(within)) for k in range(most)]
    cost = [0.0] * len(pairs) + [
        float(fine_of(stand[n] + STEP * (k + 1), given) - fine_of(stand[n] + STEP * k, given))
        for n, k in steps
        for given in (within[n].minutes,)
    ]
    once = np.zeros((len(pieces), len(cost)))
    same = np.zeros((len(within), len(cost)))
    for column, (i, n) in enumerate(pairs):
        once[i, column] = 1
        same[n, column] = pieces[i].minutes // STEP
    for column, (n, _k) in enumerate(steps, len(pairs)):
        same[n, column] = -1
    whole = np.array([1] * len(pairs) + [0] * len(steps))
    rules = [LinearConstraint(once, 1, 1), LinearConstraint(same, 0, 0)]
    solved = milp(cost, integrality=whole, bounds=Bounds(0, 1), constraints=rules)
    assert solved.success, solved.message
    return base + float(solved.fun)


def _standing(within: tuple[Slot, ...], booked: list[Booked]) -> list[int]:
    """Return what stands in each slot: with whom it was booked, else where it costs least."""
    stand = [0] * len(within)
    for one in booked:
        here = [n for n, slot in enumerate(within) if slot.on == one.on]
        theirs = [n for n in here if within[n].who == one.who] or here
        if theirs:
            stand[theirs[0]] += one.minutes
    return stand
