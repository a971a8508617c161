"""`recall ahead`, as it is typed."""

from __future__ import annotations

import csv
import io
import json

import pytest

from recall.cli.main import main
from recall.errors import InputError
from tests.cli.test_loop_commands import Typed, follow_up, typed

__all__ = ["follow_up", "typed"]


def test_the_weeks_are_told_and_where_the_calendar_ends(typed: Typed, follow_up: int) -> None:
    status, out, _ = typed("ahead", "--weeks", "20")

    assert status == 0
    assert out.startswith("20 weeks from 31 August 2026, in hours of appointments")
    assert "Public holidays are known to 31 December" in out
    assert "No rota:" in out


def test_the_weeks_as_data_and_by_group(typed: Typed, follow_up: int) -> None:
    _, out, _ = typed("ahead", "--weeks", "20", "--csv")
    rows = list(csv.DictReader(io.StringIO(out.removeprefix("\ufeff"))))
    _, out, _ = typed("ahead", "--weeks", "20", "--split", "practitioner", "--json")
    split = json.loads(out)

    assert len(rows) == 20
    wanted = sum(int(row["wanted"]) for row in rows)
    assert wanted == sum(row["wanted"] for row in split) > 0
    assert "not said" not in typed("ahead", "--split", "site")[1]


def test_levelled_days_lie_in_their_windows(typed: Typed, follow_up: int) -> None:
    _, out, _ = typed("ahead", "--weeks", "30", "--level", "--json")

    rows = json.loads(out)
    assert rows
    assert all(row["earliest"] <= row["proposed"] <= row["latest"] for row in rows)
    assert "sum of squared minutes" in typed("ahead", "--weeks", "30", "--level")[1]


def test_what_if_changes_nothing(typed: Typed, follow_up: int) -> None:
    before = typed("ahead", "--csv")[1]
    status, out, _ = typed("ahead", "--portion", "1")

    assert status == 0 and "Nothing was changed." in out
    assert typed("ahead", "--open", "2026-09-05", "--csv")[1].startswith("\ufefffollow_up,")
    assert typed("ahead", "--csv")[1] == before


def test_a_short_day_is_read_where_no_other_day_is_given(
    typed: Typed, follow_up: int, capfd: pytest.CaptureFixture[str]
) -> None:
    """The Saturday that comes next is named; the settings are those of the folder."""
    typed("ahead")  # it stands in the practice's folder on a day of September
    status = main(["ahead", "--open", "sat", "--by", "rob"])

    said = capfd.readouterr()
    assert (status, said.err) == (0, "")
    assert "Nothing was changed." in said.out


@pytest.mark.parametrize(
    "words",
    [
        ("--level", "--split", "skill"),
        ("--from", "2026-09-01"),
        ("--away", "nobody"),
        ("--open", "2026-09-02"),
    ],
)
def test_what_cannot_be_is_refused(typed: Typed, words: tuple[str, ...]) -> None:
    status, _, err = typed("ahead", *words)

    assert status == InputError.exit_code
    assert err
