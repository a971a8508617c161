"""A changed protocol over the register: compared, adopted by name, and no date moved by itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import msgspec
import pytest

from recall.clock import Clock
from recall.desk.core.replanning import mark_everybody, replan
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.plans.adoption import adopt, compare_over_register
from recall.desk.plans.earlier_dates import answer, proposals
from recall.desk.plans.passing_time import bring_up_to_date
from recall.errors import NotFound, Refused
from recall.protocol.loading import Protocol
from recall.protocol.rules import Rule
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, history_is_whole, rows, somebody, visit
from tests.protocol.versions import at_first, first, next_version


def with_rules(rules: tuple[Rule, ...]) -> Protocol:
    file = msgspec.structs.replace(at_first().file, rule=rules, version="2026.2")
    return Protocol(file, at_first().contact, "changed", True)


def changed(latest: str, since: date) -> Protocol:
    """The protocol with the early look at fluid moved, as a new version from a day on."""
    old = first("fluid-child-look")
    new = next_version(old, since, target="5 weeks", latest=latest)
    ended = msgspec.structs.replace(old, until=since)
    return with_rules((*(ended if r == old else r for r in at_first().rules), new))


def a_practice(store: Store) -> Desk:
    desk = replace(desk_at(store, by="clara"), protocol=at_first())
    person = somebody(desk)
    visit(desk, person, right=FLUID)
    return desk


def looks(store: Store) -> list[Any]:
    return [d for d in rows(store, tables.Due, track="fluid") if d["is_open"]]


def test_comparing_says_what_would_move_and_changes_nothing(store: Store) -> None:
    """8 weeks from 1 September 2026 is 27 October, 6 weeks is 13 October."""
    desk = a_practice(store)
    before = looks(store)

    found = compare_over_register(desk, at_first(), changed("6 weeks", desk.today))

    (move,) = found.moves
    assert (move.reference, move.track, move.days) == ("W1", "fluid", -14)
    assert move.latest == date(2026, 10, 27)
    assert any("fluid-child-look (version 2) is new" in s for s in found.sentences)
    assert "1 would come earlier, by 14 to 14 days (middle 14)." in found.summary()
    assert looks(store) == before


def test_adopting_moves_no_date_but_lists_it_for_a_clinician(store: Store) -> None:
    desk = a_practice(store)
    before = looks(store)

    waiting = adopt(desk, changed("6 weeks", desk.today))

    assert waiting == 1
    assert looks(store) == before
    (row,) = proposals(desk)
    assert (row.reference, row.latest, row.would_be) == (
        "W1",
        date(2026, 10, 27),
        date(2026, 10, 13),
    )
    assert history_is_whole(store)


def test_planning_again_after_adoption_still_moves_nothing(store: Store) -> None:
    desk = a_practice(store)
    earlier = replace(desk, clock=type(desk.clock).at(date(2026, 9, 5)))
    new = changed("6 weeks", earlier.today)
    adopt(earlier, new)

    mark_everybody(earlier)
    replan(replace(earlier, protocol=new))

    assert [(d["rule_version"], d["latest"]) for d in looks(store)] == [(1, date(2026, 10, 27))]


def test_a_date_is_brought_forward_only_by_its_answer(store: Store) -> None:
    desk = a_practice(store)
    adopt(desk, changed("6 weeks", desk.today))
    (row,) = proposals(desk)

    answer(desk, row.number, forward=True, why="agreed")

    assert [d["latest"] for d in looks(store)] == [date(2026, 10, 13)]
    assert proposals(desk) == ()
    with pytest.raises(NotFound):
        answer(desk, row.number, forward=True, why="twice")


def test_a_date_that_is_left_stays(store: Store) -> None:
    desk = a_practice(store)
    adopt(desk, changed("6 weeks", desk.today))

    answer(desk, proposals(desk)[0].number, forward=False, why="seen at school")

    assert [d["latest"] for d in looks(store)] == [date(2026, 10, 27)]


def test_later_dates_are_no_proposals(store: Store) -> None:
    desk = a_practice(store)

    assert adopt(desk, changed("9 weeks", desk.today)) == 0


def with_letters_on_the_day() -> Protocol:
    """The same rules with contact steps that come no day before what they are about."""
    contact = at_first().contact
    runs = tuple(
        msgspec.structs.replace(
            run, steps=tuple(msgspec.structs.replace(s, before="0 days") for s in run.steps)
        )
        for run in contact.run
    )
    file = msgspec.structs.replace(at_first().file, version="2026.2")
    return Protocol(file, msgspec.structs.replace(contact, run=runs), "changed", True)


def test_what_the_lists_keep_follows_the_contact_steps_that_are_adopted(store: Store) -> None:
    desk = a_practice(store)
    later_ = replace(desk, clock=Clock.at(desk.today + timedelta(days=1)))
    bring_up_to_date(later_)
    before = {r["id"]: r["next_step_on"] for r in rows(store, tables.FollowUp, is_open=True)}

    new = with_letters_on_the_day()
    adopt(later_, new)

    after = rows(store, tables.FollowUp, is_open=True)
    assert {r["id"]: r["next_step_on"] for r in after} != before
    now = replace(later_, protocol=new)
    assert "stands_otherwise" not in failsafe.run(now).counts


def test_what_was_adopted_before_may_be_adopted_again_and_what_is_may_not(store: Store) -> None:
    desk, new = a_practice(store), with_letters_on_the_day()
    with_new = replace(desk, protocol=new)
    adopt(desk, new)
    adopt(with_new, at_first())

    adopt(desk, new)

    with pytest.raises(Refused, match="is the adopted one"):
        adopt(with_new, new)


def test_a_rule_changed_in_place_is_not_adopted(store: Store) -> None:
    desk = a_practice(store)
    old = first("fluid-child-look")
    edited = msgspec.structs.replace(old, says="Otherwise.")
    swapped = tuple(edited if r == old else r for r in at_first().rules)

    with pytest.raises(Refused, match="add it as a new version"):
        adopt(desk, with_rules(swapped))


def test_a_section_that_would_move_what_stands_is_not_adopted(store: Store) -> None:
    desk = a_practice(store)
    low = msgspec.structs.replace(at_first().file.stages["low"], seen="40 weeks")
    file = msgspec.structs.replace(
        changed("6 weeks", desk.today).file, stages={**at_first().file.stages, "low": low}
    )

    with pytest.raises(Refused, match=r"\[stages\] cannot change for what already stands"):
        adopt(desk, Protocol(file, at_first().contact, "changed", True))


def test_readings_that_the_register_does_not_have_yet_are_adopted_from_today(store: Store) -> None:
    desk = a_practice(store)
    file = msgspec.structs.replace(at_first().file, untested=None, restrained_from=None)
    without = replace(desk, protocol=Protocol(file, at_first().contact, "before", True))
    untested = at_first().file.untested
    assert untested is not None
    new = msgspec.structs.replace(
        changed("6 weeks", desk.today).file,
        untested=msgspec.structs.replace(untested, since=desk.today),
        restrained_from=desk.today,
    )

    assert adopt(without, Protocol(new, at_first().contact, "changed", True)) == 1


def test_a_last_day_that_was_taken_away_is_not_adopted(store: Store) -> None:
    """Visits since then would be judged anew."""
    desk = a_practice(store)
    old = first("fluid-child-look")
    over = msgspec.structs.replace(old, until=desk.today - timedelta(days=1))
    was = with_rules(tuple(over if r == old else r for r in at_first().rules))

    with pytest.raises(Refused, match="set `until` to"):
        adopt(replace(desk, protocol=was), with_rules(at_first().rules))


def test_only_somebody_who_may_decide_adopts(store: Store) -> None:
    desk = a_practice(store).acting_as("rob")

    with pytest.raises(Refused, match=r"rob \(reception\) may not"):
        adopt(desk, changed("6 weeks", desk.today))
