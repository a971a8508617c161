"""Days and times that options name: read as the desk's own fields read them."""

from __future__ import annotations

from datetime import date, datetime, time

import click
import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.cli.calls.contact import log
from recall.cli.people.entering import correct, new
from recall.cli.shared.common import DAY, PAST_DAY, day, moment, when
from recall.exchange.typed_days import read_day


@given(st.dates())
def test_a_day_reads_as_it_is_written(on: date) -> None:
    assert day(on.isoformat()) == on


@pytest.mark.parametrize(
    "text", ["20260901", "2026-W36-2", "2026-09", "2026", "2026-02-30", "31/2", "soon", ""]
)
def test_other_forms_of_the_standard_and_no_days_are_refused(text: str) -> None:
    """ISO 8601 has basic, week and reduced forms; two of them would pass the built-in reader."""
    with pytest.raises(click.BadParameter, match="is no day"):
        day(text)


SHORT = ("15/9", "15/9/26", "thu", "tomorrow", "+14", "2w", "3 Oct")


@pytest.mark.parametrize("text", SHORT)
@pytest.mark.parametrize("past", [False, True])
def test_a_short_day_is_the_one_that_the_desk_reads(text: str, past: bool) -> None:
    """Counted from the day that --on names, wherever that stands among the options."""
    kind = PAST_DAY if past else DAY
    found: list[date] = []

    @click.command()
    @click.option("--until", type=kind)
    @click.option("--on", type=DAY, is_eager=True)
    def command(until: date, on: date) -> None:
        found.append(until)

    command.main(["--until", text, "--on", "2026-09-07"], standalone_mode=False)

    assert found == [read_day(text, date(2026, 9, 7), past=past)]


def test_a_time_of_an_appointment_reads_as_in_the_field_of_its_sheet() -> None:
    assert when("2026-09-15T10:30") == when("15 sep 2026 10.30") == datetime(2026, 9, 15, 10, 30)
    with pytest.raises(click.BadParameter, match="The time is missing"):
        when("tomorrow")


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


@pytest.mark.parametrize(
    ("text", "hour"),
    [("15:00", time(15)), ("3", time(15)), ("3pm", time(15)), ("10.30", time(10, 30))],
)
def test_an_hour_that_was_agreed_reads_as_in_the_field_of_its_sheet(text: str, hour: time) -> None:
    (at,) = (option for option in log.params if option.name == "until_at")
    assert at.type_cast_value(click.Context(log), text) == hour
    with pytest.raises(click.BadParameter, match="is no time"):
        at.type_cast_value(click.Context(log), "soon")


@pytest.mark.parametrize(
    ("text", "born"), [("7/3/48", date(1948, 3, 7)), ("3/11/22", date(2022, 11, 3))]
)
def test_a_birth_date_lies_in_the_past(text: str, born: date) -> None:
    for command in (new, correct):
        (given,) = (each for each in command.params if each.name == "born")
        assert given.type_cast_value(click.Context(command), text) == born


@pytest.mark.parametrize(
    ("typed", "day", "hour"),
    [
        (["--until", "thu 3"], 10, time(15)),
        (["--until", "15/9 10.30"], 15, time(10, 30)),
        (["--until", "15/9"], 15, None),
        (["--until", "2026-09-15"], 15, None),
        (["--until", "15/9", "--at", "4"], 15, time(16)),
        (["--at", "4", "--until", "15/9"], 15, time(16)),
        (["--until", "15/9 10.30", "--at", "4"], 15, time(16)),
    ],
)
def test_the_day_agreed_takes_its_hour_with_it(
    typed: list[str], day: int, hour: time | None
) -> None:
    """As the desk's field of the next call does; an hour of its own option stands above it."""
    given = ["W1573", "call-again-on", *typed, "--on", "2026-09-07"]
    read = log.make_context("log", given).params

    assert (read["until"], read["until_at"]) == (date(2026, 9, day), hour)


def test_an_agreed_day_that_is_none_is_said_to_be_none() -> None:
    with pytest.raises(click.BadParameter, match="is no day"):
        log.make_context("log", ["W1573", "call-again-on", "--until", "soon"])
