"""What a plan says of how the drum was seen, and of an ear that asks for nothing."""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from msgspec import convert

from recall.care.case import Case
from recall.care.ear import Ear
from recall.cli.visits.plan_text import plan_text
from recall.schedule.plan import Plan
from recall.schedule.planning import NOT_SIGNED, plan
from recall.schedule.view_notices import view_not_recorded
from tests.records.build import due
from tests.schedule.own_rules import asks, protocol_of
from tui.visits.plan_text import plan_lines

LATER = date(2030, 1, 1)
LOOK = {
    "id": "look",
    "track": "fluid",
    "urgency": "medium",
    "when": {"ear": {"effusion": "present"}},
    "ask": asks("4 weeks", "6 weeks", "8 weeks", "otoscopy"),
}
TELL = {**LOOK, "id": "tell", "when": {"ear": {"wax_found": "some or worse"}}}
TELL = {**TELL, "urgency": None, "ask": {"kind": "advise"}}
SEND = {**LOOK, "id": "send", "when": {"ear": {"keratin": True}}}
SEND = {**SEND, "urgency": "urgent", "ask": {"kind": "refer", "to": "ent"}}


@pytest.mark.parametrize(
    ("ear", "told"),
    [
        (None, False),
        ({}, False),
        ({"wax_found": "some"}, False),
        ({"hearing_screen": "passed"}, False),
        # The attic and a grommet say by themselves whether they were seen.
        ({"attic_seen": True}, False),
        ({"attic_grade": 1}, False),
        ({"grommet": "in_place"}, False),
        ({"effusion": "absent"}, True),
        ({"tensa_grade": 0}, True),
        ({"perforation": "none"}, True),
        ({"effusion": "absent", "drum_seen": "full"}, False),
        ({"effusion": "absent", "drum_seen": "part"}, False),
        ({"drum_seen": "none"}, False),
        ({"examined": False, "hearing_screen": "passed"}, False),
        ({"examined": True, "effusion": "absent"}, True),
    ],
)
def test_a_finding_on_the_drum_without_a_view_is_told(
    ear: dict[str, Any] | None, told: bool
) -> None:
    notice = view_not_recorded("right", convert(ear, Ear) if ear is not None else None, [])

    assert (notice is not None) is told


@pytest.mark.parametrize(
    ("side", "needs", "told"),
    [
        ("right", ("fluid",), True),
        ("right", ("wax", "drum"), True),
        ("right", ("wax",), False),
        ("right", ("hearing",), False),
        ("left", ("fluid",), False),
    ],
)
def test_where_something_due_is_about_the_drum_any_look_without_a_view_is_told(
    side: Any, needs: tuple[str, ...], told: bool
) -> None:
    notice = view_not_recorded("right", Ear(wax_found="some"), [due(ear=side, needs=needs)])

    assert (notice is not None) is told


def planned(right: dict[str, Any] | None, left: dict[str, Any] | None, **more: Any) -> Plan:
    visit = {"on": "2026-09-01", "right": right, "left": left}
    case = convert({"born": "2018-03-02", "visits": [visit], **more}, Case)
    return plan(case, protocol_of(LOOK, TELL, SEND), LATER)


def test_of_an_ear_that_nobody_looked_into_no_view_is_wanted() -> None:
    refused = Ear(examined=False, not_examined="refused")

    assert view_not_recorded("right", refused, [due(needs=("fluid",))]) is None


NOTHING = "Nothing recorded for the left ear asks for a re-check under this protocol."


@pytest.mark.parametrize(
    ("left", "because"),
    [
        (None, None),
        ({}, None),
        ({"drum_seen": "full"}, NOTHING),
        ({"effusion": "present", "drum_seen": "full"}, None),
        ({"wax_found": "some"}, None),
        ({"keratin": True, "drum_seen": "full"}, None),
    ],
)
def test_an_ear_with_findings_that_asks_for_nothing_says_so(
    left: dict[str, Any] | None, because: str | None
) -> None:
    found = planned({"effusion": "present", "drum_seen": "full"}, left)

    assert [(n.ear, n.because) for n in found.nothing_due] == (
        [("left", because)] if because else []
    )


def test_people_are_told_of_a_quiet_ear_only_where_something_was_waited_for_in_it() -> None:
    """Found by a practitioner: a line about the other ear stood in every one-sided plan."""
    fluid, gone = ({"effusion": word, "drum_seen": "full"} for word in ("present", "absent"))
    visits = [
        {"on": "2026-09-01", "right": fluid, "left": fluid},
        {"on": "2026-10-06", "right": fluid, "left": gone},
    ]
    protocol = protocol_of(LOOK, TELL, SEND)

    one_sided = planned(fluid, gone)
    answered = plan(convert({"born": "2018-03-02", "visits": visits}, Case), protocol, LATER)

    assert [(n.ear, n.is_usual) for n in one_sided.nothing_due] == [("left", True)]
    assert [(n.ear, n.is_usual) for n in answered.nothing_due] == [("left", False)]
    told = f"Left: {NOTHING}"
    for found, is_told in ((one_sided, False), (answered, True)):
        assert (told in " ".join(plan_text(found).split())) is is_told
        shown = " ".join(line.plain for line in plan_lines(found, LATER, 200))
        assert (told in shown) is is_told


def test_each_ear_is_judged_by_its_own_findings() -> None:
    plain = {"drum_seen": "full"}

    assert [n.ear for n in planned(plain, None).nothing_due] == ["right"]
    assert [n.ear for n in planned(None, plain).nothing_due] == ["left"]
    assert [n.ear for n in planned(plain, plain).nothing_due] == ["right", "left"]


def test_an_ear_whose_referral_is_not_made_again_says_who_has_it_under_care() -> None:
    ill = {"keratin": True, "drum_seen": "full"}
    care = [{"of": "ent", "ear": "left", "track": "fluid", "since": "2020-01-01"}]

    found = planned(ill, ill, under_care=care)

    assert [r.ears for r in found.referrals] == [("right",)]
    notice = "Not referred again for the left ear (send): already under the care of ent."
    assert found.notices[:2] == (NOT_SIGNED, notice)


def test_dates_that_were_taken_as_their_earliest_day_are_told() -> None:
    found = planned({"discharge": "purulent", "discharge_since": "2026-08"}, None)

    said = "taken as 1 August 2026, the earliest day it can mean."
    assert f"Visit of 1 September 2026, right ear, runs since: {said}" in found.notices


def test_advice_is_told_once_for_both_ears() -> None:
    wax = {"wax_found": "some"}

    (advice,) = planned(wax, wax).advice
    assert (advice.rule, advice.ears) == ("tell", ("right", "left"))
    assert planned(wax, None).advice[0].ears == ("right",)


@pytest.mark.parametrize(("born", "adult"), [("2010-09-02", False), ("2010-09-01", True)])
def test_a_trace_is_read_as_an_adult_s_from_the_sixteenth_birthday_on(
    born: str, adult: bool
) -> None:
    """Flat with 1.8 ml: a hole in a child (above 1.0 ml, from memory), in an adult not yet one
    (above 2.5 ml, BSA 2013, as quoted)."""
    rules = [
        {**LOOK, "id": "hole", "when": {"ear": {"trace_of_a_hole": True}}},
        {**LOOK, "id": "fluid", "when": {"ear": {"trace_of_fluid": True}}},
    ]
    visit = {"on": "2026-09-01", "right": {"tympanogram": {"flat": True, "volume_ml": 1.8}}}
    case = convert({"born": born, "visits": [visit]}, Case)

    found = plan(case, protocol_of(*rules), LATER)

    assert {d.rule for f in found.follow_ups for d in f.dues} == {"fluid" if adult else "hole"}
