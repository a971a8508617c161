"""What must never be, whatever else was found, told or known: gone over as a whole.

Sources stand with the rules' own cases; that these hold of every combination is a rule of this
project.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import get_args

import pytest
from msgspec.structs import replace

from recall.care.case import Case, Reported, ReportWord, To, Track, UnderCare, Visit
from recall.care.ear import Side
from recall.protocol.loading import load
from recall.protocol.rules import Refer
from recall.schedule.cared_for import NEVER_KNOWN
from recall.schedule.fold import folding
from recall.schedule.merging import RANK
from tests.protocol.case_files import RuleCase, all_cases
from tests.schedule.sweep import BORN, LOOKS, ON, Found, levels, visit

PROTOCOL = load()
CHILD, ADULT = date(2022, 5, 1), BORN[1]
CONCERNS: tuple[ReportWord, ...] = ("hearing_concern", "speech_concern", "fluctuating_hearing")
Sent = dict[tuple[str, str], tuple[date, int]]
"""By ear and service: by when it is seen, and how pressing it is."""


def sent(case: Case, on: date = ON) -> Sent:
    """Return what is referred at the visits of a case."""
    state = folding(case, PROTOCOL, on)
    return {key: (r.stages.seen_by, RANK[r.urgency]) for key, r in state.referrals.items()}


def of(born: date, found: Found, *told: Reported, other: Found | None = None) -> Case:
    """Return somebody with one visit."""
    return Case(born=born, visits=(visit(ON, found, other, reported=told),))


@pytest.mark.parametrize("dB", [25, 30, 35, 45, 60, 65, 90])
@pytest.mark.parametrize("look", sorted(LOOKS))
def test_a_childs_measured_loss_reaches_audiology_as_soon_as_a_concern(look: str, dB: int) -> None:  # noqa: N803
    concern = Reported(what="hearing_concern", ear="right")
    measured = {**LOOKS[look], "hearing_dB": levels(dB)}
    alone = sent(of(CHILD, {"wax_found": "none"}, concern))["right", "paediatric_audiology"]

    for told in ((), *((Reported(what=word, ear="right"),) for word in CONCERNS)):
        if not told and look == "fluid" and dB < 40:
            continue  # NICE NG233 (2023) as quoted: tested again at three months
        found = sent(of(CHILD, measured, *told))["right", "paediatric_audiology"]
        assert found[0] <= alone[0]
        assert found[1] <= alone[1]


@pytest.mark.parametrize("dB", [-10, 0, 10, 20, 24])
@pytest.mark.parametrize("what", ["sudden_hearing_loss", "worsening_hearing_loss"])
def test_a_level_of_one_ear_alone_never_explains_a_loss(what: ReportWord, dB: int) -> None:  # noqa: N803
    told = (
        Reported(what=what, ear="right", onset_days=2),
        Reported(what="loss_explained", because="wax"),
    )
    others: tuple[Found | None, ...] = (None, {"wax_found": "none"}, {"hearing_screen": "passed"})

    for look in LOOKS.values():
        for other in others:
            found = {**look, "hearing_dB": levels(dB)}
            assert sent(of(ADULT, found, *told, other=other))["right", "ent"][1] == 0


def lately() -> Iterator[RuleCase]:
    """Yield the rule cases that the rules of 1 December 2026 judge, and that know no care."""
    for one in all_cases():
        if one.on >= date(2026, 12, 1) and "under_care" not in one.given and not one.closed_as:
            yield one


def test_care_of_which_nobody_said_what_it_is_for_silences_nothing_urgent() -> None:
    for one in lately():
        case = one.case()
        pressing = {key: row for key, row in sent(case, one.on).items() if row[1] <= 1}
        for to in {to for _, to in pressing}:
            service: To = to  # type: ignore[assignment]
            for ear in ("right", "left", None):
                care = UnderCare(of=service, ear=ear, since="2020-01-01")
                found = sent(replace(case, under_care=(care,)), one.on)
                assert {key: found.get(key) for key in pressing} == pressing, (one.id, care)


@pytest.mark.parametrize("service", get_args(To))
def test_skin_that_may_be_cancer_is_the_gps_whatever_is_under_care(service: To) -> None:
    lesion: tuple[Visit, ...] = (visit(ON, {"pinna_lesion": True}),)
    for track in (None, *get_args(Track)):
        for ear in ("right", None):
            care = UnderCare(of=service, ear=ear, track=track, since="2020-01-01")
            found = sent(Case(born=ADULT, visits=lesion, under_care=(care,)))
            assert found["right", "gp"][1] == RANK["urgent"], care


@pytest.mark.parametrize("pain", ["pain", "night_pain", "severe_pain"])
@pytest.mark.parametrize("ill", ["canal_skin", "bulging", "bullae"])
def test_an_infection_that_is_treated_and_not_better_reaches_who_can_treat(
    ill: str, pain: ReportWord
) -> None:
    found = {"drum_seen": "full", ill: "inflamed" if ill == "canal_skin" else True, "treated": True}
    first = visit(date(2029, 2, 26), found)
    told = (Reported(what=pain, ear="right"),)
    for born in BORN:
        case = Case(born=born, visits=(first, visit(ON, found, reported=told)))
        assert not {("right", "gp"), ("right", "ent")}.isdisjoint(sent(case))


NOT_FOR_CARE = {*NEVER_KNOWN, "pinna-lesion"}
COMPLAINTS = {r.id for r in PROTOCOL.rules if r.urgency == "urgent" and "report" in r.when}


SENT_TO: dict[str, To] = {r.id: r.ask.to for r in PROTOCOL.rules if isinstance(r.ask, Refer)}


def referred(case: Case, on: date) -> set[tuple[Side, str]]:
    """Return the rules that refer at the last visit of a case, by ear."""
    asked = folding(case, PROTOCOL, on).asked
    return {(x.ear, x.rule) for r in asked.referrals for x in r.reasons}


@pytest.mark.parametrize("track", get_args(Track))
def test_no_care_takes_in_a_new_complaint_or_what_nobody_treated(track: Track) -> None:
    met = set()
    for one in lately():
        whole = one.case()
        last = replace(whole, visits=whole.visits[-1:])
        for case, rules in ((whole, NOT_FOR_CARE), (last, COMPLAINTS)):
            for side, rule in referred(case, one.on):
                if rule in rules:
                    care = UnderCare(of=SENT_TO[rule], ear=side, track=track, since="1990-01-01")
                    met.add(rule)
                    found = referred(replace(case, under_care=(care,)), one.on)
                    assert (side, rule) in found, (one.id, care)
    assert met >= NOT_FOR_CARE
