"""The rules of a register that never had any: what is in force then judges what lies before."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from recall.care.casefile import decode_case
from recall.protocol.comparing import in_hindsight
from recall.protocol.loading import Protocol, load
from recall.protocol.own_days import READINGS, SOON, from_adoption, taken_up_first
from recall.schedule.planning import plan
from tests.protocol.versions import first, next_version, with_rules

WRITTEN, TAKEN_UP, AHEAD = date(2026, 11, 28), date(2027, 1, 10), date(2027, 3, 1)
NEVER_ENDS = first("fluid-child-look")
OLD = replace(NEVER_ENDS, until=WRITTEN)
NEW = next_version(NEVER_ENDS, WRITTEN, latest="6 weeks")
FILE = with_rules(OLD, NEW)
DAY = timedelta(days=1)


def days(protocol: Protocol) -> list[tuple[int, date, date | None]]:
    return [(r.version, r.since, r.until) for r in protocol.file.rule]


def test_the_version_in_force_judges_what_lies_before_and_no_other_does() -> None:
    assert days(taken_up_first(FILE, TAKEN_UP)) == [(2, OLD.since, None)]


def test_a_rule_that_nothing_came_before_judges_the_years_too() -> None:
    alone = replace(NEW, version=1)
    made = taken_up_first(with_rules(first("tensa-two-child"), alone), TAKEN_UP)
    assert {r.since for r in made.file.rule} == {first("tensa-two-child").since}


@pytest.mark.parametrize(
    ("before", "made"),
    [
        (SOON, [(2, OLD.since, None)]),
        (SOON + DAY, [(1, OLD.since, WRITTEN), (2, WRITTEN, None)]),
    ],
)
def test_what_begins_within_a_week_counts_at_once(
    before: timedelta, made: list[tuple[int, date, date | None]]
) -> None:
    assert days(taken_up_first(FILE, WRITTEN - before)) == made


def test_a_file_in_which_nothing_has_changed_yet_stays_as_it_is() -> None:
    shipped = load()
    assert taken_up_first(shipped, date(2026, 9, 1)) is shipped


def test_the_readings_beside_the_rules_count_from_the_first_as_well() -> None:
    made = taken_up_first(load(), TAKEN_UP).file
    assert {getattr(made, name) for name in READINGS} == {OLD.since}
    assert made.untested is not None and made.untested.since == OLD.since
    ahead = taken_up_first(load(), date(2026, 9, 1)).file
    assert {getattr(ahead, name) for name in READINGS}.isdisjoint({OLD.since})


def test_it_says_what_the_newest_rules_say_of_every_visit() -> None:
    """A sudden loss that is better once wax is out: NICE NG98 (2018) 1.1.2, read for that ear."""
    case = decode_case(
        b"""{"born": "1960-01-01", "visits": [{"on": "2026-06-01",
        "reported": [{"what": "sudden_hearing_loss", "ear": "right", "onset_days": 2}],
        "right": {"wax_found": "occluding", "clearance": "cleared", "wax_left": "none",
                  "hearing_after": "better", "drum_seen": "full"}}]}"""
    )
    by_own_day, newest, register = (
        plan(case, protocol, date(2026, 6, 1))
        for protocol in (load(), in_hindsight(load()), taken_up_first(load(), TAKEN_UP))
    )
    assert [r.to for r in by_own_day.referrals] == ["ent"]
    assert newest.referrals == () == newest.follow_ups
    assert (register.referrals, register.follow_ups) == (newest.referrals, newest.follow_ups)


def test_a_later_file_leaves_the_years_to_what_judged_them() -> None:
    register = taken_up_first(FILE, TAKEN_UP)
    third = next_version(NEW, AHEAD, latest="7 weeks")
    more = with_rules(OLD, replace(NEW, until=AHEAD), third)

    assert days(from_adoption(register, FILE, AHEAD)) == days(register)
    assert days(from_adoption(register, more, AHEAD)) == [(2, OLD.since, AHEAD), (3, AHEAD, None)]


def test_what_was_left_out_at_first_does_not_come_back_the_same_week() -> None:
    register = taken_up_first(FILE, WRITTEN - SOON)
    assert days(from_adoption(register, FILE, WRITTEN - DAY)) == days(register)


def test_readings_that_have_begun_keep_their_day_when_more_is_adopted() -> None:
    register = taken_up_first(load(), TAKEN_UP)
    again = from_adoption(register, load(), AHEAD)
    assert again.file == register.file
