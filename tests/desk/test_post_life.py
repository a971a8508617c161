"""The life of the week's letters: written once, printed, pulled, posted, returned."""

from __future__ import annotations

import csv
from datetime import date
from typing import Any

import pytest

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.oversight.notices import announcements
from recall.desk.post.batches import prepare
from recall.desk.post.posting import batches, hold, mark_posted, mark_returned, unhold
from recall.desk.post.printing import print_batch, unprinted
from recall.desk.post.showing import preview, text_of_letter
from recall.errors import NotFound, Refused
from recall.records import tables
from tests.desk.posting import (
    attend,
    book,
    call_again,
    child_with_fluid,
    die,
    first_letter_day,
    letters,
    made,
    move,
    new_address,
    object_,
    on,
    refreshed,
    step,
    unsafe,
)
from tests.desk.practice import (
    history_is_whole,
    later,
    open_follow_ups,
    rows,
)


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


def test_an_adult_is_written_to_by_themselves(desk: Desk) -> None:
    person = child_with_fluid(desk, born=date(1970, 1, 1), adult=False)
    day = on(desk, first_letter_day(desk, person))

    made(day)
    (shown,) = preview(day, 1)
    (letter,) = letters(day)
    text = text_of_letter(day, shown.letter_id)

    assert (shown.to, letter["kind"]) == ("Rowan Thackwell", "invitation_adult")
    assert shown.address[-1] == "WR9 9ZX"
    assert "Dear Rowan Thackwell" in text and "your next visit" in text
    assert "Ida" not in text and "effusion" not in text and "drum" not in text


def test_printing_again_makes_the_same_bytes(due: tuple[Desk, int]) -> None:
    desk, _person = due
    made(desk)
    (folder,) = {path.parent for path in desk.config.files.letters.glob("*.pdf")}

    def pages() -> dict[str, object]:
        """What goes to the printer, and the list without what it says of the history by then."""
        printed = {path.name: path.read_bytes() for path in folder.glob("letters-*.pdf")}
        (listed,) = folder.glob("*.csv")
        lines = csv.DictReader(listed.read_text("utf-8-sig").splitlines())
        return {**printed, "list": [{**line, "history": ""} for line in lines]}

    before = pages()
    again = print_batch(later(desk, 2), letters(desk)[0]["batch_id"])

    assert len(before) == 2 and pages() == before
    assert again.differs == ()


def test_the_list_beside_the_pages_names_each_letter(due: tuple[Desk, int]) -> None:
    desk, _person = due
    made(desk)
    (path,) = desk.config.files.letters.glob("*.csv")
    (row,) = csv.DictReader(path.read_text("utf-8-sig").splitlines())

    assert (row["number"], row["reference"]) == ("1-0001", "W1")
    assert (row["page"], row["pages"], row["postcode"]) == ("1", "1", "WR9 9ZX")


HAPPENED = [die, object_, unsafe, move, new_address, book, attend, call_again]


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
    book(desk, person)
    mark_posted(desk, 1)
    (booking,) = rows(desk.store, tables.Booking)
    bookings.cancel(later(desk, 1), booking["id"], "practice", "ill")
    after = later(desk, 1)
    for n in range(1, 60):
        after = later(desk, n)
        refreshed(after, person)
        (row,) = open_follow_ups(desk.store, person)
        if row["step"] == "phone" and row["next_step_on"] <= after.today:
            contacting.log_contact(after, row["id"], None, Attempt("phone", "no_answer"))
        made(after)
        for batch in batches(after):
            if batch.posted_on is None and batch.printed_at is not None:
                mark_posted(after, batch.number)
        if [r for r in letters(desk) if r["posted_on"]]:
            break
    posted = [r for r in letters(desk) if r["posted_on"]]
    assert len(posted) == 1


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


@pytest.mark.parametrize("still_there", [None, False])
def test_after_a_letter_came_back_nothing_goes_there_until_it_is_known_to_be_right(
    due: tuple[Desk, int], still_there: bool | None
) -> None:
    desk, person = due
    made(desk)
    mark_posted(desk, 1)
    mark_returned(later(desk, 5), "1-0001")
    given = open_follow_ups(desk.store, person)[0]["id"], None, "asked the surgery"
    contacting.address_checked(later(desk, 6), *given, still_there=still_there)
    assert step(desk, person)[0] == "phone"
    contacting.address_checked(later(desk, 7), *given, still_there=True)
    contacting.address_checked(later(desk, 8), *given)
    assert step(desk, person) == ("invitation", 2)


def test_a_posted_batch_is_not_printed_or_posted_again(due: tuple[Desk, int]) -> None:
    desk, _person = due
    made(desk)
    mark_posted(desk, 1)
    with pytest.raises(Refused, match="posted"):
        print_batch(desk, letters(desk)[0]["batch_id"])
    with pytest.raises(Refused, match="posted"):
        mark_posted(desk, 1)
    assert unprinted(desk, batches(desk)[0].week_on) == ()


def test_a_batch_that_was_printed_and_not_posted_is_said_from_the_next_day(
    due: tuple[Desk, int],
) -> None:
    desk, _person = due
    made(desk)
    said = "Batch 1 was printed on"
    assert not any(each.startswith(said) for each in announcements(desk))
    assert any(each.startswith(said) for each in announcements(later(desk, 1)))
    mark_posted(later(desk, 1), 1)
    assert not any(each.startswith(said) for each in announcements(later(desk, 2)))


def test_a_batch_is_to_be_printed_until_it_is_and_again_where_its_list_is_gone(
    due: tuple[Desk, int],
) -> None:
    desk, _person = due
    week_on = prepare(desk).week_on
    assert unprinted(desk, week_on) == (1,)

    done = print_batch(desk, 1)
    assert unprinted(desk, week_on) == ()

    done.list_path.unlink()
    assert unprinted(desk, week_on) == (1,)
