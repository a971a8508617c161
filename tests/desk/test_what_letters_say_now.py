"""A letter to a colleague says what a later visit found, says a reason once, and greets by name."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from msgspec import convert

from recall.care.case import Case, Track
from recall.care.ear import Side
from recall.desk.referrals.colleague_letters import _greeted
from recall.desk.referrals.letter_content import STILL, questions, reasons_of
from recall.schedule.plan import Reason, Referral, Stages
from tests.desk.practice import DAY

LATER = DAY + timedelta(days=20)
LATEST = DAY + timedelta(days=40)


def _reason(ear: Side, track: Track, rule: str = "some-rule", says: str = "Asked.") -> Reason:
    return Reason(
        ear=ear, track=track, rule=rule, rule_version=1, says=says, source="", known_by="CP"
    )


def _referral(*reasons: Reason) -> Referral:
    return Referral(
        to="ent",
        ears=("right",),
        urgency="medium",
        within_days=90,
        stages=Stages(sent_by=DAY, accepted_by=DAY, seen_by=DAY, result_by=DAY),
        reasons=reasons,
        asked_on=DAY,
    )


def _case(*looks: tuple[date, dict[str, Any]]) -> Case:
    visits = [{"on": on.isoformat(), "right": ear} for on, ear in looks]
    return convert({"born": "1950-01-01", "visits": visits}, Case)


@pytest.mark.parametrize(
    ("track", "found", "words"),
    [
        ("view", {"drum_seen": "full"}, "On 21 September 2026 we saw this drum in full."),
        ("wax", {"wax_left": "none"}, "On 21 September 2026 the wax came out."),
        ("wax", {"clearance": "cleared"}, "On 21 September 2026 the wax came out."),
        (
            "fluid",
            {"drum_seen": "full", "effusion": "absent"},
            "On 21 September 2026 we saw no fluid.",
        ),
        (
            "perforation",
            {"drum_seen": "full", "perforation": "healed"},
            "On 21 September 2026 we saw no hole.",
        ),
    ],
)
def test_what_a_later_visit_found_otherwise_stands_beside_the_reason(
    track: Track, found: dict[str, Any], words: str
) -> None:
    asked, case = [_referral(_reason("right", track))], _case((LATER, found))

    assert reasons_of(asked, case) == (f"right ear: Asked. {words}",)
    assert questions(asked, case) == (STILL,)


@pytest.mark.parametrize(
    ("track", "found"),
    [
        ("view", {"drum_seen": "part"}),
        ("wax", {"wax_left": "occluding"}),
        ("fluid", {"drum_seen": "part", "effusion": "absent"}),
        ("fluid", {"drum_seen": "full", "effusion": "present"}),
        ("perforation", {"drum_seen": "full", "perforation": "central"}),
        ("drum", {"drum_seen": "full"}),
        ("view", {"wax_found": "none"}),
    ],
)
def test_nothing_is_added_where_it_is_as_it_was_or_nobody_looked(
    track: Track, found: dict[str, Any]
) -> None:
    asked, case = [_referral(_reason("right", track))], _case((LATER, found))

    assert reasons_of(asked, case) == ("right ear: Asked.",)
    assert STILL not in questions(asked, case)


def test_the_last_look_counts_and_none_of_before_the_referral() -> None:
    asked = [_referral(_reason("right", "view"))]
    seen, unseen = {"drum_seen": "full"}, {"drum_seen": "none"}

    assert reasons_of(asked, _case((LATER, seen), (LATEST, unseen))) == ("right ear: Asked.",)
    assert reasons_of(asked, _case((DAY, seen))) == ("right ear: Asked.",)
    (told,) = reasons_of(asked, _case((LATER, unseen), (LATEST, seen)))
    assert told.endswith("On 11 October 2026 we saw this drum in full.")


def test_one_reason_of_two_rules_and_two_ears_is_said_once() -> None:
    rules = ("fluid-both-long-loss", "fluid-both-long-loss-ear")
    both = [_reason(ear, "fluid", rule, rule) for rule in rules for ear in ("right", "left")]

    assert reasons_of([_referral(*both)], _case()) == ("both ears: fluid-both-long-loss",)
    alone = [_reason("right", "fluid", rules[1], "This ear.")]
    assert reasons_of([_referral(*alone)], _case()) == ("right ear: This ear.",)


@pytest.mark.parametrize(
    ("named", "greeted"),
    [
        ("Dr Pell and partners", "Dr Pell"),
        ("Dr A. B. Pell, Hill Surgery", "Dr Pell"),
        ("Dr Jo van Marsh", "Dr van Marsh"),
        ("Mr O’Dell", "Mr O’Dell"),
        ("Drs Pell and Coe", "Colleague"),
        ("Dr Pell surgery", "Colleague"),
        ("Millrace Surgery", "Colleague"),
        ("Ear, Nose and Throat", "Colleague"),
    ],
)
def test_a_colleague_is_greeted_by_name_where_the_address_has_one(named: str, greeted: str) -> None:
    assert _greeted(named) == greeted
