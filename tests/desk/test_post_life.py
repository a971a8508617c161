"""The life of the week's letters: written once, printed, pulled, posted, returned."""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest
from sqlalchemy import insert, update

from recall import config
from recall.clock import Clock
from recall.desk import bookings, contacts, lists
from recall.desk.post import Prepared, prepare
from recall.desk.post_leaving import batches, hold, mark_posted, mark_returned, unhold
from recall.desk.post_printing import print_batch, unprinted
from recall.desk.post_showing import preview, text_of_letter
from recall.desk.session import Desk
from recall.errors import NotFound, Refused
from recall.records import tables
from recall.records.store import Store
from tests.desk.practice import (
    DAY,
    FLUID,
    desk_at,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)

FLUID_AGAIN = DAY + timedelta(days=14)
"""A child with fluid seen on 1 September: the first letter is due within these two weeks."""


@pytest.fixture
def desk(store: Store, tmp_path: Path) -> Desk:
    files = config.Files(letters=tmp_path / "letters", database=store.path)
    made = desk_at(store, by="clara")
    return replace(made, config=msgspec.structs.replace(made.config, files=files))


def on(desk: Desk, day: date) -> Desk:
    return replace(desk, clock=Clock.at(day))


def child_with_fluid(desk: Desk, ref: str = "W1", **more: Any) -> int:
    person = somebody(desk, ref, **more)
    visit(desk, person, right=FLUID)
    with desk.store.write() as session:
        confirmed = {"confirmed_at": desk.now, "confirmed_by_id": desk.by.id}
        session.execute(update(tables.Visit.__table__).values(**confirmed))
    return person


def first_letter_day(desk: Desk, person: int) -> date:
    """The day on which the invitation is due."""
    for n in range(60):
        day = later(desk, n)
        refreshed(day, person)
        (row,) = open_follow_ups(desk.store, person)
        if row["step"] == "invitation" and row["next_step_on"] <= day.today:
            return day.today
    raise AssertionError("no invitation within 60 days")


def refreshed(desk: Desk, person: int) -> None:
    from recall.desk.replanning import refresh

    with desk.store.write() as session:
        refresh(desk, session, [person])


@pytest.fixture
def due(desk: Desk) -> Iterator[tuple[Desk, int]]:
    """A child whose invitation is due, on its day."""
    person = child_with_fluid(desk)
    yield on(desk, first_letter_day(desk, person)), person


def made(desk: Desk) -> Prepared:
    prepared = prepare(desk)
    for batch in unprinted(desk, prepared.week_on):
        print_batch(desk, batch)
    return prepared


def letters(desk: Desk, **where: Any) -> list[Any]:
    return list(rows(desk.store, tables.Letter, **where))


def number(row: Any) -> str:
    found: str = msgspec.json.decode(row["fields"])["number"]
    return found


def step(desk: Desk, person: int) -> tuple[str, int]:
    (row,) = open_follow_ups(desk.store, person)
    return row["step"], row["round"]


def test_an_invitation_is_written_printed_and_posted_once(due: tuple[Desk, int]) -> None:
    desk, person = due
    first, again = made(desk), made(desk)

    assert (first.written, again.written) == (1, 0)
    (letter,) = letters(desk)
    assert (letter["kind"], letter["step"]) == ("invitation_child", "invitation")
    assert mark_posted(desk, 1) == ()
    assert made(later(desk, 1)).written == 0
    assert step(desk, person) != ("invitation", 1)
    assert history_is_whole(desk.store)


def test_the_letter_names_the_child_and_goes_to_the_responsible_adult(
    due: tuple[Desk, int],
) -> None:
    desk, _person = due
    made(desk)
    (shown,) = preview(desk, 1)
    text = text_of_letter(desk, shown.letter_id)

    assert shown.to == "Ida Thackwell"
    assert shown.address[-1] == "WR9 9ZX"
    assert "Dear Ida Thackwell" in text and "Rowan's next visit" in text
    assert "2020" not in text and "effusion" not in text and "drum" not in text


def test_printing_again_makes_the_same_bytes(due: tuple[Desk, int]) -> None:
    desk, _person = due
    made(desk)
    (folder,) = {path.parent for path in desk.config.files.letters.glob("*.pdf")}
    before = {path.name: path.read_bytes() for path in folder.iterdir()}

    print_batch(later(desk, 2), letters(desk)[0]["batch_id"])

    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_the_list_beside_the_pages_names_each_letter(due: tuple[Desk, int]) -> None:
    desk, _person = due
    made(desk)
    (path,) = desk.config.files.letters.glob("*.csv")
    (row,) = csv.DictReader(path.read_text("utf-8-sig").splitlines())

    assert (row["number"], row["reference"], row["page"]) == ("1-0001", "W1", "1")


def _die(desk: Desk, person: int) -> None:
    _set(desk, person, deceased_on=desk.today)


def _object(desk: Desk, person: int) -> None:
    _set(desk, person, objected_on=desk.today)


def _unsafe(desk: Desk, person: int) -> None:
    _set(desk, person, unsafe_on=desk.today)


def _move(desk: Desk, person: int) -> None:
    _set(desk, person, moved_on=desk.today)


def _new_address(desk: Desk, person: int) -> None:
    with desk.store.write() as session:
        reach = tables.Reach.__table__
        old = (reach.c.person_id == person, reach.c.kind == "address")
        session.execute(update(reach).where(*old).values(until=desk.today))


def _book(desk: Desk, person: int) -> None:
    (row,) = open_follow_ups(desk.store, person)
    day = row["target"]
    while day.weekday() > 4:
        day += timedelta(days=1)
    bookings.book(desk, row["id"], None, datetime.combine(day, time(10)), channel="phone")


def _attend(desk: Desk, person: int) -> None:
    visit(desk, person, right=msgspec.structs.replace(FLUID, effusion="absent"))


def _call_again(desk: Desk, person: int) -> None:
    (row,) = open_follow_ups(desk.store, person)
    day = desk.today + timedelta(days=9)
    contacts.log_contact(desk, row["id"], None, "phone", "call_again_on", until=day)


def _set(desk: Desk, person: int, **values: Any) -> None:
    with desk.store.write() as session:
        table = tables.Person.__table__
        session.execute(update(table).where(table.c.id == person).values(**values))
    refreshed(desk, person)


HAPPENED = [_die, _object, _unsafe, _move, _new_address, _book, _attend, _call_again]


@pytest.mark.parametrize("happens", HAPPENED)
def test_what_happens_before_printing_takes_the_letter_out(
    due: tuple[Desk, int], happens: Any
) -> None:
    desk, person = due
    prepared = prepare(desk)
    happens(desk, person)

    printed = print_batch(desk, prepared.batch_id or 0)

    assert (printed.letters, len(printed.held)) == (0, 1)
    assert letters(desk)[0]["pulled_why"]


@pytest.mark.parametrize("happens", HAPPENED)
def test_what_happens_before_posting_is_named_to_be_pulled(
    due: tuple[Desk, int], happens: Any
) -> None:
    desk, person = due
    made(desk)
    happens(desk, person)

    (pulled,) = mark_posted(desk, 1)

    assert pulled.number == "1-0001" and pulled.because
    assert letters(desk)[0]["posted_on"] is None


def test_a_letter_pulled_for_a_booking_is_written_anew_when_that_falls_through(
    due: tuple[Desk, int],
) -> None:
    desk, person = due
    made(desk)
    _book(desk, person)
    mark_posted(desk, 1)
    (booking,) = rows(desk.store, tables.Booking)
    bookings.cancel(later(desk, 1), booking["id"], "practice", "ill")
    after = later(desk, 1)
    for n in range(1, 60):
        after = later(desk, n)
        refreshed(after, person)
        (row,) = open_follow_ups(desk.store, person)
        if row["step"] == "phone" and row["next_step_on"] <= after.today:
            contacts.log_contact(after, row["id"], None, "phone", "no_answer")
        made(after)
        for batch in batches(after):
            if batch.posted_on is None and batch.printed_at is not None:
                mark_posted(after, batch.number)
        if [r for r in letters(desk) if r["posted_on"]]:
            break
    posted = [r for r in letters(desk) if r["posted_on"]]
    assert len(posted) == 1


def test_two_homes_get_two_letters_that_count_as_one(desk: Desk) -> None:
    person = child_with_fluid(desk)
    with desk.store.write() as session:
        base = {"on": DAY, "recorded_at": desk.now, "by_id": desk.by.id, "person_id": person}
        adult = session.execute(
            insert(tables.AdultFor.__table__)
            .values(name="Jon Thackwell", role="responsible_adult", **base)
            .returning(tables.AdultFor.id)
        ).scalar_one()
        values = {"kind": "address", "raw": "x", "value": "2 Sorrel Lane\nWrenfield"}
        session.execute(
            insert(tables.Reach.__table__).values(
                adult_id=adult, postcode="WR9 9ZY", **values, **base
            )
        )
    day = on(desk, first_letter_day(desk, person))
    prepared = made(day)
    mark_posted(day, 1)

    assert prepared.written == 2
    assert {row["to_name"] for row in letters(desk)} == {"Ida Thackwell", "Jon Thackwell"}
    assert step(desk, person)[1] == 1


def test_where_one_home_is_pulled_the_other_still_counts(desk: Desk) -> None:
    test_two = child_with_fluid(desk)
    day = on(desk, first_letter_day(desk, test_two))
    with desk.store.write() as session:
        base = {"on": DAY, "recorded_at": desk.now, "by_id": desk.by.id, "person_id": test_two}
        adult = session.execute(
            insert(tables.AdultFor.__table__)
            .values(name="Jon Thackwell", role="responsible_adult", **base)
            .returning(tables.AdultFor.id)
        ).scalar_one()
        values = {"kind": "address", "raw": "x", "value": "2 Sorrel Lane\nWrenfield"}
        session.execute(
            insert(tables.Reach.__table__).values(
                adult_id=adult, postcode="WR9 9ZY", **values, **base
            )
        )
    made(day)
    with desk.store.write() as session:
        reach = tables.Reach.__table__
        first = reach.c.value.startswith("7 Teasel")
        session.execute(update(reach).where(first).values(until=day.today))

    (pulled,) = mark_posted(day, 1)
    assert pulled.to == "Ida Thackwell"
    assert step(later(day, 0), test_two) != ("invitation", 1)


def test_large_print_goes_out_in_large_print(desk: Desk) -> None:
    person = child_with_fluid(desk)
    with desk.store.write() as session:
        session.execute(update(tables.AdultFor.__table__).values(format="large"))
    day = on(desk, first_letter_day(desk, person))
    made(day)
    (letter,) = letters(desk)
    assert letter["format"] == "large"


@pytest.mark.parametrize("format_", ["email", "plain_text"])
def test_who_needs_it_by_email_gets_it_so_and_else_on_paper(desk: Desk, format_: str) -> None:
    with_email, without = child_with_fluid(desk), child_with_fluid(desk, "W2")
    with desk.store.write() as session:
        session.execute(update(tables.AdultFor.__table__).values(format=format_))
        adult = rows(desk.store, tables.AdultFor, person_id=with_email)[0]["id"]
        base = {"on": DAY, "recorded_at": desk.now, "by_id": desk.by.id}
        values = {"person_id": with_email, "adult_id": adult, "kind": "email"}
        address = "ida@example.org"
        session.execute(
            insert(tables.Reach.__table__).values(raw=address, value=address, **values, **base)
        )
    day = on(desk, first_letter_day(desk, with_email))
    refreshed(day, without)
    made(day)

    formats = {row["person_id"]: row["format"] for row in letters(desk)}
    assert formats == {with_email: format_, without: "standard"}
    (text,) = desk.config.files.letters.glob("*-by-email/*.txt")
    assert "To: ida@example.org" in text.read_text("utf-8")
    mark_posted(day, 1)
    assert step(desk, with_email) != ("invitation", 1)


def test_a_letter_held_by_hand_stays_until_it_is_let_go(due: tuple[Desk, int]) -> None:
    desk, person = due
    prepared = prepare(desk)
    hold(desk, "1-0001", "the mother is abroad")
    assert print_batch(desk, prepared.batch_id or 0).letters == 0
    assert made(later(desk, 7)).written == 0

    assert "anew" in unhold(later(desk, 8), "1-0001")
    assert made(later(desk, 8)).written == 1
    assert step(desk, person)[0] == "invitation"


def test_a_letter_let_go_before_printing_goes_with_its_batch(due: tuple[Desk, int]) -> None:
    desk, _person = due
    prepared = prepare(desk)
    hold(desk, "1-0001", "wait")
    assert unhold(desk, "1-0001") == "It goes out with its batch."
    assert print_batch(desk, prepared.batch_id or 0).letters == 1


def test_a_letter_held_after_printing_is_named_at_posting(due: tuple[Desk, int]) -> None:
    desk, _person = due
    made(desk)
    hold(desk, "1-0001", "the mother rang")
    (pulled,) = mark_posted(desk, 1)
    assert pulled.because == "the mother rang"


def test_a_letter_that_comes_back_asks_for_the_address(due: tuple[Desk, int]) -> None:
    desk, person = due
    made(desk)
    mark_posted(desk, 1)
    mark_returned(later(desk, 5), "1-0001")

    assert step(desk, person) == ("address_check", 2)
    with pytest.raises(Refused):
        mark_returned(later(desk, 6), "1-0001")
    with pytest.raises(NotFound):
        mark_returned(later(desk, 6), "9-0001")


def test_a_posted_batch_is_not_printed_or_posted_again(due: tuple[Desk, int]) -> None:
    desk, _person = due
    made(desk)
    mark_posted(desk, 1)
    with pytest.raises(Refused, match="posted"):
        print_batch(desk, letters(desk)[0]["batch_id"])
    with pytest.raises(Refused, match="posted"):
        mark_posted(desk, 1)
    assert unprinted(desk, batches(desk)[0].week_on) == ()


def test_a_booking_ahead_is_confirmed_by_letter_once(due: tuple[Desk, int]) -> None:
    desk, person = due
    _book(desk, person)
    made(desk)
    made(later(desk, 1))

    (letter,) = letters(desk)
    assert letter["kind"] == "booking_confirmation"
    assert "10:00 am" in text_of_letter(desk, letter["id"])
    mark_posted(desk, 1)
    assert step(desk, person)[0] == "attend"


def test_a_confirmation_is_pulled_when_the_appointment_is_called_off(
    due: tuple[Desk, int],
) -> None:
    desk, person = due
    _book(desk, person)
    made(desk)
    (booking,) = rows(desk.store, tables.Booking)
    bookings.cancel(desk, booking["id"], "person")
    (pulled,) = mark_posted(desk, 1)
    assert pulled.because == "the appointment no longer stands"


def test_who_was_not_brought_gets_a_letter_that_names_the_day(due: tuple[Desk, int]) -> None:
    desk, person = due
    _book(desk, person)
    (booking,) = rows(desk.store, tables.Booking)
    missed = on(desk, booking["starts_local"].date())
    bookings.record_missed(missed, booking["id"])
    for n in range(30):
        day = later(missed, n)
        refreshed(day, person)
        (row,) = open_follow_ups(desk.store, person)
        if row["step"] == "phone" and row["next_step_on"] <= day.today:
            contacts.log_contact(day, row["id"], None, "phone", "no_answer")
        made(day)
    kinds = [row["kind"] for row in letters(desk)]

    assert "was_not_brought" in kinds
    letter = next(row for row in letters(desk) if row["kind"] == "was_not_brought")
    text = text_of_letter(desk, letter["id"])
    assert "Rowan" in text and str(missed.today.year) in text


def test_before_sixteen_the_own_contact_is_asked_for_once(desk: Desk) -> None:
    born = date(DAY.year - 16, DAY.month, DAY.day) + timedelta(days=30)
    person = child_with_fluid(desk, born=born)
    made(desk)
    made(later(desk, 7))

    asked = [row for row in letters(desk, person_id=person) if row["step"] == "own_contact"]
    assert [row["kind"] for row in asked] == ["own_contact_16"]


def test_after_a_wrong_number_the_address_is_asked_once_by_letter(due: tuple[Desk, int]) -> None:
    desk, person = due
    (row,) = open_follow_ups(desk.store, person)
    contacts.log_contact(desk, row["id"], None, "phone", "wrong_number")
    day = later(desk, 2)
    refreshed(day, person)
    made(day)
    made(later(day, 7))

    assert [row["kind"] for row in letters(desk)] == ["moved_check"]


def test_a_child_without_a_responsible_adult_is_named_not_dropped(desk: Desk) -> None:
    person = child_with_fluid(desk, adult=False)
    day = on(desk, first_letter_day(desk, person))
    prepared = made(day)

    assert prepared.written == 0
    assert [n.because for n in prepared.not_written] == ["no responsible adult is recorded"]


def test_nothing_is_kept_when_a_desk_changed_the_follow_up_meanwhile(
    due: tuple[Desk, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    desk, person = due
    from recall.desk import post

    real, calls = post._compose, []

    def meanwhile(desk: Desk, session: Any, week_on: date) -> Any:
        found = real(desk, session, week_on)
        if not calls:
            calls.append(1)
            _book(desk, person)
        return found

    monkeypatch.setattr(post, "_compose", meanwhile)
    prepare(desk)
    assert [row["kind"] for row in letters(desk)] == ["booking_confirmation"]


def test_a_letter_that_nobody_could_be_sent_comes_back_to_the_desk(desk: Desk) -> None:
    person = child_with_fluid(desk, adult=False)
    day = first_letter_day(desk, person)
    (row,) = open_follow_ups(desk.store, person)
    made(on(desk, day))

    soon, later_on = on(desk, row["next_step_on"]), on(desk, row["next_step_on"] + timedelta(14))
    assert lists.queue(soon) == ()
    assert [line.reference for line in lists.queue(later_on)] == ["W1"]
