"""An explanation says what matched, what nearly did and why not, and how the dates came out."""

from __future__ import annotations

from datetime import date
from typing import Any

import msgspec

from recall.care.case import Case
from recall.protocol.loading import load
from recall.schedule.explain import Explanation, explain

ON = date(2026, 9, 1)


def explained(*visits: dict[str, Any], born: str = "2018-03-02", **more: Any) -> Explanation:
    case = msgspec.convert({"born": born, "visits": visits, **more}, Case)
    return explain(case, load(), date(2030, 1, 1))


def fluid(on: str = "2026-09-01") -> dict[str, Any]:
    return {"on": on, "right": {"drum_seen": "full", "effusion": "present"}}


def right(found: Explanation) -> Any:
    return found.ears[0]


def test_a_match_gives_its_lines_source_and_how_it_is_known() -> None:
    (look,) = [m for m in right(explained(fluid())).matched if m.startswith("fluid-child-look")]

    assert "effusion suspected or worse" in look
    assert "age under 16 (it is 8)" in look
    assert "NG233" in look
    assert "practice protocol, no published interval" in look


def test_a_clock_that_has_not_run_long_enough_names_the_day() -> None:
    """12 weeks from 1 September 2026 is 24 November: NG233, reassessed after 3 months."""
    nearly = right(explained(fluid())).nearly

    assert (
        "fluid-long-look: fluid known 12 weeks or more: not yet (not before 24 November 2026)"
        in (nearly)
    )


def test_what_was_not_recorded_is_told_from_what_was_recorded_otherwise() -> None:
    nearly = right(explained(fluid())).nearly

    assert any(n.startswith("fluid-at-risk-look") and "not recorded" in n for n in nearly)
    assert any(n.startswith("fluid-adult-look") and "otherwise (it is 8)" in n for n in nearly)


def test_an_unless_that_held_a_rule_back_says_why() -> None:
    found = explained(
        {
            "on": "2026-09-01",
            "reported": [
                "sudden_hearing_loss",
                {"what": "loss_explained", "ear": "right", "because": "fluid, with a cold"},
            ],
            "right": {"drum_seen": "full", "hearing_after": "better"},
        },
        born="1970-01-01",
    )

    (held,) = [n for n in right(found).nearly if n.startswith("sudden-loss-now")]
    assert "held back by reported loss explained" in held
    assert "A clinician recorded" in held


def test_the_dates_are_worked_out_step_by_step() -> None:
    lines = right(explained(fluid())).dates

    assert any(
        "fluid-child-look counts 4 weeks, 6 weeks and 8 weeks from the visit (1 September 2026): "
        "29 September 2026, 13 October 2026, 27 October 2026." in line
        for line in lines
    )


def test_a_target_that_has_passed_is_asked_for_now() -> None:
    """A first look after grommets within 3 months: AAO-HNSF 2022, statement 16."""
    ear = {"drum_seen": "full", "grommet": "in_place", "grommet_on": "2026-01-05"}

    lines = right(explained({"on": "2026-09-01", "right": ear})).dates

    assert any("That has passed, so it is asked for now" in line for line in lines)


def test_an_earlier_ask_says_how_it_ended_or_why_it_still_stands() -> None:
    seen = {"on": "2026-10-13", "right": {"drum_seen": "full", "effusion": "absent"}}
    hidden = {"on": "2026-10-13", "right": {"drum_seen": "none"}}

    assert any("documented clear" in a for a in explained(fluid(), seen).answered)
    (missed,) = [a for a in explained(fluid(), hidden).answered if "not answered" in a]
    assert "Its last day stays 27 October 2026." in missed


def test_nothing_to_explain_is_a_sentence_too() -> None:
    assert explained().sentences() == (
        "No visit with findings on or before that day, so nothing is asked.",
    )
