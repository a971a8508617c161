"""Lines that were struck out or weighed anew: how long that holds, and what ends it.

That a person may say no, and that a clinician may judge otherwise than a protocol, is common
practice; how long it holds is a decision of this program, no source.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case, To, Track
from recall.care.ear import Side
from recall.protocol.loading import load
from recall.schedule.explain import explain
from recall.schedule.fold import Folding, folding
from recall.schedule.plan import Because, Decision, Due
from recall.schedule.planning import plan

ON = date(2026, 9, 1)
FAR = date(2040, 1, 1)
FLUID = {"drum_seen": "full", "attic_seen": True, "effusion": "present"}
LOOK = "fluid-child-look"
MASS = {"drum_seen": "full", "attic_seen": True, "mass_behind_drum": "white"}
HEARS = {"500": 10, "1000": 10, "2000": 10, "4000": 15}


def case(*visits: dict[str, Any], born: str = "2018-03-02", **more: Any) -> Case:
    return convert({"born": born, "visits": visits, **more}, Case)


def visit(on: str = "2026-09-01", **ears: Any) -> dict[str, Any]:
    return {"on": on, **ears}


def folded(of: Case, *decisions: Decision) -> Folding:
    return folding(of, load(), FAR, decisions=decisions)


def strike(track: Track, rule: str, ear: Side = "right", **more: Any) -> Decision:
    because: Because = more.pop("because", "judgement")
    given = {"on": ON, "ear": ear, "track": track, "rule": rule, "reason": "struck_out", **more}
    return Decision(action="strike", because=because, **given)


def struck_lines(of: Case, **more: Any) -> tuple[Decision, ...]:
    """Strike out everything that stands for the right ear's fluid."""
    due = folded(of).open["right", "fluid", "recheck"]
    return tuple(strike("fluid", rule, **more) for rule in (due.rule, *due.beaten))


def has_look(state: Folding, ear: Side = "right") -> bool:
    return (ear, "fluid", "recheck") in state.open


def test_a_struck_line_closes_for_its_own_reason_and_the_rest_stays() -> None:
    of = case(visit(right=FLUID, left=FLUID))
    state = folded(of, *struck_lines(of))

    assert not has_look(state) and has_look(state, "left")
    (closing,) = state.closings
    assert (closing.reason, closing.due.ear, closing.visit_on) == ("struck_out", "right", None)
    assert folded(of).open.keys() - state.open.keys() == {("right", "fluid", "recheck")}


def test_what_a_line_took_in_keeps_it_until_that_is_struck_out_too() -> None:
    of = case(visit(right=FLUID))
    due = folded(of).open["right", "fluid", "recheck"]
    assert has_look(folded(of, strike("fluid", "another-rule")))
    assert has_look(folded(of, strike("fluid", due.rule))) == bool(due.beaten)


def test_it_holds_at_repeat_visits_that_find_the_same() -> None:
    first, again = visit(right=FLUID), visit("2026-10-13", right=FLUID)
    of = case(first, again)
    strikes = struck_lines(case(first))

    assert has_look(folded(of))
    assert not has_look(folded(of, *strikes))
    said = plan(of, load(), FAR, decisions=strikes).notices
    assert any(LOOK in s and "clinical judgement" in s for s in said if "struck out" in s)


def test_it_ends_with_the_first_finding_that_is_worse_or_new() -> None:
    first = visit(right={**FLUID, "effusion": "suspected"})
    strikes = struck_lines(case(first))
    same = visit("2026-10-13", right={**FLUID, "effusion": "suspected"})
    for new in ({"effusion": "present"}, {"tensa_grade": 1}, {"hearing_dB": {"500": 30}}):
        worse = visit("2026-10-13", right={**FLUID, "effusion": "suspected", **new})
        assert has_look(folded(case(first, worse), *strikes)), new
    assert not has_look(folded(case(first, same), *strikes))
    once_worse = visit("2026-10-13", right=FLUID)
    later = visit("2026-12-01", right={**FLUID, "effusion": "suspected"})
    assert has_look(folded(case(first, once_worse, later), *strikes))


def test_something_new_in_the_other_ear_or_wax_that_came_back_does_not_end_it() -> None:
    first = visit(right=FLUID)
    strikes = struck_lines(case(first))
    waxy = visit("2026-10-13", right={**FLUID, "wax_found": "partial"}, left={"tensa_grade": 2})
    assert not has_look(folded(case(first, waxy), *strikes))


def test_a_complaint_about_the_ear_that_was_not_there_ends_it() -> None:
    first = visit(right=FLUID)
    strikes = struck_lines(case(first))
    for what, ends in (("hearing_concern", True), ({"what": "pain", "ear": "left"}, False)):
        told = visit("2026-10-13", right=FLUID, reported=[what])
        assert has_look(folded(case(first, told), *strikes)) is ends


def test_what_others_found_worse_ends_it() -> None:
    first, again = visit(right=FLUID), visit("2026-10-13", right=FLUID)
    strikes = struck_lines(case(first))
    told = {"on": "2026-09-20", "ear": "right", "source": "ENT", "hearing_dB": {"1000": 45}}
    assert has_look(folded(case(first, again, told_by_others=[told]), *strikes))
    assert not has_look(folded(case(first, again), *strikes))


def test_with_a_day_it_stands_again_from_then_and_was_never_lost() -> None:
    of, until = case(visit(right=FLUID)), date(2026, 12, 1)
    before = folded(of).open["right", "fluid", "recheck"]
    strikes = struck_lines(of, until=until)
    after = folded(of, *strikes).open["right", "fluid", "recheck"]

    assert (after.earliest, after.asked_on, after.rule) == (until, ON, before.rule)
    assert after.latest - after.earliest == before.latest - before.earliest
    again = visit("2026-10-13", right=FLUID)
    assert folded(case(visit(right=FLUID), again), *strikes).open[
        "right", "fluid", "recheck"
    ].earliest == until  # fmt: skip


def test_once_its_day_has_come_the_rule_asks_again() -> None:
    first, again = visit(right=FLUID), visit("2026-10-13", right=FLUID)
    strikes = struck_lines(case(first), until=date(2026, 10, 13))
    state = folded(case(first, again), *strikes)
    assert has_look(state) and not state.judged.silent


def test_a_retry_of_a_struck_look_falls_with_it_and_is_not_asked_again() -> None:
    first, unseen = visit(right=FLUID), visit("2026-10-13", right={"drum_seen": "none"})
    of = case(first, unseen)
    retry = ("right", "fluid", "retry")
    assert retry in folded(of).open
    alone = strike("fluid", "retry", kind="retry", on=date(2026, 10, 13))
    assert retry not in folded(of, alone).open
    dropped = tuple(replace(s, on=date(2026, 10, 13)) for s in struck_lines(case(first)))
    assert not {retry, ("right", "fluid", "recheck")} & folded(of, *dropped).open.keys()
    unseen_again = visit("2026-10-20", right={"drum_seen": "none"})
    assert retry not in folded(case(first, unseen, unseen_again), alone).open


def referral_rules(of: Case, to: To = "ent") -> list[tuple[Track, str]]:
    return [(r.track, r.rule) for r in folded(of).referrals["right", to].reasons]


def struck_referral(of: Case, to: To = "ent", **more: Any) -> tuple[Decision, ...]:
    return tuple(strike(t, rule, to=to, **more) for t, rule in referral_rules(of, to))


def test_a_struck_referral_ends_and_is_not_asked_again() -> None:
    first, again = visit(right=MASS), visit("2026-10-13", right=MASS)
    strikes = struck_referral(case(first))
    state = folded(case(first, again), *strikes)

    assert state.referrals == {}
    assert [e.reason for e in state.referral_ends] == ["struck_out"]
    assert {r.reasons[0].rule for _, r, _ in state.judged.silent if not isinstance(r, Due)}


def test_a_reason_that_is_left_keeps_the_referral() -> None:
    of = case(visit(right={**MASS, "keratin": True}))
    rules = referral_rules(of)
    assert len(rules) > 1
    (track, rule), *rest = rules
    state = folded(of, strike(track, rule, to="ent"))
    assert [r.rule for r in state.referrals["right", "ent"].reasons] == [r for _, r in rest]


def test_a_referral_that_is_put_off_is_sent_later_and_stays_open() -> None:
    of = case(visit(right=MASS))
    (before,) = [r for key, r in folded(of).referrals.items() if key[1] == "ent"]
    until = date(2026, 10, 1)
    state = folded(of, *struck_referral(of, until=until))
    after = state.referrals["right", "ent"]
    assert after.stages.sent_by - before.stages.sent_by == until - ON
    assert state.referral_ends == []


SUDDEN = ({"what": "sudden_hearing_loss", "ear": "right"},)


def emergency(**ear: Any) -> Case:
    return case(visit(right={"drum_seen": "full", **ear}, reported=SUDDEN), born="1980-01-01")


def test_an_emergency_falls_only_with_what_explains_it_for_that_ear() -> None:
    explained = {"because": "explained", "why": "Wax, out now."}
    heard, not_heard = emergency(hearing_after="better"), emergency(hearing_after="same")
    assert folded(heard).referrals["right", "ent"].urgency == "emergency"

    def stays(of: Case, **more: Any) -> bool:
        return ("right", "ent") in folded(of, *struck_referral(of, **more)).referrals

    assert not stays(heard, **explained)
    assert not stays(emergency(hearing_dB=HEARS), **explained)
    assert stays(not_heard, **explained) and stays(emergency(), **explained)
    assert stays(heard, because="judgement", why="Wax.")
    assert stays(heard, because="explained", why="  ")
    assert stays(heard, because="known_elsewhere", why="Wax.")


def test_an_emergency_that_is_reported_again_later_stands_again() -> None:
    of = emergency(hearing_after="better")
    strikes = struck_referral(of, because="explained", why="Wax, out now.")
    again = visit("2026-10-13", right={"drum_seen": "full"}, reported=SUDDEN)
    more = replace(of, visits=(*of.visits, *case(again).visits))
    assert folded(more, *strikes).referrals["right", "ent"].urgency == "emergency"


def weigh(urgency: str, rules: list[tuple[Track, str]], **more: Any) -> tuple[Decision, ...]:
    more = {"because": "judgement", **more}
    return tuple(
        Decision(on=ON, ear="right", track=t, rule=r, action="weigh", urgency=urgency, **more)
        for t, r in rules
    )


def test_a_due_can_be_raised_and_lowered_and_keeps_its_days() -> None:
    of = case(visit(right=FLUID))
    before = folded(of).open["right", "fluid", "recheck"]
    for urgency in ("high", "low"):
        state = folded(of, *weigh(urgency, [("fluid", r) for r in (before.rule, *before.beaten)]))
        after = state.open["right", "fluid", "recheck"]
        assert after.urgency == urgency
        assert (after.earliest, after.target, after.latest) == (
            before.earliest,
            before.target,
            before.latest,
        )


def test_lowered_it_stays_low_at_a_repeat_visit_and_rises_with_something_new() -> None:
    first, again = visit(right=FLUID), visit("2026-10-13", right=FLUID)
    rules = folded(case(first)).open["right", "fluid", "recheck"]
    lower = weigh("low", [("fluid", r) for r in (rules.rule, *rules.beaten)])
    worse = visit("2026-10-13", right={**FLUID, "tensa_grade": 1})
    same = folded(case(first, again), *lower).open["right", "fluid", "recheck"]
    new = folded(case(first, worse), *lower).open["right", "fluid", "recheck"]
    assert (same.urgency, new.urgency) == ("low", "medium")


def test_a_referral_that_is_raised_or_lowered_has_that_urgencys_days() -> None:
    of = case(visit(right=MASS))
    rules = referral_rules(of)
    before = folded(of).referrals["right", "ent"]
    raised = folded(of, *weigh("emergency", rules[:1], to="ent")).referrals["right", "ent"]
    lowered = folded(of, *weigh("low", rules, to="ent")).referrals["right", "ent"]
    assert raised.urgency == "emergency" and raised.stages.seen_by < before.stages.seen_by
    assert lowered.urgency == "low" and lowered.stages.seen_by > before.stages.seen_by


def test_an_emergency_is_not_made_milder_without_what_explains_it() -> None:
    of = emergency(hearing_after="better")
    rules = referral_rules(of)
    for because, why, left in (
        ("judgement", "Wax.", "emergency"),
        ("explained", "Wax, out now.", "high"),
    ):
        lower = weigh("high", rules, to="ent", because=because, why=why)
        assert folded(of, *lower).referrals["right", "ent"].urgency == left


def test_it_is_explained() -> None:
    first, again = visit(right=FLUID), visit("2026-10-13", right=FLUID)
    strikes = struck_lines(case(first))
    on_the_day = "\n".join(explain(case(first), load(), FAR, decisions=strikes).sentences())
    assert "was struck out by somebody who may decide" in on_the_day
    later = explain(case(first, again), load(), FAR, decisions=strikes)
    assert (
        f"fluid (right ear, {LOOK}): struck out on 1 September 2026, clinical judgement. "
        "It holds until something in that ear is worse or new."
    ) in later.judged


def test_an_ear_of_which_all_was_struck_out_says_so() -> None:
    of = case(visit(left={"drum_seen": "full", "attic_grade": 2}), born="1980-01-01")
    standing = folded(of)
    lines = [(d.track, None, r) for d in standing.open.values() for r in (d.rule, *d.beaten)]
    lines += [(r.track, to, r.rule) for (_, to), f in standing.referrals.items() for r in f.reasons]
    assert lines
    strikes = [strike(track, rule, ear="left", to=to) for track, to, rule in lines]
    made = plan(of, load(), FAR, decisions=strikes)
    assert (made.follow_ups, made.referrals) == ((), ())
    assert [n.because for n in made.nothing_due] == [
        "What was found asks for something that somebody has struck out."
    ]


def test_an_emergency_that_falls_lets_the_gp_treat_the_canal_after_all() -> None:
    """While ENT sees an infected canal the same day, the GP is not asked: common practice."""
    told = [{"what": "night_pain", "ear": "right"}]
    ill = visit("2026-12-01", right={"canal_skin": "inflamed"}, reported=told)
    of = case(ill, born="1960-05-10", risks=["diabetes"])
    day = date(2026, 12, 1)
    fell = strike(
        "canal_skin", "canal-risk-severe-pain", to="ent", on=day, because="explained", why="A boil."
    )

    assert set(folded(of).referrals) == {("right", "ent")}
    assert set(folded(of, fell).referrals) == {("right", "gp")}


def test_what_gives_way_to_an_emergency_or_to_a_test_stands_once_that_is_struck_out() -> None:
    """Common practice, no source: nothing is lost by what a named person strikes out."""
    day = date(2026, 12, 1)
    ill = {"canal_skin": "inflamed", "treated": True}
    hurts = visit("2026-12-01", right=ill, reported=[{"what": "night_pain", "ear": "right"}])
    of = case(hurts, born="1960-05-10", risks=["diabetes"])
    fell = strike(
        "canal_skin", "canal-risk-severe-pain", to="ent", on=day, because="explained", why="A boil."
    )
    told = visit("2026-12-01", right={"drum_seen": "full"}, reported=["hearing_concern"])
    user = case(told, born="1960-05-10", risks=["hearing_aid"])
    tests = [strike("hearing", "concern-adult", ear=ear, on=day) for ear in ("right", "left")]

    assert not folded(of).open
    assert set(folded(of, fell).open) == {("right", "canal_skin", "recheck")}
    assert ("right", "surveillance", "recheck") not in folded(user).open
    assert ("right", "surveillance", "recheck") in folded(user, *tests).open


def test_what_came_of_an_emergency_brings_nothing_back_that_gave_way_to_it() -> None:
    """The person was seen: no second look on another day. Common practice, no source."""
    ill = {"canal_skin": "inflamed"}
    hurts = visit("2026-12-01", right=ill, reported=[{"what": "night_pain", "ear": "right"}])
    of = case(hurts, born="1960-05-10", risks=["diabetes"])
    seen = Decision(on=date(2026, 12, 2), action="close", ear="right", to="ent", reason="answered")
    other = strike("wax", "wax-at-risk", on=date(2026, 12, 3))

    state = folded(of, seen, other)

    assert not state.referrals
    assert not state.open


def test_a_raised_line_has_its_urgencys_own_last_day_and_a_week_to_be_booked_in() -> None:
    """Urgent is two weeks, an emergency a day (NICE NG98 (2018) 1.1, for referrals)."""
    for on, last in ((date(2026, 12, 1), date(2026, 12, 15)), (date(2026, 11, 30), None)):
        of = case(visit(on.isoformat(), right={"drum_seen": "full", "tensa_grade": 2}))
        before = folded(of).open["right", "retraction", "recheck"]
        more = {"ear": "right", "track": "retraction", "rule": before.rule, "urgency": "urgent"}
        made = Decision(on=on, action="weigh", reason="clinician_decision", **more)
        after = folded(of, made).open["right", "retraction", "recheck"]
        assert after.urgency == "urgent"
        assert after.latest == (last or before.latest)
        if last is not None:
            assert (after.earliest, after.target) == (date(2026, 12, 8), date(2026, 12, 13))
            now = replace(made, urgency="emergency")
            assert folded(of, now).open["right", "retraction", "recheck"].latest == date(
                2026, 12, 2
            )
