"""The fold's own edges, each by the day: what stands, what a visit answers, who ends a referral.

What the rules ask is worked out in the rule cases; here only days and endings are looked at.
The windows are those of the protocol: a child's fluid after 4 to 8 weeks, hearing with fluid
11 to 15 weeks after it was first documented, a referral for keratin seen within 2 weeks.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case, Visit
from recall.care.ear import Ear
from recall.protocol.loading import load
from recall.schedule.fold import fold, folding
from recall.schedule.plan import Decision, Due, Ledger, Referral
from tests.schedule.own_rules import asks, protocol_of

FIRST = date(2026, 9, 1)
FLUID = {"drum_seen": "full", "effusion": "present"}
CHILD_WITH_LOSS = {**FLUID, "hearing_dB": {"500": 30, "1000": 35, "2000": 30, "4000": 35}}
KERATIN = {"drum_seen": "full", "attic_seen": True, "keratin": True}
LATER = date(2030, 1, 1)


def case_of(*visits: tuple[str, dict[str, Any]], **more: Any) -> Case:
    """Return somebody whose right ear was seen so on these days; a child unless said."""
    seen = [{"on": on, "right": ear} for on, ear in visits]
    return convert({"born": "2018-03-02", "visits": seen, **more}, Case)


def open_due(ledger: Ledger, track: str, kind: str = "recheck") -> Due | None:
    found = [d for d in ledger.open if (d.ear, d.track, d.kind) == ("right", track, kind)]
    return found[0] if found else None


def the_referral(ledger: Ledger) -> Referral:
    (found,) = ledger.referrals
    return found


@pytest.mark.parametrize(("day", "listed"), [("2026-09-28", False), ("2026-09-29", True)])
def test_a_look_that_was_not_done_is_unanswered_from_its_earliest_day_on(
    day: str, listed: bool
) -> None:
    state = folding(case_of(("2026-09-01", FLUID), (day, {"wax_found": "none"})), load(), LATER)

    assert [u.track for u in state.unanswered] == (["fluid"] if listed else [])
    assert (("right", "fluid", "retry") in state.open) is listed


@pytest.mark.parametrize(("day", "again"), [("2026-11-23", False), ("2026-11-24", True)])
def test_a_test_that_was_not_done_is_tried_again_from_its_target_on(day: str, again: bool) -> None:
    case = case_of(("2026-09-01", CHILD_WITH_LOSS), (day, {"wax_found": "none"}))

    state = folding(case, load(), LATER)

    assert "hearing" in {u.track for u in state.unanswered}
    assert (("right", "hearing", "retry") in state.open) is again


def test_the_same_asked_again_before_its_window_stands_as_it_was() -> None:
    once = fold(case_of(("2026-09-01", FLUID)), load(), LATER)

    again = fold(case_of(("2026-09-01", FLUID), ("2026-09-08", FLUID)), load(), LATER)

    assert open_due(again, "fluid") == open_due(once, "fluid")
    assert again.closings == ()


def test_one_more_rule_keeps_the_sooner_dates_and_adds_what_it_wants_on_the_day_it_asks() -> None:
    look = {
        "id": "look",
        "track": "fluid",
        "urgency": "medium",
        "when": {"ear": {"effusion": "suspected or worse"}},
        "ask": asks("4 weeks", "6 weeks", "8 weeks", "otoscopy"),
    }
    press = {
        "id": "press",
        "track": "fluid",
        "urgency": "high",
        "when": {"ear": {"bulging": True}},
        "ask": {**asks("6 weeks", "9 weeks", "12 weeks", "hearing_test"), "needs": ["hearing"]},
    }
    case = case_of(("2026-09-01", FLUID), ("2026-09-08", {**FLUID, "bulging": True}))

    found = fold(case, protocol_of(look, press), LATER)

    (due,), (closing,) = found.open, found.closings
    assert (due.rule, due.beaten, due.latest) == ("look", ("press",), date(2026, 10, 27))
    assert (due.urgency, due.asked_on) == ("high", date(2026, 9, 8))
    assert (due.do, due.needs) == (("otoscopy", "hearing_test"), ("fluid", "hearing"))
    assert (closing.reason, closing.on) == ("superseded", date(2026, 9, 8))


def test_what_others_tell_of_one_ear_asks_for_that_ear_alone() -> None:
    """In care from after the visit on: both ears are due a look for wax, once anything asks."""
    moved_in = [{"what": "care_home", "since": "2026-10-01"}]
    told = [{"on": "2026-11-01", "ear": "left", "source": "letter", "effusion": "present"}]
    seen = {"drum_seen": "full", "wax_found": "none"}
    case = case_of(("2026-09-01", seen), born="1940-03-02", risks=moved_in, told_by_others=told)
    refers = {
        "id": "home",
        "track": "wax",
        "urgency": "medium",
        "category": "refer",
        "when": {"person": {"risk": ["care_home"]}},
        "ask": {"kind": "refer", "to": "gp"},
    }
    looks = {
        **refers,
        "id": "look",
        "category": "wax_routine",
        "ask": asks("1 month", "2 months", "3 months", "otoscopy"),
    }

    found = fold(case, protocol_of(refers, looks), LATER)

    assert [(d.ear, d.asked_on) for d in found.open] == [("left", date(2026, 11, 1))]
    assert [r.ears for r in found.referrals] == [("left",)]


def test_a_referral_that_presses_more_is_asked_anew_and_the_first_is_ended_by_it() -> None:
    case = case_of(
        ("2026-09-01", {"drum_seen": "full", "tensa_grade": 3}),
        ("2026-09-10", KERATIN),
    )
    before = the_referral(fold(case, load(), FIRST))

    found = fold(case, load(), LATER)

    assert (before.urgency, the_referral(found).urgency) == ("high", "urgent")
    assert (before.asked_on, the_referral(found).asked_on) == (FIRST, date(2026, 9, 10))
    (ended,) = found.referral_ends
    assert (ended.referral, ended.on, ended.reason) == (before, date(2026, 9, 10), "superseded")


def test_the_same_suspicion_again_keeps_the_first_day_of_its_referral() -> None:
    found = fold(case_of(("2026-09-01", KERATIN), ("2026-09-08", KERATIN)), load(), LATER)

    assert the_referral(found).asked_on == FIRST
    assert found.referral_ends == ()


def test_one_more_suspicion_of_the_same_urgency_joins_the_referral_that_stands() -> None:
    with_polyp = {**KERATIN, "polyp": True}

    found = fold(case_of(("2026-09-01", KERATIN), ("2026-09-08", with_polyp)), load(), LATER)

    first, joined = (
        {r.rule for r in the_referral(fold(case, load(), LATER)).reasons}
        for case in (case_of(("2026-09-01", KERATIN)), case_of(("2026-09-01", with_polyp)))
    )
    assert first < joined
    assert {r.rule for r in the_referral(found).reasons} == joined
    assert the_referral(found).asked_on == FIRST


CARE = [{"ear": "right", "track": "drum", "of": "ent", "since": "2026-10-01"}]


def test_care_that_starts_ends_the_referral_on_that_day_and_not_before() -> None:
    case = case_of(("2026-09-01", KERATIN), under_care=CARE)

    assert fold(case, load(), date(2026, 9, 30)).referral_ends == ()
    found = fold(case, load(), date(2026, 10, 1))

    assert found.referrals == ()
    (ended,) = found.referral_ends
    assert (ended.on, ended.reason) == (date(2026, 10, 1), "under_care")


def test_care_ends_a_referral_only_where_it_takes_in_all_that_was_asked() -> None:
    both = {**KERATIN, "canal_swollen_shut": True, "drum_seen": "part"}
    case = case_of(("2026-09-01", both), under_care=CARE)

    assert {r.track for r in the_referral(fold(case, load(), LATER)).reasons} == {
        "drum",
        "canal_skin",
    }


def test_an_emergency_is_not_ended_by_care_that_starts() -> None:
    mastoid = {"mastoid_swelling": True, "drum_seen": "full"}
    care = [{"ear": "right", "track": "drum", "of": "ent", "since": "2026-09-02"}]

    found = fold(case_of(("2026-09-01", mastoid), under_care=care), load(), LATER)

    assert the_referral(found).urgency == "emergency"


def closes(**more: Any) -> Decision:
    made: dict[str, Any] = {"on": date(2026, 9, 5), "ear": "right", "why": "Agreed."}
    return Decision(**made, **more)


def test_a_decision_about_the_ask_of_another_day_leaves_this_one_open() -> None:
    case = case_of(("2026-09-01", FLUID))
    other = closes(track="fluid", asked_on=date(2026, 8, 1))
    this = closes(track="fluid", asked_on=FIRST)

    assert open_due(fold(case, load(), LATER, decisions=[other]), "fluid") is not None
    assert open_due(fold(case, load(), LATER, decisions=[this]), "fluid") is None


def test_a_decision_counts_from_its_day_on() -> None:
    case, decided = case_of(("2026-09-01", FLUID)), [closes(track="fluid")]

    assert open_due(fold(case, load(), date(2026, 9, 4), decisions=decided), "fluid") is not None
    assert open_due(fold(case, load(), date(2026, 9, 5), decisions=decided), "fluid") is None


def test_a_decision_comes_after_the_visit_of_its_day() -> None:
    decided = replace(closes(track="fluid"), on=FIRST)

    found = fold(case_of(("2026-09-01", FLUID)), load(), FIRST, decisions=[decided])

    assert (found.open, [c.reason for c in found.closings]) == ((), ["clinician_decision"])


def test_a_referral_is_ended_by_a_decision_for_its_reason() -> None:
    decided = closes(to="ent", reason="informed_decline")

    found = fold(case_of(("2026-09-01", KERATIN)), load(), LATER, decisions=[decided])

    assert found.referrals == ()
    assert [(e.on, e.reason) for e in found.referral_ends] == [
        (date(2026, 9, 5), "informed_decline")
    ]


def test_what_others_told_counts_from_its_day_on() -> None:
    told = [{"on": "2026-11-01", "ear": "right", "source": "letter", "effusion": "present"}]
    case = case_of(("2026-09-01", {"wax_found": "none"}), told_by_others=told)

    assert open_due(fold(case, load(), date(2026, 10, 31)), "fluid") is None
    assert open_due(fold(case, load(), date(2026, 11, 1)), "fluid") is not None


@pytest.mark.parametrize(
    ("born", "target"), [("2010-09-30", "2026-10-06"), ("2010-09-29", "2026-10-13")]
)
def test_a_second_try_is_a_childs_to_the_day_before_they_are_sixteen(
    born: str, target: str
) -> None:
    """Common practice, no source: 1 week for a child, 2 for an adult."""
    case = case_of(("2026-09-01", FLUID), ("2026-09-29", {"wax_found": "none"}), born=born)

    retry = open_due(fold(case, load(), LATER), "fluid", "retry")

    assert retry is not None
    assert retry.target == date.fromisoformat(target)


def test_what_belongs_to_one_visit_does_not_ask_again_at_a_visit_of_the_other_ear() -> None:
    """A grade that went up on 8 September, and on the 15th only the left ear was seen."""
    step = {
        "id": "step",
        "track": "retraction",
        "urgency": "medium",
        "category": "retraction_watch",
        "when": {"course": {"tensa_step": "1 or more"}},
        "ask": asks("1 day", "2 days", "3 days", "otoscopy"),
    }
    case = case_of(
        ("2026-09-01", {"drum_seen": "full", "tensa_grade": 1}),
        ("2026-09-08", {"drum_seen": "full", "tensa_grade": 2}),
    )
    only_left = convert({"on": "2026-09-15", "left": {"drum_seen": "full"}}, Visit)

    state = folding(replace(case, visits=(*case.visits, only_left)), protocol_of(step), LATER)

    assert state.asked.dues == []
    assert [d.asked_on for d in state.open.values() if d.kind == "recheck"] == [date(2026, 9, 8)]


@pytest.mark.parametrize(("day", "count"), [("2026-09-09", 0), ("2026-09-10", 1)])
def test_a_treatment_that_has_not_ended_yet_starts_no_clock(day: str, count: int) -> None:
    treated = {
        "id": "treated",
        "track": "surveillance",
        "urgency": "medium",
        "category": "hearing_check",
        "when": {"course": {"loss_treated": "under 6 months"}},
        "ask": asks("1 day", "2 days", "3 days", "hearing_test"),
    }
    case = case_of((day, {"drum_seen": "full"}), loss_treated_on="2026-09-10")

    right = [d for d in fold(case, protocol_of(treated), LATER).open if d.ear == "right"]

    assert len(right) == count


def test_care_elsewhere_is_asked_after_while_it_runs_and_no_longer() -> None:
    care = [{**CARE[0], "until": "2027-01-01"}]
    seen = {"drum_seen": "full"}
    during = case_of(("2026-11-01", seen), under_care=care)
    after = case_of(("2026-11-01", seen), ("2027-02-01", seen), under_care=care)

    assert open_due(fold(during, load(), LATER), "drum", "loop") is not None
    found = fold(after, load(), LATER)
    assert open_due(found, "drum", "loop") is None
    assert [(c.due.kind, c.reason) for c in found.closings] == [("loop", "resolved")]


@pytest.mark.parametrize(("day", "count"), [("2026-09-07", 1), ("2026-09-08", 0)])
def test_a_rule_judges_no_visit_from_its_last_day_on(day: str, count: int) -> None:
    ended = {
        "id": "ended",
        "track": "fluid",
        "urgency": "medium",
        "until": date(2026, 9, 8),
        "when": {"ear": {"effusion": "present"}},
        "ask": asks("4 weeks", "6 weeks", "8 weeks", "otoscopy"),
    }

    assert len(fold(case_of((day, FLUID)), protocol_of(ended), LATER).open) == count


def test_a_difference_between_ears_with_the_same_mean_belongs_to_both() -> None:
    """Neither ear is the worse one: 25 dB each, 30 dB apart at every frequency."""
    apart = {
        "id": "apart",
        "track": "hearing",
        "urgency": "medium",
        "category": "hearing_check",
        "when": {"ear": {"asymmetry": "15 dB or worse"}},
        "ask": asks("4 weeks", "6 weeks", "8 weeks", "hearing_test"),
    }
    low = {"500": 40, "1000": 40, "2000": 10, "4000": 10}
    high = {"500": 10, "1000": 10, "2000": 40, "4000": 40}
    case = case_of(("2026-09-01", {"hearing_dB": low}))
    both = replace(case, visits=(replace(case.visits[0], left=convert({"hearing_dB": high}, Ear)),))

    found = fold(both, protocol_of(apart), LATER)

    assert {d.ear for d in found.open} == {"right", "left"}


def test_a_second_try_whose_days_have_gone_by_is_asked_for_from_the_next_visit_on() -> None:
    """A child's is 3 days to 2 weeks from the visit: common practice, no source."""
    wax = {"wax_found": "none"}
    case = case_of(("2026-12-01", FLUID), ("2027-01-05", wax), ("2027-02-15", wax))

    first = open_due(fold(case, load(), date(2027, 2, 14)), "fluid", "retry")
    state = folding(case, load(), LATER)
    second = state.open["right", "fluid", "retry"]

    assert first is not None and first.latest == date(2027, 1, 19)
    assert (second.earliest, second.latest) == (date(2027, 2, 18), date(2027, 3, 1))
    assert second.says == f"{first.says} Late since 19 January 2027."
    assert [(c.due.kind, c.reason) for c in state.closings] == [("retry", "superseded")]
    assert state.open["right", "fluid", "recheck"].latest == date(2027, 1, 26)


def test_a_second_try_keeps_the_day_since_which_it_is_late() -> None:
    wax = {"wax_found": "none"}
    days = ("2027-01-05", "2027-02-15", "2027-04-15")
    case = case_of(("2026-12-01", FLUID), *((day, wax) for day in days))

    retry = open_due(fold(case, load(), LATER), "fluid", "retry")

    assert retry is not None
    assert retry.says.endswith(" Late since 19 January 2027.")
    assert retry.says.count("Late since") == 1


def test_a_second_try_that_can_still_be_booked_keeps_its_days() -> None:
    wax = {"wax_found": "none"}
    case = case_of(("2026-12-01", FLUID), ("2027-01-05", wax), ("2027-01-19", wax))

    retry = open_due(fold(case, load(), LATER), "fluid", "retry")

    assert retry is not None and retry.latest == date(2027, 1, 19)
