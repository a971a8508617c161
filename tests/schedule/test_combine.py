"""Combining: the fewest appointments that may be shared.

Checked against brute force over every way of splitting the dues, and against the worked
case of the case-file contract. Five open days in common, and a leading target that moves by no
more than a quarter of its days: common practice, no source.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache
from typing import get_args

import msgspec
from hypothesis import given, settings
from hypothesis import strategies as st

from recall.care.case import Do, Track, Urgency
from recall.care.ear import Side
from recall.schedule.calendar import Calendar
from recall.schedule.combine import PRESSING, group
from recall.schedule.plan import Due, FollowUp
from recall.schedule.planning import offer
from tests.seeds import examples

DAY0 = date(2026, 9, 1)
TRACKS = st.sampled_from(get_args(Track))
URGENCY = st.sampled_from(get_args(Urgency))
EAR = st.sampled_from(get_args(Side))
DO = st.lists(st.sampled_from(get_args(Do)), max_size=3, unique=True).map(tuple)


def due(
    track: Track = "fluid",
    ear: Side = "right",
    window: tuple[int, int, int] = (28, 42, 56),
    urgency: Urgency = "medium",
    do: tuple[Do, ...] = ("otoscopy",),
) -> Due:
    earliest, target, latest = (DAY0 + timedelta(days=n) for n in window)
    return Due(
        ear=ear,
        track=track,
        category="fluid_recheck",
        rule=f"{track}-rule",
        rule_version=1,
        earliest=earliest,
        target=target,
        latest=latest,
        says="",
        source="",
        known_by="CP",
        urgency=urgency,
        do=do,
        asked_on=DAY0,
    )


@st.composite
def dues(draw: st.DrawFn) -> Due:
    early, width, aim = draw(st.integers(0, 40)), draw(st.integers(0, 30)), draw(st.integers(0, 30))
    window = (early, early + min(aim, width), early + width)
    return due(draw(TRACKS), draw(EAR), window, draw(URGENCY), draw(DO))


def splits(things: list[int]) -> list[list[list[int]]]:
    """Every way of splitting a list into groups."""
    if not things:
        return [[]]
    first, rest = things[0], splits(things[1:])
    found = [[[first], *split] for split in rest]
    for split in rest:
        found += [[*split[:n], [first, *split[n]], *split[n + 1 :]] for n in range(len(split))]
    return found


def weekdays(first: date, last: date) -> set[date]:
    """The days of a window from Monday to Friday."""
    days = (first + timedelta(days=n) for n in range((last - first).days + 1))
    return {day for day in days if day.isoweekday() <= 5}


def may_share(members: list[Due]) -> bool:
    """Whether five open days lie in every window, or all of a shorter one; whether the leading
    target moves by a quarter of its days at most; and urgent is not mixed with the rest."""
    first, last = max(d.earliest for d in members), min(d.latest for d in members)
    common = weekdays(first, last)
    shortest = min((weekdays(d.earliest, d.latest) for d in members), key=len)
    whole = any((d.earliest, d.latest) == (first, last) for d in members)
    days_enough = whole or (bool(common) and len(common) >= min(5, len(shortest)))
    lead = min(members, key=lambda d: (get_args(Urgency).index(d.urgency), d.target))
    moves = abs((min(max(lead.target, first), last) - lead.target).days)
    near = 4 * moves <= (lead.target - DAY0).days or moves == 0
    return (
        first <= last
        and days_enough
        and near
        and len({d.urgency in PRESSING for d in members}) == 1
    )


def mirror(asked: Due) -> Due:
    return msgspec.structs.replace(asked, ear="left" if asked.ear == "right" else "right")


def shape(follow_up: FollowUp) -> tuple[object, ...]:
    members = sorted(repr(d) for d in follow_up.dues)
    return follow_up.earliest, follow_up.target, follow_up.latest, follow_up.urgency, members


@settings(max_examples=examples(40))
@given(st.lists(dues(), max_size=6) | st.lists(dues(), min_size=8, max_size=8))
def test_no_way_of_splitting_the_dues_needs_fewer_appointments(asked: list[Due]) -> None:
    shared = cache(lambda members: may_share([asked[n] for n in members]))
    ways = (s for s in splits(list(range(len(asked)))) if all(shared(tuple(sorted(m))) for m in s))

    assert len(group(asked)) == min(map(len, ways))


@given(st.lists(dues(), max_size=12))
def test_every_shared_appointment_leaves_a_choice_and_moves_little(asked: list[Due]) -> None:
    assert all(may_share(list(f.dues)) for f in group(asked))


@given(st.lists(dues(), max_size=8))
def test_every_due_is_in_one_follow_up_and_keeps_its_dates(asked: list[Due]) -> None:
    grouped = [d for follow_up in group(asked) for d in follow_up.dues]

    assert sorted(map(repr, grouped)) == sorted(map(repr, asked))


@given(st.lists(dues(), max_size=8))
def test_no_due_is_met_outside_its_own_window(asked: list[Due]) -> None:
    for follow_up in group(asked):
        assert follow_up.earliest <= follow_up.target <= follow_up.latest
        for d in follow_up.dues:
            assert d.earliest <= follow_up.earliest
            assert follow_up.latest <= d.latest


@given(st.lists(dues(), max_size=8))
def test_urgent_things_are_combined_only_with_urgent_things(asked: list[Due]) -> None:
    for follow_up in group(asked):
        assert len({d.urgency in PRESSING for d in follow_up.dues}) == 1


@given(st.lists(dues(), max_size=8).flatmap(lambda d: st.tuples(st.just(d), st.permutations(d))))
def test_the_order_in_which_dues_are_given_does_not_matter(
    both: tuple[list[Due], list[Due]],
) -> None:
    assert group(both[0]) == group(both[1])


@given(st.lists(dues(), max_size=8))
def test_mirrored_ears_give_the_mirrored_follow_ups(asked: list[Due]) -> None:
    straight = [
        shape(msgspec.structs.replace(f, dues=tuple(map(mirror, f.dues)))) for f in group(asked)
    ]

    assert [shape(f) for f in group([mirror(d) for d in asked])] == straight


@given(st.lists(dues(), max_size=8))
def test_follow_ups_come_by_their_latest_day(asked: list[Due]) -> None:
    latest = [f.latest for f in group(asked)]

    assert latest == sorted(latest)


def test_nothing_due_gives_no_follow_up() -> None:
    assert group([]) == ()


def test_fluid_hearing_and_retraction_with_separate_windows_stay_three_visits() -> None:
    """The worked case of the contract: windows of 4-8 weeks, 11-15 weeks and 5-7 months."""
    asked = [
        due("retraction", window=(153, 181, 212)),
        due("hearing", window=(77, 84, 105), urgency="high"),
        due("fluid"),
    ]

    assert [f.tracks for f in group(asked)] == [("fluid",), ("hearing",), ("retraction",)]


def test_the_most_urgent_target_is_clamped_into_the_shared_window() -> None:
    asked = [due("fluid", window=(28, 42, 56)), due("hearing", "left", (50, 70, 105), "high")]

    (one,) = group(asked)

    assert one.urgency == "high"
    assert (one.earliest, one.latest) == (DAY0 + timedelta(50), DAY0 + timedelta(56))
    assert one.target == DAY0 + timedelta(56)
    assert one.reasons == (
        "One appointment does for 2 asks: fluid (right ear), hearing (left ear).",
        "Earlier than 10 November 2026, the target of hearing, the most pressing (high): "
        "27 October 2026 is the latest day of fluid.",
    )


def test_both_ears_of_one_track_are_named_together() -> None:
    (one,) = group([due(ear="left"), due(ear="right")])

    assert one.ears == ("right", "left")
    assert one.reasons[0] == "One appointment does for 2 asks: fluid (both ears)."
    assert one.reasons[1].startswith("13 October 2026 is the target of fluid")


def test_what_to_do_is_united_once_each_in_a_stable_order() -> None:
    asked = [due("hearing", do=("hearing_test", "tympanometry")), due(do=("tympanometry",))]

    assert group(asked)[0].do == ("hearing_test", "tympanometry")


def test_an_urgent_look_does_not_wait_for_a_routine_one_on_the_same_days() -> None:
    asked = [due("wax", window=(0, 10, 14)), due("drum", window=(0, 3, 14), urgency="urgent")]

    urgent, routine = group(asked)

    assert (urgent.tracks, routine.tracks) == (("drum",), ("wax",))
    assert urgent.reasons == ("Kept apart from what is not urgent: urgent never waits for it.",)
    assert routine.reasons == ()


def test_five_open_days_in_common_are_enough_and_four_are_not() -> None:
    """Day 0 is a Tuesday: days 14 to 20 have five weekdays, days 15 to 20 four."""
    fluid = due("fluid", window=(0, 18, 20))

    assert len(group([fluid, due("hearing", window=(14, 18, 40))])) == 1
    assert len(group([fluid, due("hearing", window=(15, 18, 40))])) == 2


def test_the_whole_of_a_shorter_window_is_enough() -> None:
    short, wide = due("drum", window=(14, 15, 16)), due("fluid", window=(10, 16, 30))

    assert len(group([short, wide])) == 1
    assert len(group([short, due("fluid", window=(15, 16, 30))])) == 2


def test_the_leading_target_moves_by_a_quarter_of_its_days_and_no_more() -> None:
    """From day 0 to day 40: 10 days are a quarter."""
    lead = due("hearing", window=(0, 40, 80), urgency="high")

    assert len(group([lead, due("fluid", window=(50, 60, 90))])) == 1
    assert len(group([lead, due("fluid", window=(51, 60, 90))])) == 2
    assert len(group([lead, due("fluid", window=(0, 10, 30))])) == 1
    assert len(group([lead, due("fluid", window=(0, 10, 29))])) == 2


def test_a_quarter_is_counted_from_where_the_window_is_counted_from() -> None:
    """40 days before the ask and 40 after it: 20 days are a quarter."""
    lead = due("surveillance", window=(0, 40, 80), urgency="high")
    early = msgspec.structs.replace(lead, anchor=DAY0 - timedelta(40))

    assert len(group([lead, due("fluid", window=(60, 70, 90))])) == 2
    assert len(group([early, due("fluid", window=(60, 70, 90))])) == 1


def test_what_cannot_share_is_done_at_the_earlier_one_if_there_is_time() -> None:
    first, second = group([due(window=(0, 18, 20)), due("hearing", window=(15, 18, 40))])

    assert first.reasons == (
        "If there is time, do this too, due by itself a little later: hearing (right ear).",
    )
    assert second.reasons == ()


def test_only_days_on_which_the_practice_is_open_count() -> None:
    asked = [due("fluid", window=(0, 18, 20)), due("hearing", window=(14, 18, 40))]

    assert len(group(asked, lambda day: day.isoweekday() <= 4)) == 2


def test_a_day_before_the_plan_is_never_offered() -> None:
    late = group([due(window=(0, 5, 40))])
    on = DAY0 + timedelta(9)

    (offered,), _ = offer(late, Calendar(), on)

    assert offered.offer_on == on


def test_windows_a_day_apart_need_two_visits() -> None:
    assert len(group([due(window=(0, 5, 10)), due("hearing", window=(11, 12, 20))])) == 2
