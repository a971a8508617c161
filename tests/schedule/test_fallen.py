"""Why a line stands no more after a visit: each reason once, in words."""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec
import pytest

from recall.care.casefile import decode_case
from recall.protocol.loading import load
from recall.schedule.fallen import NOT_ASKED, why_fallen
from recall.schedule.fold import fold
from recall.schedule.plan import Decision
from recall.schedule.plan_lines import lines_of
from recall.schedule.planning import plan

FIRST, SECOND = date(2026, 12, 2), date(2027, 1, 13)
FLUID = {"drum_seen": "full", "effusion": "present"}
CLEAR = {"drum_seen": "full", "effusion": "absent", "wax_found": "none"}
AIDED = {"drum_seen": "full", "wax_found": "none"}
LEVELS = {"500": 10, "1000": 10, "2000": 10, "4000": 10}


def fallen(first: dict[str, Any], second: dict[str, Any], **given: Any) -> dict[str, str]:
    """Return why each line of the first visit's plan fell away at the second, by its name."""
    born, again = given.pop("born", "2021-05-05"), given.pop("again", SECOND)
    visits = [{"on": str(FIRST), **first}, {"on": str(again), **second}]
    case = decode_case(msgspec.json.encode({"born": born, "visits": visits, **given}))
    before = lines_of(plan(case, load(), FIRST))
    story = fold(case, load(), again)
    return {line.name: why_fallen(line, story, again) for line in before}


def test_what_is_gone_is_said_to_be_gone() -> None:
    """AAO-HNSF tubes 2022 statement 5: followed until the effusion is gone."""
    found = fallen({"right": FLUID}, {"right": CLEAR})
    assert found["fluid:right"] == "what it was for is gone"


def test_a_test_that_was_done_is_said_to_be_done() -> None:
    found = fallen(
        {"right": AIDED, "left": AIDED},
        {"right": {**AIDED, "hearing_dB": LEVELS}, "left": {**AIDED, "hearing_dB": LEVELS}},
        born="1950-05-05",
        risks=["hearing_aid"],
    )
    assert found["surveillance:both"] == "tested at this visit, and good"


def test_a_test_that_was_no_good_is_said_to_be_done() -> None:
    child = {"right": {"hearing_dB": dict.fromkeys(LEVELS, 30)}}
    found = fallen({"right": {"hearing_screen": "not_passed"}}, child)
    assert found["hearing:right"] == "tested at this visit"


def test_a_look_that_was_done_is_said_to_be_done() -> None:
    hole = {"drum_seen": "full", "perforation": "central", "perforation_new": True}
    found = fallen({"right": hole}, {"right": hole})
    assert found["perforation:right"] == "looked at, at this visit"


def test_who_is_asked_instead_is_named() -> None:
    """Common practice, no source: what ENT sees no later is not looked at here as well."""
    pain = {"what": "pain", "ear": "right", "since": "2026-11-20"}
    whole = {"drum_seen": "full", "attic_seen": True, "wax_found": "none"}
    found = fallen(
        {"right": whole, "reported": [pain]},
        {"right": {"cellulitis": True}},
        born="1990-05-05",
        again=date(2026, 12, 5),
    )
    assert found == {"drum:right": "left to ENT"}


def test_what_another_line_does_is_said_so() -> None:
    """Common practice, no source: a drum that wax hides is a wax problem."""
    found = fallen(
        {"right": {"drum_seen": "none"}},
        {"right": {"drum_seen": "none", "wax_found": "occluding", "clearance": "failed"}},
        born="1990-05-05",
    )
    assert found == {"view:right": "another line takes its place"}


def test_what_nothing_asks_for_any_more_says_so() -> None:
    """As where a finding of an earlier day is put right."""
    seen, clear = (
        decode_case(msgspec.json.encode({"born": "2021-05-05", "visits": [visit]}))
        for visit in ({"on": str(FIRST), "right": FLUID}, {"on": str(FIRST), "right": CLEAR})
    )
    (line,) = lines_of(plan(seen, load(), FIRST))
    assert why_fallen(line, fold(clear, load(), FIRST), FIRST) == NOT_ASKED


@pytest.mark.parametrize(
    ("reason", "words"),
    [("informed_decline", "they say no to it"), ("clinician_decision", "decided by hand")],
)
def test_what_somebody_ended_is_said_to_be_theirs(reason: Any, words: str) -> None:
    case = decode_case(
        msgspec.json.encode({"born": "2021-05-05", "visits": [{"on": str(FIRST), "right": FLUID}]})
    )
    (line,) = lines_of(plan(case, load(), FIRST))
    end = Decision(on=SECOND, ear="right", track="fluid", action="close", reason=reason)
    story = fold(case, load(), SECOND, decisions=(end,))
    assert why_fallen(line, story, SECOND) == words
