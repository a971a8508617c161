"""Who gets which letter, in which form, on which occasion."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from sqlalchemy import insert, update

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.oversight import failsafe
from recall.desk.post.batches import prepare
from recall.desk.post.posting import mark_posted
from recall.desk.post.showing import text_of_letter
from recall.records import tables
from tests.desk.posting import (
    book,
    child_with_fluid,
    first_letter_day,
    letters,
    made,
    on,
    refreshed,
    step,
)
from tests.desk.practice import (
    DAY,
    evening,
    later,
    open_follow_ups,
    rows,
)


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
            insert(tables.ContactPoint.__table__).values(
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
            insert(tables.ContactPoint.__table__).values(
                adult_id=adult, postcode="WR9 9ZY", **values, **base
            )
        )
    made(day)
    with desk.store.write() as session:
        first = tables.ContactPoint.value.startswith("7 Teasel")
        session.execute(update(tables.ContactPoint).where(first).values(until=day.today))

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
            insert(tables.ContactPoint).values(raw=address, value=address, **values, **base)
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


def test_a_booking_ahead_is_confirmed_by_letter_once(due: tuple[Desk, int]) -> None:
    desk, person = due
    book(desk, person)
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
    book(desk, person)
    made(desk)
    (booking,) = rows(desk.store, tables.Booking)
    bookings.cancel(desk, booking["id"], "person")
    (pulled,) = mark_posted(desk, 1)
    assert pulled.because == "the appointment no longer stands"


def test_who_was_not_brought_gets_a_letter_that_names_the_day(due: tuple[Desk, int]) -> None:
    desk, person = due
    book(desk, person)
    (booking,) = rows(desk.store, tables.Booking)
    missed = on(desk, booking["starts_local"].date())
    bookings.record_missed(evening(missed), booking["id"])
    for n in range(30):
        day = later(missed, n)
        refreshed(day, person)
        (row,) = open_follow_ups(desk.store, person)
        if row["step"] == "phone" and row["next_step_on"] <= day.today:
            contacting.log_contact(day, row["id"], None, Attempt("phone", "no_answer"))
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
    contacting.log_contact(desk, row["id"], None, Attempt("phone", "wrong_number"))
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
    from recall.desk.post import batches

    real, calls = batches._compose, []

    def meanwhile(desk: Desk, session: Any, week_on: date) -> Any:
        found = real(desk, session, week_on)
        if not calls:
            calls.append(1)
            book(desk, person)
        return found

    monkeypatch.setattr(batches, "_compose", meanwhile)
    prepare(desk)
    assert [row["kind"] for row in letters(desk)] == ["booking_confirmation"]


def test_a_letter_that_nobody_can_be_sent_is_on_the_managers_list(desk: Desk) -> None:
    person = child_with_fluid(desk, adult=False)
    day = on(desk, first_letter_day(desk, person))
    made(day)

    found = failsafe.run(later(day, 15)).findings
    assert [(one.kind, one.person_id) for one in found] == [("step_past", person)]
