"""Spans and ranges as a protocol writes them; every day and edge here was worked out by hand.

1 September 2026 is a Tuesday. The last day of a shorter month stands for one that it lacks.
"""

from __future__ import annotations

from datetime import date

import pytest

from recall.errors import ProtocolError
from recall.protocol.spans import read_range, span


@pytest.mark.parametrize(
    ("text", "start", "day"),
    [
        ("0 days", date(2026, 9, 1), date(2026, 9, 1)),
        ("1 day", date(2026, 9, 30), date(2026, 10, 1)),
        ("2 weeks", date(2026, 9, 1), date(2026, 9, 15)),
        ("1 month", date(2026, 1, 31), date(2026, 2, 28)),
        ("3 months", date(2026, 9, 1), date(2026, 12, 1)),
        ("1 year", date(2024, 2, 29), date(2025, 2, 28)),
        ("2 years", date(2026, 9, 1), date(2028, 9, 1)),
        ("0 working days", date(2026, 9, 5), date(2026, 9, 5)),
        ("1 working day", date(2026, 9, 2), date(2026, 9, 3)),
        ("1 working day", date(2026, 9, 3), date(2026, 9, 4)),
        ("1 working day", date(2026, 9, 4), date(2026, 9, 7)),
        ("1 working day", date(2026, 9, 5), date(2026, 9, 7)),
        ("1 working day", date(2026, 9, 6), date(2026, 9, 7)),
        ("2 working days", date(2026, 9, 3), date(2026, 9, 7)),
        ("5 working days", date(2026, 9, 4), date(2026, 9, 11)),
    ],
)
def test_a_span_ends_so_long_after_its_start(text: str, start: date, day: date) -> None:
    assert span(text).after(start) == day


@pytest.mark.parametrize("text", ["1 day", "2 days", "1 working day", "0 weeks", "12 months"])
def test_a_span_is_said_as_it_is_written(text: str) -> None:
    assert str(span(text)) == text


@pytest.mark.parametrize("text", ["", "soon", "6 week s", "a week", "-1 days", "1.5 weeks", "6"])
def test_what_is_no_length_of_time_is_refused_with_an_example(text: str) -> None:
    with pytest.raises(ProtocolError, match="is not a length of time") as refused:
        span(text)
    assert refused.value.hint == 'Write it like "6 weeks" or "10 days".'


@pytest.mark.parametrize(
    ("text", "inside", "outside"),
    [
        ("under 16", [0, 15], [16, 17]),
        ("within 72", [0, 72], [73]),
        ("over 30", [31, 90], [29, 30]),
        ("2 or more", [2, 3], [0, 1]),
        ("25 dB or worse", [25, 40.5], [24.9]),
        ("25 dB or over", [25], [24]),
        ("4 to 90", [4, 90], [3, 91]),
        ("exactly 5", [5], [4, 6]),
        ("under 2.5", [2.4], [2.5]),
        ("1 week or more", [7], [6]),
        ("within 2 weeks", [14], [15]),
        ("2 or more or never", [2], [1]),
        ("never", [], [0, 10_000]),
    ],
)
def test_a_range_holds_its_edges_as_written(
    text: str, inside: list[float], outside: list[float]
) -> None:
    found = read_range(text)

    assert [n for n in inside if not found.holds(n)] == []
    assert [n for n in outside if found.holds(n)] == []


@pytest.mark.parametrize(
    ("text", "unit", "never"),
    [
        ("2 or more", "number", False),
        ("25 dB or worse", "dB", False),
        ("under 1 day", "days", False),
        ("under 2 weeks", "days", False),
        ("1 month or more", "months", False),
        ("under 2 years or never", "years", True),
        ("never", "days", True),
    ],
)
def test_a_range_knows_its_unit_and_whether_never_is_meant(
    text: str, unit: str, never: bool
) -> None:
    found = read_range(text)

    assert (found.text, found.unit, found.never) == (text, unit, never)


@pytest.mark.parametrize(
    ("text", "end", "holds"),
    [
        ("under 3 months", date(2026, 4, 29), True),
        ("under 3 months", date(2026, 4, 30), False),
        ("3 months or more", date(2026, 4, 29), False),
        ("3 months or more", date(2026, 4, 30), True),
        ("1 year or more", date(2027, 1, 30), False),
        ("1 year or more", date(2027, 1, 31), True),
        ("under 4 weeks", date(2026, 2, 27), True),
        ("under 4 weeks", date(2026, 2, 28), False),
    ],
)
def test_a_length_of_time_is_counted_on_the_calendar_in_its_unit(
    text: str, end: date, holds: bool
) -> None:
    assert read_range(text).holds_between(date(2026, 1, 31), end) is holds


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("under 3 months", date(2026, 1, 31)),
        ("3 months or more", date(2026, 4, 30)),
        ("2 weeks or more or never", date(2026, 2, 14)),
        ("over 30 days", date(2026, 3, 3)),
        ("never", None),
    ],
)
def test_a_range_of_time_begins_on_a_day(text: str, day: date | None) -> None:
    assert read_range(text).starts_on(date(2026, 1, 31)) == day


@pytest.mark.parametrize(
    "text",
    ["", "12", "below 16", "over 3 months", "within 2 years", "1 to 2 months", "exactly 1 year",
     "5 or less", "under"],
)  # fmt: skip
def test_what_is_no_range_is_refused_with_examples(text: str) -> None:
    with pytest.raises(ProtocolError, match="is not a range") as refused:
        read_range(text)
    assert refused.value.hint is not None
    assert '"under 12 weeks"' in refused.value.hint
