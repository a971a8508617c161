"""A morning without the machine: everything that the day asks for is on paper, each once."""

from __future__ import annotations

import re
from datetime import date, time, timedelta
from pathlib import Path

import msgspec
import pdfplumber
import pytest

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.oversight.morning_papers import KEPT, paper_of, write_papers
from recall.desk.practice.matters import Entry, write_down
from recall.desk.worklists.appointments import day
from recall.desk.worklists.call_card import call_cards, order
from recall.errors import InputError
from recall.letters.list_pages import Part
from recall.loop.outcomes import OUTCOMES
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.posting import book, child_with_fluid, object_, on
from tests.desk.practice import (
    CLEAR,
    DAY,
    desk_at,
    open_follow_ups,
    rows,
    somebody,
    visit,
    with_files,
)

LATE = DAY + timedelta(days=70)
HOLE = msgspec.structs.replace(CLEAR, perforation="central")


@pytest.fixture
def desk(store: Store, tmp_path: Path) -> Desk:
    return with_files(desk_at(store), papers=tmp_path / "papers")


def to_be_rung(desk: Desk, ref: str) -> int:
    """Somebody who is to be rung again on a day."""
    person = child_with_fluid(desk, ref)
    agree(desk, person)
    return person


def agree(desk: Desk, person: int, at: time | None = None) -> None:
    """Agree to ring again on the day."""
    (row,) = open_follow_ups(desk.store, person)
    agreed = Attempt("phone", "call_again_on", until=LATE, until_at=at)
    contacting.log_contact(on(desk, LATE - timedelta(days=3)), row["id"], None, agreed)


def part(desk: Desk, heading: str) -> Part:
    (found,) = [one for one in paper_of(desk).parts if one.heading.startswith(heading)]
    return found


def words(part: Part) -> list[str]:
    """Each row of a table as text."""
    return [" ".join(said.says for cell in row for said in cell) for row in part.rows]


def test_everybody_on_the_call_list_is_there_once_with_number_and_what_to_say(desk: Desk) -> None:
    for ref in ("W1", "W2", "W3"):
        to_be_rung(desk, ref)
    then = on(desk, LATE)

    told = words(part(then, "To be rung"))

    assert len(told) == len(order(then)) == 3
    for ref in ("W1", "W2", "W3"):
        assert sum(ref in row for row in told) == 1
    assert all("Say: We would like to look at the ear again." in row for row in told)
    assert [row.count("the same number: ") for row in told] == [0, 1, 1]
    assert all("441632960321" in row for row in told), "the first may lie on the sheet before"


def test_a_call_that_was_promised_stands_by_itself_with_its_hour(desk: Desk) -> None:
    agree(desk, child_with_fluid(desk, "W1"), time(14, 30))

    then = on(desk, LATE)

    (promised,) = words(part(then, "Calls that were promised"))
    assert promised.startswith("14:30") and "W1" in promised
    assert words(part(then, "To be rung")) == []


def test_the_days_appointments_are_there_with_what_to_know(desk: Desk) -> None:
    person = somebody(desk, "W1")
    visit(desk, person, right=HOLE)
    book(desk, person)
    (row,) = rows(desk.store, tables.Booking)
    then = on(desk, row["starts_local"].date())

    (said,) = words(part(then, "Appointments today"))

    (appointment,) = day(then, clinical=True)
    assert "W1" in said and f"{appointment.starts_local:%H:%M}" in said
    assert appointment.cautions
    assert all(f"! {each}" in said for each in appointment.cautions)
    assert appointment.number in said


def test_promised_calls_stand_in_the_order_of_their_hours(desk: Desk) -> None:
    for ref, hour in (("W1", 15), ("W2", 9), ("W3", 11)):
        agree(desk, child_with_fluid(desk, ref), time(hour))

    promised = words(part(on(desk, LATE), "Calls that were promised"))

    assert [row[:5] for row in promised] == ["09:00", "11:00", "15:00"]


def test_the_next_open_days_appointments_stand_behind(desk: Desk) -> None:
    person = somebody(desk, "W1")
    visit(desk, person, right=HOLE)
    book(desk, person)
    (row,) = rows(desk.store, tables.Booking)

    before = on(desk, row["starts_local"].date() - timedelta(days=1))

    assert words(part(before, "Appointments today")) == []
    (said,) = words(part(before, "Appointments on"))
    assert "W1" in said and paper_of(before).parts[-1].heading.startswith("Appointments on")


def test_what_else_is_due_by_the_day_is_there_and_nothing_of_later(desk: Desk) -> None:
    for text, due in (("ring the surgery", LATE), ("order the forms", LATE + timedelta(days=1))):
        write_down(desk, None, Entry("message", text, due=due))

    (said,) = words(part(on(desk, LATE), "Other things"))

    assert "ring the surgery" in said


def test_what_may_come_of_a_call_is_that_of_the_table(desk: Desk) -> None:
    (told,) = [line for line in paper_of(desk).told if line.startswith("What came")]
    assert all(one.short in told for one in OUTCOMES)


def test_nothing_clinical_and_nobody_who_may_not_be_rung_is_on_it(desk: Desk) -> None:
    to_be_rung(desk, "W1")
    object_(desk, to_be_rung(desk, "W2"))
    text = " ".join(row for one in paper_of(on(desk, LATE)).parts for row in words(one))

    assert "2020, W1" in text and "2020, W2" not in text
    assert "effusion" not in text and "fluid" not in text.casefold()


def test_the_file_is_for_its_owner_alone_and_old_ones_go(desk: Desk) -> None:
    """Kept by day: a week, then removed; what somebody else put there stays."""
    child_with_fluid(desk, "W1")
    folder = desk.config.files.papers
    days = [DAY, DAY + KEPT, DAY + KEPT + timedelta(days=1)]
    made = [write_papers(on(desk, each)) for each in days[:2]]
    (folder / "notes.txt").write_text("ours")
    assert all(path.is_file() for path in made)

    made.append(write_papers(on(desk, days[2])))

    assert [path.is_file() for path in made] == [False, True, True]
    assert (folder / "notes.txt").is_file()
    assert {path.stat().st_mode & 0o077 for path in made[1:]} == {0}
    with pdfplumber.open(made[2]) as pdf:
        text = "\n".join(page.extract_text() for page in pdf.pages)
    assert "Appointments today" in text and "Nothing." in text


def test_a_folder_that_cannot_be_made_is_said(desk: Desk) -> None:
    desk.config.files.papers.write_text("in the way")
    with pytest.raises(InputError, match="cannot be made"):
        write_papers(on(desk, date(2026, 9, 2)))


def test_the_days_to_offer_are_spread_for_nobody_makes_the_paper_anew(desk: Desk) -> None:
    """Three of one window: on the screen each booking moves the next offer, on paper none does."""
    for ref in ("W1", "W2", "W3"):
        to_be_rung(desk, ref)
    morning = on(desk, LATE)

    offered = re.findall(r"offer (\d+ \w+ \d{4})", str(part(morning, "To be rung").rows))
    on_screen = {card.offer_on for card in call_cards(morning, order(morning))}

    assert len(offered) == len(set(offered)) == 3
    assert len(on_screen) == 1
