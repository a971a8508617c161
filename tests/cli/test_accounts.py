"""`recall accounts`, as it is typed."""

from __future__ import annotations

import csv
import io
import json

import pytest

from recall.errors import InputError
from recall.records.database.store import Store
from tests.cli.test_loop_commands import Typed, follow_up, typed

__all__ = ["follow_up", "typed"]


def test_the_page_says_what_became_of_each_and_what_they_sum_to(
    typed: Typed, follow_up: int
) -> None:
    status, out, _ = typed("accounts", "--quarter", "2026Q4", on="2027-01-20")

    assert status == 0
    assert out.startswith("Wrenfield Ear Care: every ask due from 1 October 2026 to 31 December")
    rows = [line for line in out.splitlines() if line.startswith("  late, not booked")]
    total = next(line for line in out.splitlines() if line.startswith(" all of them"))
    assert rows[0].split()[-5:] == total.split()[-5:]
    assert "0 of 2 people came in time: 0% (0% to 66%)." in out


def test_each_number_opens_its_people(typed: Typed, follow_up: int) -> None:
    days = ("--from", "2026-09-01", "--to", "2026-12-31")
    _, out, _ = typed("accounts", *days, "--show", "late", on="2027-01-20")
    assert "W1 Rowan Thackwell, born 2020-03-02: fluid recheck, right" in out
    _, out, _ = typed(
        "accounts", *days, "--show", "missed", "--age", "65 to 79", "--json", on="2027-01-20"
    )
    assert [row["reference"] for row in json.loads(out)] == ["W2"]
    _, out, _ = typed(
        "accounts", *days, "--show", "not-sent-late", "--referrals", "--asked", on="2027-01-20"
    )
    assert "asked for, late to be sent" in out


def test_a_line_for_each_kind_and_as_data(typed: Typed, follow_up: int) -> None:
    month = ("--month", "2026-09", "--asked")
    _, out, _ = typed("accounts", *month, "--split", "age")
    counts, came, *_ = out.split("\n\n")
    assert [line[:8] for line in counts.splitlines()[1:]] == ["4 to 15 ", "65 to 79"]
    assert [line[:10] for line in came.splitlines()[1:]] == ["  4 to 15 ", "  65 to 79"]
    _, out, _ = typed("accounts", *month, "--csv")
    rows = list(csv.DictReader(io.StringIO(out.removeprefix("\ufeff"))))
    _, out, _ = typed("accounts", *month, "--csv", "--split", "urgency")
    split = list(csv.DictReader(io.StringIO(out.removeprefix("\ufeff"))))
    assert sum(int(r["asks"]) for r in rows) == sum(int(r["asks"]) for r in split) > 0


@pytest.mark.parametrize(
    "words",
    [
        ("--quarter", "2026Q5"),
        ("--month", "2026-13"),
        ("--month", "2026-09", "--quarter", "2026Q3"),
        ("--from", "2026-09-01"),
        ("--from", "2026-09-02", "--to", "2026-09-01"),
        ("--show", "gone"),
    ],
)
def test_what_names_no_days_or_no_state_is_refused(typed: Typed, words: tuple[str, ...]) -> None:
    status, _, err = typed("accounts", *words)

    assert status == InputError.exit_code
    assert err


@pytest.mark.parametrize(
    ("axis", "known"),
    [
        ("practitioner", "clara"),
        ("site", "None is known here."),
        ("kind", "fluid_recheck"),
        ("urgency", "emergency, urgent, high, medium, low"),
        ("age", "4 to 15"),
    ],
)
def test_a_word_that_nothing_here_has_is_refused_and_never_a_sheet_of_zeros(
    typed: Typed, follow_up: int, axis: str, known: str
) -> None:
    status, out, err = typed("accounts", f"--{axis}", "zzz")

    assert (status, out) == (InputError.exit_code, "")
    assert err.startswith(f"The {axis} 'zzz' is not known here.") and known in err


def test_every_word_that_an_account_is_split_by_narrows_it(typed: Typed, follow_up: int) -> None:
    days = ("--from", "2026-09-01", "--to", "2027-12-31", "--asked")
    for axis in ("kind", "urgency", "age"):
        _, out, _ = typed("accounts", *days, "--split", axis, "--json")
        rows = [row for row in json.loads(out) if row["of"] == "re-checks"]
        words = {row["by"].removeprefix(f"{axis} ") for row in rows} - {"not known"}
        assert words
        for word in words:
            _, out, _ = typed("accounts", *days, f"--{axis}", word, "--json")
            mine = sum(r["asks"] for r in rows if r["by"] == f"{axis} {word}")
            assert sum(r["asks"] for r in json.loads(out) if r["of"] == "re-checks") == mine


def test_csv_begins_with_the_mark_by_which_a_spreadsheet_opens_accents(
    typed: Typed, follow_up: int
) -> None:
    """RFC 3629, section 6: the byte order mark as the signature of UTF-8."""
    for words in (
        ("accounts", "--csv"),
        ("queue", "--csv"),
        ("report", "--csv"),
        ("report", "--csv", "--charts"),
        ("jobs", "status", "--csv"),
    ):
        _, out, _ = typed(*words)
        assert out.startswith("\ufeff") and out.count("\ufeff") == 1, words


def test_the_month_of_a_report_is_named_as_a_month_or_by_a_day_of_it(
    typed: Typed, follow_up: int
) -> None:
    on = "2026-12-05"
    whole = typed("report", "--month", "2026-10", on=on)

    assert whole == typed("report", "--month", "2026-10-09", on=on)
    assert whole[0] == 0 and "1 October 2026" in whole[1].splitlines()[0]
    status, out, err = typed("report", "--month", "2026-13", on=on)
    assert (status, out) == (InputError.exit_code, "") and "no day" in err


def test_without_days_it_is_the_last_whole_month(typed: Typed, store: Store) -> None:
    _, out, _ = typed("accounts")
    assert "every ask due from 1 August 2026 to 31 August 2026" in out
