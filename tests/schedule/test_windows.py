"""Windows from an anchor, asks for now, and the days of a referral's stages."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from recall.protocol.loading import Stages as Spans
from recall.protocol.loading import Window, load
from recall.protocol.spans import span
from recall.schedule.windows import Dates, from_anchor, not_before, stage_days

DAY = date(2026, 9, 1)


def window(earliest: str, target: str, latest: str) -> Window:
    return Window(span(earliest), span(target), span(latest))


def test_a_window_is_counted_from_its_anchor_and_never_chained() -> None:
    """31 January and a month is the month's last day; two months are 31 March again."""
    found = from_anchor(window("1 month", "2 months", "3 months"), date(2026, 1, 31))

    assert (found.earliest, found.target, found.latest) == (
        date(2026, 2, 28),
        date(2026, 3, 31),
        date(2026, 4, 30),
    )


def test_spans_of_two_units_that_cross_in_february_stand_still() -> None:
    """From 31 January, 4 weeks and 1 day is 1 March and a month is 28 February."""
    found = from_anchor(window("29 days", "1 month", "1 month"), date(2026, 1, 31))

    assert found.earliest == found.target == found.latest == date(2026, 3, 1)


@pytest.mark.parametrize(
    ("earliest", "target", "latest", "expected"),
    [
        (0, 7, 14, (0, 7, 14)),
        (-1, 7, 14, (0, 7, 14)),
        (-7, 0, 3, (0, 0, 3)),
        (-7, -1, 60, (0, 0, 60)),
        (-30, -20, -10, None),
    ],
)
def test_what_is_past_asks_for_now_and_never_for_a_day_gone(
    earliest: int, target: int, latest: int, expected: tuple[int, int, int] | None
) -> None:
    days = [DAY + timedelta(days=n) for n in (earliest, target, latest)]

    found = not_before(Dates(*days), DAY, load())

    soon = load().now_latest.after(DAY)
    wanted = [DAY + timedelta(days=n) for n in expected] if expected else [DAY, DAY, soon]
    assert [found.earliest, found.target, found.latest] == wanted


def test_stages_of_a_referral_never_run_backwards() -> None:
    found = stage_days(Spans(span("3 days"), span("1 day"), span("2 days"), span("0 days")), DAY)

    late = DAY + timedelta(days=3)
    assert (found.sent_by, found.accepted_by, found.seen_by, found.result_by) == (late,) * 4
