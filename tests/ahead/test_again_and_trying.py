"""What visits create again, and what a change would make late: by hand."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given, settings

from recall.ahead.again import ALL, LEAST, Kept, Look, agains, missed_of
from recall.ahead.coming import created
from recall.ahead.trying import served, with_away, with_day
from recall.ahead.weeks import in_portions
from recall.ahead.work import Booked, Hours, Piece, Slot, from_today, slots
from tests.ahead.drawn import DAYS, MONDAY, weeks

DAY = timedelta(days=1)


def piece(number: int, latest: date, **more: object) -> Piece:
    window = {"earliest": MONDAY, "target": MONDAY, "latest": latest}
    return Piece(**{"number": number, "minutes": 30, **window, **more})


def test_the_share_has_the_published_interval() -> None:
    """81 of 263, score method: 0.2553 to 0.3662 (R. G. Newcombe, Statistics in Medicine 17, 1998,
    p. 857, table I, method 3, which is Wilson's of 1927; figures from memory)."""
    looks = [Look(n, "fluid_recheck", 30 if n < 81 else None, 20) for n in range(263)]

    share = agains(looks)["fluid_recheck"].share

    assert (round(share.low, 4), round(share.high, 4)) == (0.2553, 0.3662)


def test_people_are_the_unit_and_few_are_counted_with_all() -> None:
    many = [Look(n, "wax_routine", 14, 20) for n in range(LEAST)]
    again_and_again = [Look(1, "skin_check", 7, 10), Look(1, "skin_check", None)]

    known = agains([*many, *again_and_again])

    assert set(known) == {"wax_routine", ALL}
    assert (known[ALL].share.hits, known[ALL].share.of) == (LEAST, LEAST + 1)


def test_what_is_created_comes_in_its_week_with_its_spread() -> None:
    """By hand: 4 of 10 come again, half after one week and half after three, 20 minutes each.

    Five make 20 minutes in one week; that one person makes 4 in the next, which make 0.8; and
    with these come the 20 of three weeks after the five.
    """
    looks = [Look(n, "wax_retry", {0: 7, 1: 8, 2: 21, 3: 27}.get(n), 20) for n in range(10)]

    told = created([{"wax_retry": (5, 100)}, {}, {}, {"unknown": (1, 9)}], agains(looks), 4)

    assert [round(each.minutes, 6) for each in told] == [0, 20, 4, 20 + 0.8]
    assert told[1].low < told[1].minutes < told[1].high
    assert created([{"wax_retry": (5, 100)}], agains([]), 1)[0].minutes == 0


def test_a_look_to_come_brings_what_its_own_kind_brings() -> None:
    """By hand: all of one kind come again after a week for another, of which half come for none."""
    first = [Look(n, "wax_softened", 7, 30, "wax_retry") for n in range(10)]
    then = [Look(n, "wax_retry", 14 if n < 5 else None, 60, "hearing") for n in range(10)]
    none = [Look(n, "hearing", None) for n in range(10)]

    told = created([{"wax_softened": (4, 80)}], agains([*first, *then, *none]), 6)

    assert [round(each.minutes, 6) for each in told] == [0, 4 * 30, 0, 2 * 60, 0, 0]


def test_whoever_misses_comes_again_and_brings_nothing_until_then() -> None:
    """By hand: 1 of 4 misses and comes two weeks later; 3 of 4 come and are all asked back at one.

    Of 8 at 20 minutes: 6 come back after one week (30 minutes each), 2 are there again after two;
    of the 6, 4.5 come back after two weeks; after three the 1.5 who missed are there again, with
    those who come back from the 2 (1.5) and the 4.5 (3.375).
    """
    missed = missed_of([Kept(1, True, 15), Kept(2, False), Kept(3, False), Kept(4, False)])
    looks = [Look(n, "fluid_recheck", 7, 30, "fluid_recheck") for n in range(10)]

    told = created([{"fluid_recheck": (8, 160)}], agains(looks), 4, missed)

    assert missed.part == 0.25 and missed.after == {2: 1.0}
    assert [round(each.minutes, 6) for each in told] == [
        0, 6 * 30, 2 * 20 + 4.5 * 30, 1.5 * 30 + 1.5 * 30 + 3.375 * 30,
    ]  # fmt: skip


def test_who_missed_and_has_no_other_appointment_is_not_expected_in_any_week() -> None:
    """Of whoever missed lately nothing is known yet: the last of the three is left out."""
    missed = missed_of([Kept(1, True), Kept(2, True, 3), Kept(3, True, None, 20)])

    assert (missed.part, missed.after) == (1.0, {0: 0.5})
    told = created([{"fluid_recheck": (8, 160)}], {}, 2, missed)
    assert told[0].minutes == pytest.approx(160 * sum(0.5**n for n in range(1, 8)))
    assert created([{}], {}, 1, missed_of([]))[0].minutes == 0


def test_even_who_must_come_again_each_day_is_counted_a_few_times_only() -> None:
    looks = [Look(n, "dressing", 0, 10, "dressing") for n in range(10)]

    (week,) = created([{"dressing": (1, 10)}], agains(looks), 1)

    assert week.minutes == 7 * 10


def test_the_most_pressing_is_served_first_and_the_rest_is_late() -> None:
    """By hand: an hour a day, three half hours for Monday: one of them is seen on Tuesday."""
    day = slots([Hours(who="ada", minutes={0: 60, 1: 60})], DAYS)
    three = [piece(1, MONDAY), piece(2, MONDAY, urgency="high"), piece(3, MONDAY)]

    found = served(three, day, (), {})

    assert (found.days[2], found.days[1], found.days[3]) == (MONDAY, MONDAY, MONDAY + DAY)
    assert [p.number for p in found.late] == [3]
    full = served(three, day, [Booked(on=MONDAY, minutes=60), Booked(on=DAYS[1], minutes=60)], {})
    assert set(full.days.values()) == {None} and len(full.late) == 3


def test_a_day_more_and_somebody_away() -> None:
    rota = [Hours(who="ada", minutes={0: 60, 1: 90}), Hours(who="ben", minutes={0: 60})]
    saturday = MONDAY + 5 * DAY

    more = slots(with_day(rota, saturday), [MONDAY, saturday])
    away = slots(with_away(rota, "ada", MONDAY, MONDAY + 6 * DAY), DAYS)

    assert [(s.on, s.minutes) for s in more] == [(MONDAY, 60)] * 2 + [
        (saturday, 90),
        (saturday, 60),
    ]
    assert {slot.who for slot in away} == {"ben"}


def test_the_backlog_comes_in_portions_and_what_presses_soon() -> None:
    late = [piece(n, MONDAY - n * DAY) for n in (1, 2, 3)]
    urgent = piece(9, MONDAY - DAY, urgency="urgent")
    today = MONDAY + DAY

    portions = in_portions([*late, urgent, piece(10, today)], today, 2)

    assert portions == {9: MONDAY, 3: MONDAY, 2: MONDAY + 7 * DAY, 1: MONDAY + 7 * DAY}
    soon, week = from_today(urgent, today, MONDAY), from_today(late[0], today, MONDAY + 7 * DAY)
    assert (soon.earliest, soon.latest) == (today, today + 2 * DAY)
    assert (week.earliest, week.latest) == (MONDAY + 7 * DAY, MONDAY + 13 * DAY)
    assert from_today(piece(10, today), today).latest == today
    friday = MONDAY + 4 * DAY
    begun = from_today(late[0], friday, MONDAY)
    assert (begun.earliest, begun.latest) == (friday, friday + 6 * DAY), "not on Friday alone"
    assert begun == from_today(late[0], friday), "as the telephone offers it"


@settings(max_examples=100, deadline=None)
@given(weeks(most=20))
@pytest.mark.filterwarnings("error")
def test_nobody_is_served_before_their_window_or_beyond_the_rota(
    drawn: tuple[list[Piece], tuple[Slot, ...], list[Booked]],
) -> None:
    pieces, within, _ = drawn
    found = served(pieces, within, (), {})

    days = {p.number: found.days[p.number] for p in pieces}
    end = within[-1].on if within else date.min
    for p in pieces:
        day = days[p.number]
        assert day is None or day >= p.earliest
        assert (p in found.late) == (p.latest < day if day else p.latest <= end)
    for on in {slot.on for slot in within}:
        given_that_day = sum(slot.minutes for slot in within if slot.on == on)
        assert sum(p.minutes for p in pieces if days[p.number] == on) <= given_that_day
