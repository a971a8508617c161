"""A line that was raised leaves days in which it can be booked."""

from __future__ import annotations

from datetime import date

import msgspec
import pytest

from recall.care.case import Urgency
from recall.protocol.loading import load
from recall.schedule.deciding import raised
from recall.schedule.plan import Decision
from tests.schedule.test_judging import case, folded, visit


@pytest.mark.parametrize(
    ("urgency", "window"),
    [
        # 90, 182 and 212 days of routine, moved to a last day in 84 or 14 days in proportion
        ("high", (date(2027, 1, 5), date(2027, 2, 11), date(2027, 2, 23))),
        ("urgent", (date(2026, 12, 6), date(2026, 12, 13), date(2026, 12, 15))),
    ],
)
def test_a_raised_line_of_wax_can_be_booked(
    urgency: Urgency, window: tuple[date, date, date]
) -> None:
    """Common practice, no source: it opens no sooner than it must."""
    on = date(2026, 12, 1)
    blocked = {"wax_found": "occluding", "clearance": "cleared", "wax_left": "none"}
    of = case(visit(on.isoformat(), right=blocked), risks=["hearing_aid"])
    before = folded(of).open["right", "wax", "recheck"]
    more = {"ear": "right", "track": "wax", "rule": before.rule, "urgency": urgency}
    made = Decision(on=on, action="weigh", reason="clinician_decision", **more)
    after = folded(of, made).open["right", "wax", "recheck"]
    assert (after.earliest, after.target, after.latest) == window


def test_a_try_at_wax_that_is_raised_leaves_drops_their_five_days() -> None:
    """NICE NG98 (2018), earwax: drops for up to 5 days; Devon: for at least 5."""
    on = date(2026, 12, 1)
    failed = {"wax_found": "occluding", "clearance": "failed", "wax_left": "occluding"}
    of = case(visit(on.isoformat(), right=failed))
    before = folded(of).open["right", "wax", "recheck"]
    assert before.earliest == date(2026, 12, 6)
    late = msgspec.structs.replace(before, latest=date(2027, 1, 5), target=date(2026, 12, 22))
    after = raised(late, "urgent", on, load())
    assert (after.earliest, after.target, after.latest) == (
        date(2026, 12, 6), date(2026, 12, 9), date(2026, 12, 15),
    )  # fmt: skip
