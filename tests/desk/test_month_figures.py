"""The month's figures are counted by hand here; the PDF holds them on its first page."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest
from pypdf import PdfReader
from sqlalchemy import text

from recall.clock import Clock
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.imports.importing import import_file
from recall.desk.oversight.month_figures import FigureRow, figures, rows_of
from recall.desk.oversight.month_paper import as_bars, print_month
from recall.desk.oversight.report import register_report
from recall.desk.referrals.progress import News, record, result
from recall.exchange.out import to_csv
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import (
    CLEAR,
    FLUID,
    KERATIN,
    desk_at,
    open_follow_ups,
    rows,
    somebody,
    visit,
)

RUNG = date(2026, 9, 21)


@pytest.fixture
def desk(store: Store) -> Desk:
    """Two whose fluid was seen on 1 September; one came back in October, one was rung three times.

    Calls at 10 o'clock: one in vain, one answered; at 15 o'clock one in vain.
    """
    desk = desk_at(store)
    came, rung = (somebody(desk, ref) for ref in ("W1", "W2"))
    for person in (came, rung):
        visit(desk, person, right=FLUID)
    (row,) = open_follow_ups(store, rung)
    for day, hour, outcome in ((0, 10, "no_answer"), (1, 15, "no_answer"), (2, 10, "left_message")):
        at = replace(desk, clock=Clock.at(RUNG + timedelta(days=day), hour=hour))
        contacting.log_contact(at, row["id"], None, Attempt("phone", outcome))
    at = replace(desk, clock=Clock.at(RUNG + timedelta(days=3), hour=10))
    wants = Attempt("phone", "will_call_back")
    contacting.log_contact(at, row["id"], None, wants)
    visit(replace(desk, clock=Clock.at(date(2026, 10, 20))), came, right=CLEAR)
    return replace(desk, clock=Clock.at(date(2027, 2, 1)))


def bars(desk: Desk, heading: str, month: date = date(2027, 1, 1)) -> dict[str, str]:
    (found,) = [one for one in figures(desk, month) if one.heading.startswith(heading)]
    return {bar.label: bar.says for bar in found.bars}


def test_who_came_in_time_is_told_by_the_month_in_which_it_was_due(desk: Desk) -> None:
    found = bars(desk, "Came in time")
    assert len(found) == 12
    assert found["2026-10"] == "1 of 2 people"
    assert found["2026-08"] == "0 of 0 people"


def test_calls_are_told_by_the_hour_and_step(desk: Desk) -> None:
    assert bars(desk, "Calls answered") == {"10:00": "1 of 3 calls", "15:00": "0 of 1 calls"}
    steps = bars(desk, "What came of each contact step")
    assert sum(int(says.split()[2]) for says in steps.values()) == 4
    assert sum(int(says.split()[0]) for says in steps.values()) == 1


def test_calls_from_a_file_are_told_by_the_hour_that_it_gives(desk: Desk, tmp_path: Path) -> None:
    """Three calls of one day, one without an hour; a checked address is no call."""
    somebody(desk, "W4")
    told = (
        "person,on,at,channel,outcome,by,note",
        "W4,2026-11-02,11:05,phone,no_answer,R. Thackray,",
        "W4,2026-11-02,11:50,phone,booked,,At noon.",
        "W4,2026-11-02,,phone,left_message,,",
        "W4,2026-11-03,12:00,phone,address_checked,,",
    )
    file = tmp_path / "contacts.csv"
    file.write_text("\n".join(told))
    import_file(desk, file, "contacts")

    assert bars(desk, "Calls answered")["11:00"] == "1 of 2 calls"
    assert "12:00" not in bars(desk, "Calls answered")
    steps = bars(desk, "What came of each contact step")
    assert steps["calls from a file"] == ("1 of 3 reached somebody; 1 booked, 15 min of work each")
    hours = bars(desk, "Calls answered")
    assert hours["hour not known"] == "0 of 1 calls"
    assert sum(int(says.split()[2]) for says in hours.values()) == 3 + 4


def test_no_call_is_missing_from_the_sums(desk: Desk) -> None:
    """One noted a day late, and one with no step on record, beside the four at their hours."""
    row = open_follow_ups(desk.store, rows(desk.store, tables.Person, ref="W2")[0]["id"])[0]
    day = RUNG + timedelta(days=8)
    at = replace(desk, clock=Clock.at(day + timedelta(days=1), hour=10).acting_for(day))
    contacting.log_contact(at, row["id"], None, Attempt("phone", "no_answer"))
    with desk.store.write() as session:
        session.execute(text("UPDATE contact SET step = '' WHERE id = 1"))

    hours, steps = bars(desk, "Calls answered"), bars(desk, "What came of each contact step")
    assert hours["hour not known"] == "0 of 1 calls"
    assert steps["step not known"] == "0 of 1 reached somebody; 0 booked in 5 min of work"
    for told in (hours, steps):
        assert sum(int(says.split()[2]) for says in told.values()) == 5


def test_the_days_to_each_stage_are_told_by_service(desk: Desk) -> None:
    """Asked on 1 September: sent a day later, accepted after 8, seen after 30, result after 40."""
    person = somebody(desk, "W3")
    first = replace(desk, clock=Clock.at(date(2026, 9, 1)))
    visit(first, person, right=KERATIN)
    (row,) = rows(desk.store, tables.Referral, person_id=person)
    for what, days in (("sent", 1), ("accepted", 8), ("seen", 30)):
        then = replace(desk, clock=Clock.at(date(2026, 9, 1) + timedelta(days=days)))
        record(then, row["id"], None, News(what))
    result(replace(desk, clock=Clock.at(date(2026, 10, 11))), row["id"], None, "cholesteatoma")

    found = bars(desk, "Days from asked to each stage")

    assert row["to"] == "ent"
    name = "ENT"
    assert [found[f"{name}: {what}"].split(",")[0] for what in ("sent", "accepted", "seen")] == [
        "1 day in the middle", "8 days in the middle", "30 days in the middle",
    ]  # fmt: skip
    assert found[f"{name}: result"] == "40 days in the middle, 1 of 1 with a result"


def test_what_lies_outside_the_twelve_months_is_not_counted(desk: Desk) -> None:
    assert bars(desk, "Calls answered", date(2026, 8, 1)) == {}


def test_terminal_spreadsheet_and_page_tell_the_same(desk: Desk, tmp_path: Path) -> None:
    found = figures(desk, date(2027, 1, 1))
    out = tmp_path / "month.pdf"
    print_month(desk, register_report(desk, date(2027, 1, 1)), out)

    first, *appendix = [page.extract_text() for page in PdfReader(out).pages]
    rows = list(csv.DictReader(to_csv(FigureRow, rows_of(found)).splitlines()))

    assert len(rows) == sum(len(figure.bars) for figure in found)
    days = [row for row in rows if row["figure"].startswith("Days from")]
    assert all(float(row["days"]) == float(row["says"].split()[0]) for row in days)
    assert {row["days"] for row in rows if row not in days} == {""}
    for row in rows:
        assert row["says"] in as_bars(found) and row["says"] in " ".join(first.split())
    assert appendix and appendix[0].startswith("Appendix")
    assert "History to line" in first
    assert out.stat().st_mode & 0o077 == 0
