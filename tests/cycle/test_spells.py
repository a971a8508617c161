"""The clinical reading of looks: `found` and `left` of one ear, in order of day."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.care.case import Visit
from recall.care.ear import Ear
from recall.cycle.spells import Look, Spell, clear_since, looks, past, spells

START = date(2026, 1, 1)


def look(day, found=None, left=None):
    return Look(START + timedelta(days=day), found, left)


CLEARED = look(0, "occluding", "none")


def test_wax_back_at_the_next_look_grew_some_time_in_between():
    assert spells([CLEARED, look(180, "partial")]) == (Spell(0, 180),)


def test_a_clear_look_on_the_way_narrows_the_gap_from_below():
    assert spells([CLEARED, look(90, "none"), look(180, "occluding")]) == (Spell(90, 180),)


def test_an_ear_still_clear_says_not_yet():
    assert spells([CLEARED, look(90, "none")]) == (Spell(90),)


def test_a_clear_ear_left_clear_carries_the_same_gap_on():
    seen = [CLEARED, look(90, "none", "none"), look(150, "some", "some"), look(200, "partial")]

    assert spells(seen) == (Spell(150, 200),)


def test_wax_taken_out_before_it_blocked_begins_a_new_gap():
    seen = [CLEARED, look(100, "some", "none"), look(250, "partial")]

    assert spells(seen) == (Spell(100), Spell(0, 150))


def test_an_ear_found_clear_begins_a_gap_without_a_clearance():
    assert spells([look(0, "some"), look(70, "partial")]) == (Spell(0, 70),)


def test_an_ear_left_blocked_begins_no_gap_until_cleared():
    seen = [
        CLEARED,
        look(100, "occluding", "occluding"),
        look(110, "occluding", "none"),
        look(300, "partial"),
    ]

    assert spells(seen) == (Spell(0, 100), Spell(0, 190))


def test_a_look_without_wax_recorded_tells_nothing():
    seen = [CLEARED, look(90), look(180, "partial")]

    assert spells(seen) == (Spell(0, 180),)


def test_clear_now_with_nothing_recorded_before_ends_the_gap_unknown():
    seen = [CLEARED, look(90, "none"), look(180, None, "none"), look(300, "partial")]

    assert spells(seen) == (Spell(90), Spell(0, 120))


def test_wax_left_blocking_was_there_before():
    assert spells([CLEARED, look(120, None, "partial")]) == (Spell(0, 120),)


def test_a_clear_ear_that_was_left_blocked_ends_the_gap_unknown():
    assert spells([CLEARED, look(90, "some", "partial"), look(180, "none")]) == (Spell(90),)
    assert clear_since([CLEARED, look(90, "some", "partial")]) is None


def test_two_looks_on_one_day_make_no_gap():
    assert spells([CLEARED, look(0, "partial", "partial")]) == ()


def test_running_gap_begins_when_the_ear_was_left_clear():
    assert clear_since([CLEARED, look(90, "none")]) == START
    assert clear_since([CLEARED, look(90, "partial", "none")]) == START + timedelta(days=90)
    assert clear_since([CLEARED, look(90, "partial", "partial")]) is None


def test_visits_with_both_ears_count_once():
    both = past([CLEARED, look(90, "partial")], [CLEARED, look(90, "none"), look(95)])

    assert (both.events, both.visits) == (1, 2)


def test_looks_read_the_case_file_and_take_a_cleared_ear_as_clear():
    visits = [
        Visit(on=START, right=Ear(wax_found="occluding", clearance="cleared"), left=Ear()),
        Visit(on=date(2026, 6, 1), right=Ear(wax_found="partial", clearance="failed")),
        Visit(on=date(2026, 7, 1), right=Ear(wax_left="some", clearance="cleared")),
    ]

    assert looks(visits, "right") == (
        Look(START, "occluding", "none"),
        Look(date(2026, 6, 1), "partial", None),
        Look(date(2026, 7, 1), None, "some"),
    )
    assert looks(visits, "left") == ()


@pytest.mark.parametrize(("low", "high"), [(-1, None), (5, 5), (5, 4)])
def test_a_spell_that_ends_before_it_was_clear_is_refused(low, high):
    with pytest.raises(ValueError, match="low_days"):
        Spell(low, high)


wax = st.sampled_from([None, "none", "some", "partial", "occluding"])
any_looks = st.lists(st.builds(look, st.integers(0, 1500), wax, wax), max_size=12)


@given(any_looks)
def test_any_looks_give_gaps_that_fit_into_the_time_looked_at(seen):
    told = spells(seen)
    days = [k.on for k in seen]
    span = (max(days) - min(days)).days if seen else 0

    assert sum(s.high_days or s.low_days for s in told) <= span


@given(any_looks, st.integers(0, 1500))
def test_a_look_without_wax_changes_nothing(seen, day):
    assert spells([*seen, look(day)]) == spells(seen)


@given(any_looks, any_looks)
def test_mirrored_ears_tell_the_same(one, other):
    first, second = past(one, other), past(other, one)

    assert (first.events, first.visits) == (second.events, second.visits)
    assert sorted(map(repr, first.spells)) == sorted(map(repr, second.spells))


def test_a_visit_counts_where_only_what_was_left_is_recorded():
    assert past([look(0, None, "none")], [look(9)]).visits == 1
