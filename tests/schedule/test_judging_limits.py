"""Limits of what was judged: days that put off, words with a day, what outranks a judgement."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case, ToldByOthers, Visit
from recall.care.ear import Ear
from recall.protocol.loading import load
from recall.schedule.hindsight import history_under
from recall.schedule.judging import (
    Judged,
    explained_away,
    put_off,
    put_off_referral,
    words_said,
)
from recall.schedule.plan import Decision, Due
from tests.records.build import DAY, due, referral
from tests.schedule.own_rules import asks, protocol_of


def strike(**more: Any) -> Decision:
    given = {"on": DAY, "ear": "right", "track": "fluid", "rule": "fluid-child-look", **more}
    return Decision(**{"action": "strike", **given})


@pytest.mark.parametrize(("days", "by"), [(-1, 0), (0, 0), (1, 1), (30, 30)])
def test_a_due_is_put_off_by_as_long_as_its_earliest_day_and_never_brought_forward(
    days: int, by: int
) -> None:
    before = due()
    later = put_off(before, strike(until=before.earliest + timedelta(days)))

    assert later is not None
    moved = [later.earliest - before.earliest, later.target - before.target]
    assert [*moved, later.latest - before.latest] == [timedelta(by)] * 3
    assert put_off(before, strike()) is None


@pytest.mark.parametrize(("days", "by"), [(-1, 0), (0, 0), (1, 1), (30, 30)])
def test_a_referral_is_put_off_by_as_long_as_its_own_day_and_never_brought_forward(
    days: int, by: int
) -> None:
    before = referral()
    later = put_off_referral(before, strike(until=DAY + timedelta(days)))

    assert later is not None
    for stage in ("sent_by", "accepted_by", "seen_by", "result_by"):
        moved = getattr(later.stages, stage) - getattr(before.stages, stage)
        assert moved == timedelta(by), stage
    assert later.within_days == before.within_days + by
    assert put_off_referral(before, strike()) is None


@pytest.mark.parametrize(
    ("told", "words"),
    [
        ("pain", {"pain"}),
        ({"what": "pain"}, {"pain"}),
        ({"what": "pain", "ear": "right"}, {"pain"}),
        ({"what": "pain", "ear": "left"}, set()),
        ({"what": "pain", "since": "2026-08-31"}, {"pain"}),
        ({"what": "pain", "since": "2026-09-01"}, {"pain"}),
        ({"what": "pain", "since": "2026-09-02"}, {"pain 2026-09-02"}),
        ({"what": "pain", "since": "2026-09"}, {"pain"}),
        ({"what": "pain", "since": "2026-10"}, {"pain 2026-10"}),
        ({"what": "pain", "since": {"weeks": 1}}, {"pain"}),
        ({"what": "loss_explained", "because": "wax"}, set()),
    ],
)
def test_what_began_after_the_judgement_is_told_with_its_day(told: Any, words: set[str]) -> None:
    visit = convert({"on": "2026-12-01", "reported": [told]}, Visit)

    assert words_said(visit, "right", since=DAY) == words
    assert words_said(visit, "right") == {word.partition(" ")[0] for word in words}


def judged(decision: Decision) -> Judged:
    found = Judged(load())
    found.hold(decision, "fluid", [])
    return found


def urgencies(decision: Decision, *asked: str) -> list[str]:
    dues = [due(urgency=urgency) for urgency in asked]
    return [d.urgency for d in judged(decision).dues(dues)]


def test_a_struck_due_is_kept_silent_and_an_emergency_never_is() -> None:
    held = judged(strike())

    assert list(held.dues([due(), due(ear="left"), due(urgency="emergency")])) == [
        due(ear="left"),
        due(urgency="emergency"),
    ]
    ((side, line, decision),) = held.silent
    assert (side, line, decision) == ("right", due(), strike())


def test_a_due_is_asked_no_more_urgently_than_it_was_weighed() -> None:
    lower = strike(action="weigh", urgency="medium")

    assert urgencies(lower, "urgent", "high", "medium", "low") == [
        *("medium", "medium", "medium", "low")
    ]
    assert urgencies(lower, "emergency") == ["emergency"]
    assert urgencies(strike(action="weigh"), "high") == ["high"]


def test_a_referral_is_asked_no_more_urgently_than_it_was_weighed_either() -> None:
    about = {"to": "ent", "rule": "attic-worn", "track": None}
    strict, mild = strike(**about), strike(**about, action="weigh", urgency="medium")
    asked = [referral(urgency=u) for u in ("emergency", "urgent", "medium", "low")]

    assert [r.urgency for r in judged(strict).referrals(asked)] == ["emergency"]
    assert [r.urgency for r in judged(mild).referrals(asked)] == [
        *("emergency", "medium", "medium", "low")
    ]
    assert list(judged(strike(**about, action="weigh")).referrals(asked)) == asked
    assert list(judged(strict).referrals([referral(to="gp")])) == [referral(to="gp")]


def test_a_referral_as_urgent_as_it_was_weighed_keeps_its_own_days() -> None:
    equal = strike(to="ent", rule="attic-worn", track=None, action="weigh", urgency="high")

    assert list(judged(equal).referrals([referral()])) == [referral()]


@pytest.mark.parametrize(
    ("tracks", "ear", "away"),
    [
        (("drum",), None, True),
        (("drum", "fluid"), Ear(hearing_after="worse"), True),
        (("hearing",), None, False),
        (("hearing",), Ear(hearing_after="worse"), False),
        (("drum", "hearing"), Ear(clearance="cleared", hearing_after="better"), True),
        (("drum", "hearing"), Ear(hearing_after="better"), False),
    ],
)
def test_only_an_emergency_about_hearing_takes_evidence_of_hearing(
    tracks: tuple[str, ...], ear: Ear | None, away: bool
) -> None:
    why = strike(because="explained", why="Wax, out now.")

    assert explained_away("emergency", tracks, why, (ear, None), True) is away
    assert explained_away("urgent", tracks, strike(), (ear, None), True)
    assert not explained_away("emergency", tracks, strike(because="explained"), (ear, None), True)


def test_what_was_told_at_the_last_visit_is_what_was_known() -> None:
    told, not_told = (
        convert({"on": on, "reported": words}, Visit)
        for on, words in (("2026-08-01", ["pain"]), ("2026-09-01", []))
    )
    again = convert({"on": "2026-10-01", "reported": ["pain"]}, Visit)

    for visits, holds in (([told], True), ([told, not_told], False), ([not_told, told], True)):
        held = Judged(load())
        held.hold(strike(), "fluid", visits)
        held.look(again, {"right": None, "left": None})
        assert bool(held.held) is holds


@pytest.mark.parametrize(
    ("told", "holds"),
    [
        ({"ear": "right", "effusion": "present"}, False),
        ({"ear": "right", "effusion": "absent"}, True),
        ({"ear": "left", "effusion": "present"}, True),
        ({"ear": "right", "surgery": "grommets"}, True),
    ],
)
def test_what_others_tell_ends_a_judgement_where_that_ear_is_worse(
    told: dict[str, Any], holds: bool
) -> None:
    held = judged(strike())

    held.hear(convert({"on": "2026-10-01", "source": "letter", **told}, ToldByOthers))

    assert bool(held.held) is holds


def test_a_judgement_until_a_day_is_over_on_that_day() -> None:
    for until, holds in ((date(2026, 10, 2), True), (date(2026, 10, 1), False), (None, True)):
        held = judged(strike(until=until))
        held.look(Visit(on=date(2026, 10, 1)), {"right": None, "left": None})
        assert bool(held.held) is holds
        assert held.struck("right", "fluid", "fluid-child-look") is holds


def test_a_line_that_was_weighed_is_not_struck_out() -> None:
    held = judged(strike(action="weigh", urgency="low"))

    assert not held.struck("right", "fluid", "fluid-child-look")
    assert isinstance(next(iter(held.dues([due()]))), Due)


def test_a_look_that_is_wanted_on_the_day_itself_is_one_appointment() -> None:
    now = {
        "id": "now",
        "track": "fluid",
        "urgency": "medium",
        "when": {"ear": {"effusion": "present"}},
        "ask": asks("0 days", "0 days", "1 week", "otoscopy"),
    }
    seen = {"on": "2026-09-01", "right": {"drum_seen": "full", "effusion": "present"}}
    case = convert({"born": "2018-03-02", "visits": [seen]}, Case)

    assert history_under(case, protocol_of(now), DAY).appointments == 1


def test_visits_at_which_nothing_was_found_come_to_no_history() -> None:
    nobody = Case(born=date(2018, 3, 2))
    empty = replace(nobody, visits=(Visit(on=DAY),))

    for case in (nobody, empty):
        assert history_under(case, load(), DAY) == (0, 0, 0, ())
