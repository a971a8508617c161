"""What a practice cannot do is asked of others: each thing by hand, and that nothing is lost.

To whom each thing goes is common practice, no source. The days are the protocol's own: a child's
fluid with a loss is tested 11 to 15 weeks after it was first documented, wax that stays is tried
again within 2 weeks, an object within a week.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case, ToldByOthers, UnderCare
from recall.care.services import SERVICES
from recall.protocol.capabilities import AS_WRITTEN, EVERYTHING, Able, Capabilities
from recall.protocol.loading import load
from recall.schedule.explain import explain
from recall.schedule.fold import fold, folding
from recall.schedule.merging import RANK
from recall.schedule.plan import Decision, Due, Ledger, Plan, Referral
from recall.schedule.planning import plan
from tests.schedule.histories import cases
from tests.seeds import examples

PROTOCOL = load()
ON = date(2026, 12, 1)
LATER = date(2036, 1, 1)
LOSS = {"500": 30, "1000": 35, "2000": 30, "4000": 35}
CHILD_WITH_LOSS = {"drum_seen": "full", "effusion": "present", "hearing_dB": LOSS}
WAX_STAYS = {"wax_found": "occluding", "wax_left": "occluding", "clearance": "failed"}
WORDS = "This practice does not test hearing under 5 years."


def able(**given: Any) -> Capabilities:
    return Capabilities([Able(**{"since": date(2026, 1, 1), **given})])


def case_of(right: dict[str, Any], born: str = "2023-03-02", **more: Any) -> Case:
    visits = [{"on": ON.isoformat(), "right": right}]
    return convert({"born": born, "visits": visits, **more}, Case)


def under(case: Case, can: Capabilities, **more: Any) -> Ledger:
    return fold(case, PROTOCOL.used_with(can), LATER, **more)


def due_of(ledger: Ledger, track: str) -> Due | None:
    wanted = ("right", track, "recheck")
    return next((d for d in ledger.open if (d.ear, d.track, d.kind) == wanted), None)


def sent_to(ledger: Ledger, to: str) -> Referral | None:
    wanted = (("right",), to)
    return next((r for r in ledger.referrals if (r.ears, r.to) == wanted), None)


def test_nothing_said_changes_nothing() -> None:
    case = case_of(CHILD_WITH_LOSS)

    assert load().capabilities is EVERYTHING
    assert EVERYTHING.on(ON) == AS_WRITTEN == Able()
    assert under(case, able()) == fold(case, PROTOCOL, LATER)


def test_what_a_practice_can_do_is_no_part_of_its_protocol() -> None:
    used = PROTOCOL.used_with(able(suction=False))

    assert used.digest == PROTOCOL.digest and used.file == PROTOCOL.file
    assert PROTOCOL.capabilities is EVERYTHING


@pytest.mark.parametrize(("from_age", "ours"), [(0, True), (3, True), (4, False), (5, False)])
def test_a_test_below_the_age_goes_to_audiology_for_children(from_age: int, ours: bool) -> None:
    case = case_of(CHILD_WITH_LOSS)  # she is 3
    ledger = under(case, able(audiometry_from_age=from_age))
    sent = sent_to(ledger, "paediatric_audiology")

    assert (due_of(ledger, "hearing") is not None) is ours
    assert (sent is None) is ours


def test_the_referral_says_why_and_keeps_the_day_and_the_urgency() -> None:
    case = case_of(CHILD_WITH_LOSS)
    ours = due_of(fold(case, PROTOCOL, LATER), "hearing")
    sent = sent_to(under(case, able(audiometry_from_age=5)), "paediatric_audiology")

    assert ours is not None and sent is not None
    assert (sent.stages.seen_by, sent.urgency) == (date(2027, 3, 16), "high")
    assert sent.stages.seen_by == ours.latest and sent.within_days == 105
    assert sent.stages.sent_by == date(2026, 12, 4)  # 3 days, as every high one
    for reason in sent.reasons:
        assert WORDS in reason.says and "16 February 2027 to 16 March 2027" in reason.says


def test_an_adult_goes_to_audiology() -> None:
    case = case_of({"hearing_screen": "not_passed"}, born="2009-05-05")
    ledger = under(case, able(audiometry_from_age=18))

    assert due_of(ledger, "hearing") is None
    assert sent_to(ledger, "audiology") is not None
    assert sent_to(ledger, "paediatric_audiology") is None


def test_a_look_with_a_test_stays_a_look() -> None:
    tensa = {"drum_seen": "full", "tensa_grade": 2, "pocket_base_seen": True}
    ledger = under(case_of(tensa), able(audiometry_from_age=5))
    look, sent = due_of(ledger, "retraction"), sent_to(ledger, "paediatric_audiology")

    assert look is not None and look.do == ("otoscopy",)
    assert sent is not None and sent.stages.seen_by == look.latest


def test_a_test_for_life_stays_a_question_of_ours() -> None:
    case = case_of({"drum_seen": "full", "effusion": "absent"}, risks=["down_syndrome"])
    told = ToldByOthers(
        on="2026-06-01", ear="right", source="children's audiology", hearing_tested=True
    )
    case = replace(case, told_by_others=(told,))
    ledger = under(case, able(audiometry_from_age=5))
    asked = due_of(fold(case, PROTOCOL, LATER), "surveillance")
    stays, sent = due_of(ledger, "surveillance"), sent_to(ledger, "paediatric_audiology")

    assert asked is not None and stays is not None and sent is not None
    assert replace(stays, do=asked.do) == asked and stays.do == ("ask_after_care",)
    assert stays.needs == ("hearing",)
    assert sent.stages.seen_by == asked.latest


def test_a_test_for_life_is_answered_by_what_others_tell_and_asked_again() -> None:
    case = case_of({"drum_seen": "full", "effusion": "absent"}, risks=["down_syndrome"])
    told = ToldByOthers(on="2027-01-04", ear="right", source="audiology", hearing_tested=True)
    ledger = under(replace(case, told_by_others=(told,)), able(audiometry_from_age=5))
    again = due_of(ledger, "surveillance")

    assert [c.reason for c in ledger.closings if c.due.ear == "right"] == ["answered"]
    assert again is not None and again.target == date(2027, 7, 4)


def test_audiology_that_has_the_hearing_under_care_is_not_asked_again() -> None:
    care = UnderCare(of="paediatric_audiology", ear="right", track="hearing", since="2026-10-01")
    case = replace(case_of(CHILD_WITH_LOSS), under_care=(care,))
    state = folding(case, PROTOCOL.used_with(able(audiometry_from_age=5)), LATER)

    assert ("right", "paediatric_audiology") not in state.referrals
    assert ("right", "hearing", "recheck") not in state.open
    assert ("right", "hearing", "loop") in state.open


@pytest.mark.parametrize(
    "more",
    [
        {"right": {"perforation": "central"}},
        {"right": {}, "risks": ["previous_ear_surgery"]},
    ],
)
def test_wax_that_must_come_out_without_water_goes_to_ear_care(more: dict[str, Any]) -> None:
    given = {"right": {**WAX_STAYS, **more["right"]}, "risks": more.get("risks", [])}
    case = case_of(born="1960-01-01", **given)
    ours, ledger = fold(case, PROTOCOL, LATER), under(case, able(suction=False))
    sent, tried = sent_to(ledger, "ear_care"), due_of(ours, "wax")

    assert due_of(ledger, "wax") is None
    assert sent is not None and tried is not None
    assert sent.stages.seen_by == tried.latest == date(2026, 12, 15)
    assert "does not clear ears by suction" in sent.reasons[0].says


def test_wax_that_drops_may_soften_is_tried_again_here() -> None:
    ledger = under(case_of(WAX_STAYS, born="1960-01-01"), able(suction=False))

    assert due_of(ledger, "wax") is not None and not ledger.referrals


def test_a_cavity_is_looked_at_here_and_cleaned_elsewhere() -> None:
    case = case_of({"cavity": True, "drum_seen": "full"}, born="1960-01-01")
    ledger = under(case, able(suction=False))
    look, sent = due_of(ledger, "cavity"), sent_to(ledger, "ear_care")

    assert look is not None and look.do == ("otoscopy",)
    assert sent is not None and sent.stages.seen_by == look.latest


def test_fungus_is_cleaned_elsewhere_within_its_days() -> None:
    case = case_of({"canal_skin": "fungal", "treated": True}, born="1980-01-01")
    ledger = under(case, able(suction=False))
    sent = sent_to(ledger, "ear_care")

    assert sent is not None and sent.stages.seen_by == date(2026, 12, 15)  # 2 weeks


def test_an_object_goes_to_ent_within_the_week() -> None:
    case = case_of({"foreign_body": "other"}, born="2018-01-01")
    ledger = under(case, able(removing_objects=False))
    sent = sent_to(ledger, "ent")

    assert due_of(ledger, "canal_skin") is None
    assert sent is not None
    assert (sent.stages.seen_by, sent.urgency) == (date(2026, 12, 8), "high")
    assert "does not remove objects" in sent.reasons[0].says


def test_a_battery_stays_the_emergency_that_it_is() -> None:
    case = case_of({"foreign_body": "button_battery"}, born="2018-01-01")

    assert under(case, able(removing_objects=False)) == fold(case, PROTOCOL, LATER)


def test_no_tympanometry_only_takes_it_out() -> None:
    case = case_of({"drum_seen": "full", "effusion": "present"})
    ours, without = fold(case, PROTOCOL, LATER), under(case, able(tympanometry=False))
    look, before = due_of(without, "fluid"), due_of(ours, "fluid")

    assert look is not None and before is not None
    assert look.do == ("otoscopy",) and replace(look, do=before.do) == before
    assert without.referrals == ours.referrals


def test_a_trace_that_was_all_is_asked_of_audiology() -> None:
    case = case_of({"drum_seen": "full", "tympanogram": {"type": "C2"}})
    ours, without = fold(case, PROTOCOL, LATER), under(case, able(tympanometry=False))
    asked, sent = due_of(ours, "fluid"), sent_to(without, "paediatric_audiology")

    assert asked is not None and asked.do == ("tympanometry",)
    assert sent is not None and sent.stages.seen_by == asked.latest
    assert "does no tympanometry" in sent.reasons[0].says


INFECTED = [
    ({"drum_seen": "full", "bullae": True}, "acute-infection-untreated"),
    ({"canal_skin": "fungal"}, "canal-untreated-fungal"),
]


@pytest.mark.parametrize(("ear", "rule"), INFECTED)
def test_who_prescribes_is_told_to_treat_and_the_gp_stays_until_it_is_done(
    ear: dict[str, Any], rule: str
) -> None:
    can = PROTOCOL.used_with(able(prescribing=True))

    def made(**more: Any) -> Plan:
        return plan(case_of({**ear, **more}, born="1980-01-01"), can, LATER)

    told = [a.says for a in made().advice if a.rule == rule]
    assert len(told) == 1 and "treat it here today" in told[0]
    assert [r.to for r in made().referrals] == ["gp"]
    done = made(treated=True)
    assert not done.referrals and rule not in {a.rule for a in done.advice}


@pytest.mark.parametrize(("ear", "rule"), INFECTED)
def test_who_does_not_say_so_prescribes_nothing(ear: dict[str, Any], rule: str) -> None:
    made = plan(case_of(ear, born="1980-01-01"), PROTOCOL, LATER)

    assert [r.to for r in made.referrals] == ["gp"]
    assert rule not in {a.rule for a in made.advice}


def test_what_was_asked_before_the_day_stays_ours_and_what_is_asked_after_it_goes() -> None:
    case = case_of(CHILD_WITH_LOSS)
    again = replace(case.visits[0], on=date(2026, 12, 8))
    can = able(since=date(2026, 12, 8), audiometry_from_age=5)

    assert under(case, can) == fold(case, PROTOCOL, LATER)
    both = replace(case, visits=(*case.visits, again))
    ledger, before = under(both, can), fold(both, PROTOCOL, LATER)
    assert ledger.closings[: len(before.closings)] == before.closings
    assert sent_to(ledger, "paediatric_audiology") is not None


def test_each_day_is_judged_by_the_settings_of_its_own_time() -> None:
    first = Able(since=date(2026, 1, 1), suction=False)
    second = Able(since=date(2027, 1, 1), tympanometry=False)
    can = Capabilities([second, first])

    days = [date(2025, 12, 31), first.since, date(2026, 12, 31), second.since]
    assert [can.on(day) for day in days] == [AS_WRITTEN, first, first, second]


def test_a_category_alone_is_asked_of_others_too() -> None:
    case = case_of({"wax_found": "none"})
    asked = Decision(on=ON, ear="right", action="ask", category="hearing_check")
    ledger = under(case, able(audiometry_from_age=5), decisions=[asked])
    ours = due_of(fold(case, PROTOCOL, LATER, decisions=[asked]), "hearing")
    sent = sent_to(ledger, "paediatric_audiology")

    assert due_of(ledger, "hearing") is None
    assert ours is not None and sent is not None and sent.stages.seen_by == ours.latest


CAN = st.builds(
    Able,
    since=st.just(date(2020, 1, 1)),
    audiometry_from_age=st.sampled_from([0, 4, 16, 99]),
    tympanometry=st.booleans(),
    suction=st.booleans(),
    prescribing=st.booleans(),
    removing_objects=st.booleans(),
)


@settings(max_examples=examples(300))
@given(cases(3), CAN)
def test_nothing_is_dropped_later_or_less_urgent(case: Case, can: Able) -> None:
    limited = PROTOCOL.used_with(Capabilities([can]))
    ours, theirs = (folding(case, p, LATER).asked for p in (PROTOCOL, limited))

    for due in ours.dues:
        kept = [d for d in theirs.dues if (d.ear, d.rule) == (due.ear, due.rule)]
        sent = [
            r
            for r in theirs.referrals
            if (due.ear, due.rule) in {(why.ear, why.rule) for why in r.reasons}
        ]
        for met in kept:
            assert (met.earliest, met.target) == (due.earliest, due.target)
        found = [(d.latest, d.urgency) for d in kept]
        found += [(r.stages.seen_by, r.urgency) for r in sent]
        assert found, f"{due.rule} was dropped"
        assert all(latest <= due.latest for latest, _ in found)
        assert all(RANK[urgency] <= RANK[due.urgency] for _, urgency in found)
        left_out = set(due.do).difference(*(d.do for d in kept))
        assert sent or left_out <= {"tympanometry"}
    assert [r for r in ours.referrals if r not in theirs.referrals] == []
    assert [a for a in ours.advice if a not in theirs.advice] == []


@settings(max_examples=examples(150))
@given(cases(4), CAN)
def test_every_rule_that_is_open_stays_open_somewhere(case: Case, can: Able) -> None:
    can = replace(can, tympanometry=True)  # a trace that is not made is not waited for either
    limited = PROTOCOL.used_with(Capabilities([can]))
    ours, theirs = (fold(case, p, LATER) for p in (PROTOCOL, limited))
    open_there = {(d.ear, rule) for d in theirs.open for rule in (d.rule, *d.beaten)}
    open_there |= {(why.ear, why.rule) for r in theirs.referrals for why in r.reasons}

    for due in ours.open:
        if due.kind == "recheck":
            assert {(due.ear, rule) for rule in (due.rule, *due.beaten)} <= open_there
    for referral in ours.referrals:
        same = [r for r in theirs.referrals if (r.ears, r.to) == (referral.ears, referral.to)]
        assert len(same) == 1
        assert {why.rule for why in referral.reasons} <= {why.rule for why in same[0].reasons}
        gone_by = referral.stages.seen_by < case.visits[-1].on  # what is asked anew has its own day
        assert same[0].stages.seen_by <= referral.stages.seen_by or gone_by
        assert RANK[same[0].urgency] <= RANK[referral.urgency]


@settings(max_examples=examples(40))
@given(cases(3), CAN)
def test_every_such_plan_can_be_explained(case: Case, can: Able) -> None:
    told = explain(case, PROTOCOL.used_with(Capabilities([can])), LATER)

    sent = {SERVICES[r.to].short for r in told.plan.referrals}
    assert all(any(f"Referral to {to}" in s for s in told.sentences()) for to in sent)
