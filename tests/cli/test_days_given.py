"""Days and times that options name: one form each, and nothing is guessed."""

from __future__ import annotations

from datetime import date, datetime

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.cli.shared.common import day, moment


@given(st.dates())
def test_a_day_reads_as_it_is_written(on: date) -> None:
    assert day(on.isoformat()) == on


@pytest.mark.parametrize(
    "text",
    ["20260901", "2026-W36-2", "2026-09", "2026", "2026-9-1", "2026-02-30", "01/09/2026", ""],
)
def test_other_forms_of_the_standard_and_no_days_are_refused(text: str) -> None:
    """ISO 8601 has basic, week and reduced forms; two of them would pass the built-in reader."""
    with pytest.raises(click.BadParameter, match="write it as YYYY-MM-DD"):
        day(text)


@given(st.datetimes())
def test_a_time_reads_as_it_is_written(at: datetime) -> None:
    whole = at.replace(second=0, microsecond=0)

    assert moment(whole.isoformat(timespec="minutes")) == whole
    assert moment(whole.isoformat(" ", "minutes")) == whole


def test_an_offset_is_kept() -> None:
    assert moment("2026-09-01T12:00+02:00") == datetime.fromisoformat("2026-09-01T10:00+00:00")


@pytest.mark.parametrize("text", ["2026-09-01", "2026-09-01T25:00", "12:00", "2026-09-01T1200"])
def test_a_day_alone_is_no_time(text: str) -> None:
    with pytest.raises(ValueError):
        moment(text)
