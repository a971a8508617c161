"""Letters to one recipient at one home share an envelope; no others do.

That one envelope holds all that goes to one reader is the practice's wish; common practice, no
source.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest
from pypdf import PdfReader
from sqlalchemy import select, update

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.people.deaths import record_death
from recall.desk.post.batches import prepare
from recall.desk.post.envelopes import marks, on_letters
from recall.desk.post.posting import hold, mark_posted
from recall.desk.post.showing import Shown, preview
from recall.records import tables
from recall.records.database.store import Store
from recall.records.tables.statements import whole
from tests.desk.posting import child_with_fluid, made, on
from tests.desk.practice import (
    CLEAR,
    DAY,
    FLUID,
    desk_at,
    open_follow_ups,
    somebody,
    visit,
    with_files,
)
from tests.desk.test_week_of_posting import second_home

POST_DAY = DAY + timedelta(days=14)
GROWN = date(1980, 5, 6)
RETRACTED = msgspec.structs.replace(CLEAR, tensa_grade=2)
FIRST, SECOND = "1 of 2 in this envelope", "2 of 2 in this envelope"


@pytest.fixture
def desk(store: Store, tmp_path: Path) -> Desk:
    """A desk whose letters are printed beside the register."""
    return with_files(desk_at(store), letters=tmp_path / "letters")


def moved_to(desk: Desk, person: int, **where: Any) -> None:
    """Another address, from the beginning."""
    point = tables.ContactPoint
    with desk.store.write() as session:
        mine = (point.person_id == person, point.kind == "address")
        session.execute(update(point.__table__).where(*mine).values(**where))


def adult(desk: Desk, person: int, **values: Any) -> None:
    with desk.store.write() as session:
        mine = tables.AdultFor.person_id == person
        session.execute(update(tables.AdultFor.__table__).where(mine).values(**values))


def written(desk: Desk) -> Sequence[Shown]:
    then = on(desk, POST_DAY)
    number = prepare(then).number
    return preview(then, number) if number else ()


def told(desk: Desk) -> list[tuple[str, str, str]]:
    """The number, whom it is about, and what shares its envelope, as the batch lists them."""
    return [(one.number, one.reference, one.envelope) for one in written(desk)]


def test_a_mothers_letters_about_two_children_follow_each_other_and_say_so(desk: Desk) -> None:
    child_with_fluid(desk, "W1")
    moved_to(desk, child_with_fluid(desk, "W2"), value="3 Sorrel Lane\nWrenfield")
    child_with_fluid(desk, "W3")

    found = told(desk)

    assert found == [("1-0001", "W1", FIRST), ("1-0002", "W3", SECOND), ("1-0003", "W2", "")]


def test_however_the_address_is_typed_it_is_one_home(desk: Desk) -> None:
    child_with_fluid(desk, "W1")
    moved_to(
        desk, child_with_fluid(desk, "W2"), value="7  TEASEL Row\nwrenfield", postcode="WR9 9zx"
    )
    assert [shared for _n, _ref, shared in told(desk)] == [FIRST, SECOND]


def test_two_homes_stay_two_envelopes(desk: Desk) -> None:
    for ref in ("W1", "W2"):
        second_home(desk, child_with_fluid(desk, ref))
    found = written(desk)
    assert [one.envelope for one in found] == [FIRST, SECOND, FIRST, SECOND]
    assert [(one.to, one.reference) for one in found] == [
        ("Ida Thackwell", "W1"), ("Ida Thackwell", "W2"),
        ("Tam Thackwell", "W1"), ("Tam Thackwell", "W2"),
    ]  # fmt: skip


def test_another_reader_in_the_same_home_gets_an_envelope_of_their_own(desk: Desk) -> None:
    child_with_fluid(desk, "W1")
    adult(desk, child_with_fluid(desk, "W2"), name="Tam Thackwell")
    assert [shared for _n, _ref, shared in told(desk)] == ["", ""]


def test_nobodys_own_letter_lies_with_that_of_a_namesake(desk: Desk) -> None:
    """Father and son of one name in one home: each opens what is theirs."""
    visit(desk, somebody(desk, "W1", born=GROWN, adult=False), right=FLUID)
    visit(desk, somebody(desk, "W2", born=date(1955, 5, 6), adult=False), right=FLUID)
    found = written(desk)
    assert len({(one.to, one.address) for one in found}) == 1
    assert [one.envelope for one in found] == ["", ""]


@pytest.mark.parametrize("form", ["large", "email"])
def test_large_print_and_what_is_mailed_lie_with_no_other(desk: Desk, form: str) -> None:
    child_with_fluid(desk, "W1")
    adult(desk, child_with_fluid(desk, "W2"), format=form)
    point = tables.ContactPoint.__table__
    phones = (point.c.person_id == 2, point.c.kind == "phone")
    with desk.store.write() as session:
        mail = {"kind": "email", "value": "ida@example.org", "raw": "ida@example.org"}
        session.execute(update(point).where(*phones).values(**mail))
    found = written(desk)
    assert sorted(one.format for one in found) == sorted(["standard", form])
    assert [one.envelope for one in found] == ["", ""]


def test_the_pages_and_the_list_say_it_too(desk: Desk) -> None:
    child_with_fluid(desk, "W1")
    moved_to(desk, child_with_fluid(desk, "W2"), value="3 Sorrel Lane\nWrenfield")
    child_with_fluid(desk, "W3")

    then = on(desk, POST_DAY)
    made(then)

    folder = desk.config.files.letters
    (listed,), (pages,) = folder.glob("*.csv"), folder.glob("letters-*.pdf")
    rows = list(csv.DictReader(listed.read_text("utf-8-sig").splitlines()))
    by_page = [(row["reference"], row["envelope"]) for row in rows]
    assert by_page == [("W2", ""), ("W1", FIRST), ("W3", SECOND)]
    printed = [page.extract_text() for page in PdfReader(pages).pages]
    edges = [[mark for mark in (FIRST, SECOND) if mark in page] for page in printed]
    assert edges == [[], [FIRST], [SECOND]]


def test_what_is_held_back_is_not_counted(desk: Desk) -> None:
    for ref in ("W1", "W2", "W3"):
        child_with_fluid(desk, ref)
    assert [shared[:6] for _n, _ref, shared in told(desk)] == ["1 of 3", "2 of 3", "3 of 3"]
    then = on(desk, POST_DAY)
    hold(then, "1-0002", "rung instead")
    assert [one.envelope for one in preview(then, 1)] == [FIRST, "", SECOND]


def test_what_is_pulled_at_posting_names_the_letter_it_lies_with(desk: Desk) -> None:
    child_with_fluid(desk, "W1")
    child_with_fluid(desk, "W2")
    then = on(desk, POST_DAY)
    made(then)
    record_death(then, "W2", then.today, "Rowan Thackwell")

    (pulled,) = mark_posted(then, 1)

    assert (pulled.number, pulled.beside) == ("1-0002", ("1-0001",))


def test_an_address_query_never_goes_beside_an_invitation_to_the_same_person(desk: Desk) -> None:
    """The number was wrong while one matter was out of reach; no letters were made until it came.

    Both letters are due in one week then.
    """
    person = somebody(desk)
    visit(desk, person, left=RETRACTED)
    visit(on(desk, date(2026, 11, 10)), person, right=FLUID, left=RETRACTED)
    first = open_follow_ups(desk.store, person)
    wrong = Attempt("phone", "wrong_number")
    contacting.log_contact(on(desk, date(2026, 11, 30)), first[-1]["id"], None, wrong)
    weeks: list[list[str]] = []
    for days in range(0, 21, 7):
        then = on(desk, date(2027, 1, 18) + timedelta(days=days))
        number = prepare(then).number
        kinds = [one.kind for one in preview(then, number)] if number else []
        weeks.append(kinds)
        mark_all_posted(then)
    assert weeks[:3] == [["moved_check"], ["invitation_child"], []]


def mark_all_posted(desk: Desk) -> None:
    """Post what was written, without pages."""
    with desk.store.write() as session:
        for table in (tables.Letter.__table__, tables.Batch.__table__):
            waits = table.c.posted_on.is_(None)
            session.execute(update(table).where(waits).values(printed_at=desk.now))
        unposted = [b.number for b in session.query(tables.Batch).filter_by(posted_on=None)]
    for number in unposted:
        mark_posted(desk, number)


def test_on_a_welsh_letter_the_mark_is_welsh_and_in_lists_it_is_not(desk: Desk) -> None:
    for ref in ("W1", "W2"):
        child_with_fluid(desk, ref)
    then = on(desk, POST_DAY)
    made(then)
    with then.store.write() as session:
        session.execute(update(tables.Letter.__table__).values(language="cy"))
    with then.store.read() as session:
        some = session.scalars(select(whole(tables.Letter)).order_by(tables.Letter.id)).all()
    assert list(on_letters(some).values()) == ["1 o 2 yn yr amlen hon", "2 o 2 yn yr amlen hon"]
    assert list(marks(some).values()) == [FIRST, SECOND]
