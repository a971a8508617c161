"""From which day a register counts what it adopts: that of adoption, and its own days after."""

from __future__ import annotations

from datetime import date

import pytest
from msgspec.structs import replace

from recall.protocol.loading import Protocol, load
from recall.protocol.own_days import from_adoption
from recall.protocol.rules import Rule
from tests.protocol.versions import first, next_version, with_rules

WRITTEN, ADOPTED, AHEAD = date(2026, 11, 28), date(2027, 1, 10), date(2027, 3, 1)
OLD = first("fluid-child-look")
NEW = next_version(OLD, WRITTEN, latest="6 weeks")
ENDED = replace(OLD, until=WRITTEN)


def days(protocol: Protocol) -> list[tuple[int, date, date | None]]:
    return [(r.version, r.since, r.until) for r in protocol.file.rule]


def test_a_new_version_and_the_end_of_the_old_one_count_from_adoption() -> None:
    made = from_adoption(with_rules(OLD), with_rules(ENDED, NEW), ADOPTED)

    assert days(made) == [(1, OLD.since, ADOPTED), (2, ADOPTED, None)]


def test_adopted_again_with_more_the_days_of_the_first_adoption_stay() -> None:
    register = from_adoption(with_rules(OLD), with_rules(ENDED, NEW), ADOPTED)
    third = next_version(replace(NEW, until=None), WRITTEN, latest="7 weeks")

    again = from_adoption(register, with_rules(ENDED, NEW), AHEAD)
    more = with_rules(ENDED, replace(NEW, until=date(2026, 12, 24)), replace(third, since=AHEAD))
    later = from_adoption(register, more, AHEAD)

    assert days(again) == days(register)
    assert days(later) == [(1, OLD.since, ADOPTED), (2, ADOPTED, AHEAD), (3, AHEAD, None)]


def test_a_version_that_was_over_before_it_was_adopted_judged_nothing() -> None:
    over = replace(NEW, until=date(2026, 12, 24))
    third = next_version(over, date(2026, 12, 24), latest="7 weeks")

    made = from_adoption(
        with_rules(OLD), with_rules(ENDED, over, replace(third, until=None)), ADOPTED
    )

    assert days(made) == [(1, OLD.since, ADOPTED), (3, ADOPTED, None)]


@pytest.mark.parametrize("day", [ADOPTED, AHEAD])
def test_a_day_that_is_not_past_stays(day: date) -> None:
    new: Rule = replace(NEW, since=day)

    made = from_adoption(with_rules(OLD), with_rules(replace(OLD, until=day), new), ADOPTED)

    assert days(made) == [(1, OLD.since, day), (2, day, None)]


def test_readings_beside_the_rules_count_from_adoption_and_keep_that_day() -> None:
    whole = load()
    file = replace(whole.file, untested=None, restrained_from=None, gives_way_from=None)
    file = replace(file, one_place_from=None, sure_from=None, own_place_from=None)
    bare = Protocol(file, whole.contact, "x", False)

    register = from_adoption(bare, whole, ADOPTED)
    again = from_adoption(register, whole, AHEAD)

    for made in (register, again):
        assert made.file.restrained_from == ADOPTED
        assert made.file.gives_way_from == max(ADOPTED, date(2026, 11, 30))
        assert made.file.one_place_from == max(ADOPTED, date(2026, 12, 1))
        assert made.file.sure_from == max(ADOPTED, date(2026, 12, 1))
        assert made.file.own_place_from == max(ADOPTED, date(2026, 12, 2))
        assert made.file.untested is not None
        assert made.file.untested.since == ADOPTED
    assert from_adoption(register, bare, AHEAD).file.untested is None


def test_the_digest_stays_that_of_the_file_that_was_signed() -> None:
    file = with_rules(ENDED, NEW)

    assert from_adoption(with_rules(OLD), file, ADOPTED).digest == file.digest
