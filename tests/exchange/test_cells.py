"""Days, times, words and lists of words as people write them."""

from __future__ import annotations

from datetime import date, time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.care.case import Reported, Risk
from recall.care.dates import Before
from recall.exchange.cells import Cells, choice, parse_day
from recall.exchange.problem import Wrong
from recall.exchange.word_lists import reports, risks

CELLS = Cells("DD/MM/YYYY", "GB", date(2026, 9, 1))


@pytest.mark.parametrize(
    ("text", "pattern"),
    [
        ("02/03/2018", "DD/MM/YYYY"),
        ("2/3/2018", "DD/MM/YYYY"),
        ("02.03.2018", "DD/MM/YYYY"),
        ("02/03/2018 00:00:00", "DD/MM/YYYY"),
        ("2018-03-02", "DD/MM/YYYY"),
        ("2018-03-02T00:00:00Z", "DD/MM/YYYY"),
        ("03/02/2018", "MM/DD/YYYY"),
        ("02-Mar-2018", "DD-MON-YYYY"),
        ("2 March 2018", "DD MON YYYY"),
        ("20180302", "YYYYMMDD"),
    ],
)
def test_days_are_read_in_the_files_format_and_in_iso_8601(text, pattern):
    assert parse_day(text, pattern) == date(2018, 3, 2)


@given(st.dates(), st.sampled_from(["%d/%m/%Y", "%m/%d/%Y", "%Y%m%d", "%d-%b-%Y"]))
def test_days_agree_with_the_standard_library(day, style):
    ours = {"%d": "DD", "%m": "MM", "%b": "MON", "%Y": "YYYY"}
    pattern = style
    for theirs, name in ours.items():
        pattern = pattern.replace(theirs, name)
    text = day.strftime(style.replace("%Y", f"{day.year:04d}"))

    assert parse_day(text, pattern) == day


@pytest.mark.parametrize(
    "text", ["30/02/2018", "31/04/2018", "2/3/18", "March", "", "43161", "02/03/2018 x", "١/٢/٢٠١٨"]
)
def test_what_is_no_day_is_refused(text):
    with pytest.raises(Wrong):
        parse_day(text, "DD/MM/YYYY")


def test_a_month_written_first_is_guessed_at():
    with pytest.raises(Wrong) as caught:
        parse_day("03/25/2018", "DD/MM/YYYY")
    assert "MM/DD/YYYY" in caught.value.right


@pytest.mark.parametrize(("text", "right"), [("2/3/18", "four digits"), ("43161", "day number")])
def test_usual_slips_of_spreadsheets_are_named(text, right):
    with pytest.raises(Wrong) as caught:
        parse_day(text, "DD/MM/YYYY")
    assert right in caught.value.right


@pytest.mark.parametrize("text", ["02/09/2026", "01/01/1026"])
def test_days_to_come_and_days_before_anybody_are_refused(text):
    with pytest.raises(Wrong):
        CELLS.past_day(text)


def test_today_itself_is_past():
    assert CELLS.past_day("01/09/2026") == CELLS.today


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("2026-08", "2026-08"),
        ("15/08/2026", "2026-08-15"),
        ("6 weeks", Before(weeks=6)),
        ("1 month before", Before(months=1)),
        ("3 Days ago", Before(days=3)),
    ],
)
def test_vague_days_stay_as_vague_as_they_were(text, expected):
    assert CELLS.when(text) == expected


@pytest.mark.parametrize("text", ["yes", "Y", "TRUE", "1"])
def test_yes(text):
    assert CELLS.yes_no(text) is True


@pytest.mark.parametrize("text", ["no", "n", "False", "0"])
def test_no(text):
    assert CELLS.yes_no(text) is False


def test_anything_else_is_neither_yes_nor_no():
    with pytest.raises(Wrong):
        CELLS.yes_no("perhaps")


def test_times():
    assert CELLS.clock("9:05") == time(9, 5)
    assert CELLS.clock("14.30") == time(14, 30)
    with pytest.raises(Wrong):
        CELLS.clock("24:00")


def test_words_in_any_case_and_the_nearest_is_named():
    decode = choice(["did_not_attend", "was_not_brought"])

    assert decode(CELLS, "Was not brought") == "was_not_brought"
    with pytest.raises(Wrong) as caught:
        decode(CELLS, "did not atend")
    assert "did_not_attend" in caught.value.right


def test_names_keep_their_letters_and_lose_what_cannot_be_seen():
    assert CELLS.text("  Zoe\u0308\u00a0 \u202eLee\u200b ") == "Zoë Lee"
    assert CELLS.text("’t Hooft") == "’t Hooft"


def test_address_lines_part_at_breaks_else_semicolons_else_commas():
    assert CELLS.lines("Flat 2, Old Mill\n3 Mill Lane") == ("Flat 2, Old Mill", "3 Mill Lane")
    assert CELLS.lines("Flat 2, Old Mill; 3 Mill Lane") == ("Flat 2, Old Mill", "3 Mill Lane")
    assert CELLS.lines("Flat 2, Mill Lane") == ("Flat 2", "Mill Lane")


def test_risks_take_an_ear_and_days():
    found = risks(CELLS, "Hearing aid right since 01/02/2020; diabetes; previous_grommet LEFT;")

    assert found == (
        Risk(what="hearing_aid", ear="right", since="2020-02-01"),
        "diabetes",
        Risk(what="previous_grommet", ear="left"),
    )


def test_reports_take_an_ear_a_day_and_how_fast_it_came_on():
    found = reports(CELLS, "sudden hearing loss left since 3 days over 1 day; vertigo")

    assert found[0] == Reported(
        what="sudden_hearing_loss", ear="left", since=Before(days=3), onset_days=1
    )
    assert found[1] == "vertigo"


@pytest.mark.parametrize(
    ("told", "days"), [("over 3 weeks", 21), ("over 2 months", 60), ("over 1 year", 365)]
)
def test_what_came_on_over_weeks_or_longer_is_told_in_days(told, days):
    """A month of 30 and a year of 365 days: common practice, the shorter reading."""
    (found,) = reports(CELLS, f"worsening hearing loss left {told}")

    assert found == Reported(what="worsening_hearing_loss", ear="left", onset_days=days)


@pytest.mark.parametrize("text", ["diabetis", "since 2020", "hearing aid over 3 days", "; x"])
def test_unknown_words_in_lists_are_refused(text):
    with pytest.raises(Wrong):
        risks(CELLS, text)
