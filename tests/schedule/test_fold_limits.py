"""Limits of the fold: asks by category, moved and judged lines, care elsewhere, no visit at all."""

from __future__ import annotations

from datetime import date
from typing import Any, get_args

import msgspec
import pytest
from msgspec import convert

from recall.care.case import Case
from recall.care.ear import Ear
from recall.protocol.loading import load
from recall.schedule.explain import explain
from recall.schedule.fold import Folding, folding
from recall.schedule.found import findings_of
from recall.schedule.hindsight import history_under
from recall.schedule.plan import BECAUSE_WORDS, Because, Decision, Due, ReferralEnd
from recall.schedule.planning import plan
from tests.records.build import referral
from tests.schedule.own_rules import asks, protocol_of

ON, LATER = date(2026, 9, 1), date(2030, 1, 1)
LOOK = {
    "id": "look",
    "track": "fluid",
    "urgency": "medium",
    "when": {"ear": {"effusion": "present"}},
    "ask": asks("4 weeks", "6 weeks", "8 weeks", "otoscopy"),
}
SEND = {
    **LOOK,
    "id": "send",
    "urgency": "high",
    "when": {"ear": {"keratin": True}},
    "ask": {"kind": "refer", "to": "ent"},
}
SEEN = {"drum_seen": "full"}
FLUID = {**SEEN, "effusion": "present"}
ILL = {**SEEN, "keratin": True}
RECHECK = ("right", "fluid", "recheck")


def case_of(*visits: tuple[str, dict[str, Any]], **more: Any) -> Case:
    seen = [{"on": on, "right": ear} for on, ear in visits]
    return convert({"born": "2018-03-02", "visits": seen, **more}, Case)


def folded(case: Case, *decisions: Decision) -> Folding:
    return folding(case, protocol_of(LOOK, SEND), LATER, decisions=decisions)


def decides(**more: Any) -> Decision:
    return Decision(**{"on": date(2026, 9, 10), "ear": "right", **more})


def window(due: Due) -> tuple[date, date, date]:
    return due.earliest, due.target, due.latest


def test_what_a_category_asked_for_and_a_visit_saw_in_part_has_the_category_s_window_again() -> (
    None
):
    asked = decides(action="ask", category="fluid_recheck")
    part = ("2026-10-20", {"drum_seen": "part", "effusion": "absent"})

    first = folded(case_of(("2026-09-01", SEEN)), asked).open[RECHECK]
    again = folded(case_of(("2026-09-01", SEEN), part), asked).open[RECHECK]

    _, _, child = load().categories["fluid_recheck"]
    assert window(first)[2] == child.latest.after(date(2026, 9, 10))
    assert window(again)[2] == child.latest.after(date(2026, 10, 20))
    assert (again.rule, again.asked_on) == ("category-fluid-recheck", date(2026, 10, 20))


def test_what_a_rule_asked_for_and_a_visit_saw_in_part_has_the_rule_s_own_window_again() -> None:
    soon = {**LOOK, "ask": asks("1 week", "2 weeks", "3 weeks", "otoscopy")}
    part = ("2026-09-15", {"drum_seen": "part", "effusion": "absent"})

    state = folding(case_of(("2026-09-01", FLUID), part), protocol_of(soon), LATER)

    again = state.open[RECHECK]
    assert window(again) == (date(2026, 9, 22), date(2026, 9, 29), date(2026, 10, 6))
    assert (again.rule, again.asked_on) == ("look", date(2026, 9, 15))


def test_a_due_that_is_moved_stands_at_its_new_days_and_the_old_one_is_closed() -> None:
    state = folded(
        case_of(("2026-09-01", FLUID)),
        decides(action="move", track="fluid", target=date(2026, 11, 3)),
    )

    moved = state.open[RECHECK]
    assert window(moved) == (date(2026, 9, 29), date(2026, 11, 3), date(2026, 11, 3))
    assert [(c.reason, c.due.target) for c in state.closings] == [
        ("superseded", date(2026, 10, 13))
    ]


@pytest.mark.parametrize("action", ["strike", "weigh"])
@pytest.mark.parametrize("about", [{"to": "ent"}, {"track": "fluid"}])
@pytest.mark.parametrize("urgency", [None, "low"])
def test_a_judgement_about_what_is_not_open_changes_nothing(
    action: Any, about: dict[str, Any], urgency: Any
) -> None:
    case = case_of(("2026-09-01", SEEN))
    judged = decides(action=action, rule="send", because="judgement", urgency=urgency, **about)

    state = folded(case, judged)

    assert (state.open, state.referrals, state.closings) == ({}, {}, [])


def test_a_line_that_was_raised_asks_as_its_rule_does_at_the_next_visit() -> None:
    case = case_of(("2026-09-01", FLUID), ("2026-10-13", FLUID))
    raised = decides(action="weigh", track="fluid", rule="look", urgency="high")

    state = folded(case, raised)

    assert state.judged.held == {}
    assert state.open[RECHECK].urgency == "medium"


CARE = {"of": "ent", "ear": "right", "track": "fluid", "since": "2026-10-01"}


CARE_SINCE_SPRING = {**CARE, "since": "2026-03-01"}


@pytest.mark.parametrize(
    ("care", "ended"),
    [
        ([CARE], True),
        ([CARE, {**CARE, "of": "gp"}], True),
        ([{**CARE, "of": "gp"}, CARE], True),
        ([{**CARE, "of": "gp"}], False),
        ([{**CARE, "ear": "left"}], False),
        ([{**CARE, "track": "hearing"}], False),
        ([{"of": "ent", "since": "2026-10-01"}], True),
    ],
)
def test_care_ends_the_referral_to_its_own_service_alone(
    care: list[dict[str, Any]], ended: bool
) -> None:
    state = folded(case_of(("2026-09-01", ILL), under_care=care))

    assert (state.referrals == {}) is ended
    again = folded(case_of(("2026-11-01", ILL), under_care=care))
    assert (again.referrals == {}) is ended


def test_care_for_the_whole_ear_is_asked_after_once_for_each_ear() -> None:
    care = [{"of": "ent", "since": "2026-01-01"}]

    found = folded(case_of(("2026-09-01", SEEN), under_care=care)).open

    assert list(found) == [("right", "surveillance", "loop"), ("left", "surveillance", "loop")]
    due = found["right", "surveillance", "loop"]
    told = (due.rule, due.rule_version, due.urgency, due.do, due.asked_on)
    assert told == ("care-elsewhere", 1, "low", ("ask_after_care",), ON)


def test_care_elsewhere_keeps_the_day_on_which_it_is_asked_after() -> None:
    visits = [(day, SEEN) for day in ("2026-01-10", "2026-04-10", "2026-07-05")]
    care = [{**CARE, "since": "2026-01-01"}]

    first, third = (folded(case_of(*v, under_care=care)) for v in (visits[:1], visits))

    assert first.open == third.open and third.closings == []


def test_a_question_about_care_elsewhere_that_was_struck_out_is_not_asked_again() -> None:
    case = case_of(("2026-09-01", SEEN), ("2026-10-01", SEEN), under_care=[CARE_SINCE_SPRING])
    loop = ("right", "fluid", "loop")
    struck = decides(
        action="strike", track="fluid", kind="loop", rule="care-elsewhere", because="judgement"
    )

    assert loop in folded(case).open
    assert loop not in folded(case, struck).open


@pytest.mark.parametrize(
    ("other", "well"), [(None, True), (10, True), (24, True), (25, False), (40, False)]
)
def test_an_ear_is_tested_well_beside_the_other_one(other: int | None, well: bool) -> None:
    """NICE NG98 (2018), as quoted: 15 dB or more at two adjacent frequencies is a difference."""
    rule = {**LOOK, "when": {"ear": {"tested_well": True}}}
    right, left = ({"hearing_dB": dict.fromkeys(("500", "1000", "2000", "4000"), dB)} if dB else {}
                   for dB in (10, other))  # fmt: skip
    visit = {"on": "2026-09-01", "right": right, "left": left}
    case = convert({"born": "2018-03-02", "visits": [visit]}, Case)

    assert (RECHECK in folding(case, protocol_of(rule), LATER).open) is well


def test_a_look_that_never_was_counts_from_the_visit_and_says_so() -> None:
    never = {"earliest": "1 week", "target": "2 weeks", "latest": "3 weeks"}
    ask = {**asks("2 months", "3 months", "4 months", "hearing_test"), "from": "last_hearing_test"}
    rule = {**LOOK, "ask": {**ask, "never": never}}

    dates = explain(case_of(("2026-09-01", FLUID)), protocol_of(rule), LATER).ears[0].dates

    assert dates[1] == (
        "  look counts 1 week, 2 weeks and 3 weeks from the visit, since it never happened "
        "(1 September 2026): 8 September 2026, 15 September 2026, 22 September 2026."
    )


def test_somebody_without_a_visit_has_an_empty_plan() -> None:
    found = plan(case_of(), protocol_of(LOOK), LATER)

    assert (found.on, found.follow_ups, found.referrals) == (LATER, (), ())
    assert (found.advice, found.unanswered, found.nothing_due) == ((), (), ())


def test_a_finding_without_a_scale_has_the_first_place() -> None:
    found = findings_of(Ear(keratin=True, effusion="present", hearing_dB=dict.fromkeys(
        ("500", "1000", "2000", "4000"), 40)))  # fmt: skip

    assert {f.name: f.rank for f in found} == {"keratin": 1, "effusion": 2, "hearing_dB": 1}


def test_only_the_visits_up_to_today_are_a_history() -> None:
    case = case_of(("2026-09-01", FLUID), ("2026-10-01", ILL))
    rules = protocol_of(LOOK, SEND)

    before, after = (history_under(case, rules, date(2026, m, 1)) for m in (9, 10))

    assert (before.referrals, before.discoveries) == (0, ())
    assert (after.referrals, [d.found.name for d in after.discoveries]) == (1, ["keratin"])


def test_every_reason_for_a_judgement_has_its_words() -> None:
    assert tuple(BECAUSE_WORDS) == get_args(Because)


def test_the_end_of_a_referral_is_written_and_read_again() -> None:
    end = ReferralEnd(referral=referral(), on=ON, reason="under_care")

    assert msgspec.json.decode(msgspec.json.encode(end), type=ReferralEnd) == end
