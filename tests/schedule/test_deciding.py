"""What somebody who may decide makes of a due: other dates in order, or an ask by category."""

from __future__ import annotations

from datetime import date
from typing import Any

from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case
from recall.protocol.loading import load
from recall.schedule.deciding import by_category, moved
from recall.schedule.fold import folding
from recall.schedule.plan import Decision, Due

ON = date(2026, 9, 10)


def due() -> Due:
    """Return a child's fluid due: 29 September, 13 and 27 October 2026."""
    visit = {"on": "2026-09-01", "right": {"drum_seen": "full", "effusion": "present"}}
    case = convert({"born": "2018-03-02", "visits": [visit]}, Case)
    return folding(case, load(), date(2030, 1, 1)).open["right", "fluid", "recheck"]


def to(**days: Any) -> tuple[str, str, str]:
    decision = Decision(on=ON, ear="right", track="fluid", action="move", **days)
    found = moved(due(), decision)
    return str(found.earliest), str(found.target), str(found.latest)


def test_only_what_is_said_moves_and_the_window_never_runs_backwards() -> None:
    october, november = date(2026, 10, 20), date(2026, 11, 3)

    assert to() == ("2026-09-29", "2026-10-13", "2026-10-27")
    assert to(target=october) == ("2026-09-29", "2026-10-20", "2026-10-27")
    assert to(earliest=october) == ("2026-10-20", "2026-10-20", "2026-10-27")
    assert to(latest=november) == ("2026-09-29", "2026-10-13", "2026-11-03")
    assert to(target=november) == ("2026-09-29", "2026-11-03", "2026-11-03")
    assert to(latest=date(2026, 10, 1)) == ("2026-09-29", "2026-10-13", "2026-10-13")


def test_a_due_that_was_moved_is_asked_on_the_day_of_the_decision() -> None:
    decision = Decision(on=ON, ear="right", track="fluid", action="move", urgency="high")

    found = moved(due(), decision)
    assert (found.asked_on, found.urgency) == (ON, "high")
    assert moved(due(), replace(decision, urgency=None)).urgency == "medium"


def test_an_ask_by_category_says_so() -> None:
    decision = Decision(on=ON, ear="right", action="ask", category="wax_routine")

    found = by_category(decision, load(), False)
    assert isinstance(found, Due)
    assert (found.rule, found.rule_version) == ("category-wax-routine", 1)
