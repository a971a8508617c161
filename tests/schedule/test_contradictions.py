"""Pairs that must never stand together for one ear, in plans for whatever was found.

The list is written by hand and read from nowhere; all of it is common practice, no source, for
a person who is told two opposite things does neither.
"""

from __future__ import annotations

import json
from datetime import date
from typing import Any

import pytest
from hypothesis import given, settings

from recall.care.case import Case
from recall.care.casefile import decode_case
from recall.care.ear import SIDES, Side
from recall.protocol.loading import load
from recall.schedule.fold import Folding, folding
from tests.schedule.histories import cases
from tests.seeds import examples

PROTOCOL = load()
LATER = date(2036, 1, 1)
TO_THE_GP = (
    "canal-untreated", "canal-untreated-runs", "canal-untreated-fungal", "canal-untreated-at-risk",
    "canal-not-better", "pus-untreated", "acute-infection-untreated",
)  # fmt: skip
EDGE = "disease-hole-edge"
NEVER: tuple[tuple[str, str], ...] = (
    *(("canal-treated-advice", one) for one in TO_THE_GP[:4]),
    *(("pain-advice", one) for one in TO_THE_GP),
    *(("canal-mild-advice", one) for one in (*TO_THE_GP[:5], "canal-treated-advice")),
    ("acute-infection-advice", "acute-infection-untreated"),
    ("view-refused", "view-adult-unable"),
    ("hole-new", EDGE),
    ("hole-new", "hole-quiet-advice"),
    ("drops-first", "bled-advice"),
    ("drops-first", "hurt-by-care-advice"),
    ("drops-first-found", "bled-advice"),
    ("drops-first-found", "drops-first"),
    ("drops-first-found", "wax-cleared-advice"),
    ("blood-found", "head-injury-discharge"),
    ("drops-first", "no-drops"),
    ("drops-first", "no-drops-earlier"),
    ("drops-first", "no-drops-lately"),
    ("drops-first", "no-drops-pain"),
    ("drops-first", "no-drops-operated"),
    ("tinnitus-one-sided-advice", "tinnitus-one-sided"),
    ("tensa-one-adult", "tensa-two-adult"),
    ("attic-one-adult", "attic-two-adult"),
    ("wax-cleared-advice", "wax-failed"),
    ("wax-cleared-advice", "wax-left-blocking"),
    ("barotrauma-advice", "barotrauma-inner-ear"),
    ("facial-weakness", "facial-weakness-old"),
    ("facial-weakness-canal", "facial-weakness-old"),
    ("facial-weakness-discharge", "facial-weakness-old"),
    ("facial-weakness-disease", "facial-weakness-old"),
    ("vertigo-from-care", "dizzy-with-hole-advice"),
    ("vertigo-from-care", "hurt-by-care-vertigo"),
    ("vertigo-from-care", "fresh-hole-vertigo"),
)
"""Rules of one ear, one of which says the opposite of what the other says."""
NO_LOOK = ("hole-quiet-advice", "blocked-feeling-advice")
LOOKED_AT = {
    "view", "drum", "fluid", "retraction", "perforation", "grommet", "cavity", "canal_skin",
}  # fmt: skip
"""Tracks of looks at a drum or a canal: advice that an ear needs none never stands beside."""


def _said(state: Folding, side: Side) -> set[str]:
    """Return every rule that asks, refers or advises for an ear after the last visit."""
    dues = {r for d in state.asked.dues if d.ear == side for r in (d.rule, *d.beaten)}
    sent = {x.rule for r in state.asked.referrals for x in r.reasons if x.ear == side}
    return dues | sent | {rule.id for ear, rule in state.asked.advice if ear == side}


def contradictions(state: Folding) -> list[str]:
    """Return what stands together in a plan and must not."""
    found = []
    for side in SIDES:
        said = _said(state, side)
        found += [f"{side}: {a} beside {b}" for a, b in NEVER if a in said and b in said]
        looks = [d for d in state.open.values() if d.ear == side and d.kind == "recheck"]
        looked = [d.rule for d in looks if d.track in LOOKED_AT or d.category == "wax_retry"]
        found += [f"{side}: {a} beside {looked}" for a in NO_LOOK if a in said and looked]
    return found


@given(cases())
@settings(max_examples=examples(150))
def test_no_plan_says_the_opposite_of_itself(case: Case) -> None:
    assert contradictions(folding(case, PROTOCOL, LATER)) == []


DRUM = {"drum_seen": "full", "attic_seen": True, "discharge": "none"}
TOLD = (
    "pain", "severe_pain", "blocked_feeling", "itch", "barotrauma", "vertigo",
    "tinnitus_one_sided", "facial_weakness", "bled", "bled_by_itself",
)  # fmt: skip
FOUND: tuple[dict[str, Any], ...] = (
    {"canal_skin": "inflamed"},
    {"canal_skin": "inflamed", "discharge": "blood"},
    {"canal_skin": "fungal"},
    {"bulging": True, "red": True},
    {"perforation": "central"},
    {"perforation": "central", "perforation_new": False},
    {"perforation": "marginal"},
    {"attic_grade": 3},
    {"tensa_grade": 1},
    {"effusion": "present"},
    {"discharge": "purulent", "drum_seen": "none", "attic_seen": None},
    {"wax_found": "occluding", "wax_left": "none", "clearance": "cleared"},
    {"wax_found": "occluding", "wax_left": "occluding", "clearance": "failed", "drum_seen": "none",
     "attic_seen": None},
    {"cavity": True},
    {"grommet": "in_place"},
)  # fmt: skip


@pytest.mark.parametrize("found", FOUND, ids=str)
@pytest.mark.parametrize("treated", [None, True], ids=["", "treated"])
def test_nothing_contradicts_itself_whatever_is_told_beside(
    found: dict[str, Any], treated: bool | None
) -> None:
    right = {n: v for n, v in {**DRUM, **found, "treated": treated}.items() if v is not None}
    for born in ("2019-05-01", "1960-05-01"):
        for told in TOLD:
            visit = {
                "on": "2027-01-04",
                "right": right,
                "reported": [{"what": told, "ear": "right"}],
            }
            assert contradictions(folding(_case(born, visit), PROTOCOL, LATER)) == [], told


def _case(born: str, visit: dict[str, Any]) -> Case:
    return decode_case(json.dumps({"born": born, "visits": [visit]}).encode())


@pytest.mark.parametrize("risk", ["dementia", "learning_disability"])
def test_who_may_not_have_understood_is_not_told_that_it_is_theirs_to_decide(risk: str) -> None:
    refused = {"examined": False, "not_examined": "refused"}
    case = _case("1940-05-01", {"on": "2027-01-04", "right": refused})
    at_risk = decode_case(
        b'{"born": "1940-05-01", "risks": ["%s"], "visits": [{"on": "2027-01-04", "right": '
        b'{"examined": false, "not_examined": "refused"}}]}' % risk.encode()
    )

    assert _said(folding(case, PROTOCOL, LATER), "right") == {"view-refused"}
    assert "view-refused" not in _said(folding(at_risk, PROTOCOL, LATER), "right")
