"""Checking an address: what was found out decides whether letters go there."""

from __future__ import annotations

from recall.desk.contacts import contact_points, contacting
from recall.desk.contacts.entries import Attempt, ContactPoint
from recall.desk.core.acting import Next
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.protocol.contact_steps import LETTER_STEPS
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import desk_at, later, rows, stands_at


def test_the_address_check_ends_the_doubt(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "moved"))
    done = contacting.address_checked(
        desk, follow_up["id"], None, "Asked the GP's office.", still_there=True
    )
    assert done.step != "address_check"
    assert rows(store, tables.Person)[0]["moved_on"] is None


def checked(desk: Desk, follow_up: dict, *, still_there: bool | None) -> Next:
    """Check the address of a follow-up."""
    how = "Asked the GP's office"
    return contacting.address_checked(desk, follow_up["id"], None, how, still_there=still_there)


def test_an_address_found_wrong_is_not_written_to(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 14)
    before = stands_at(later(desk_at(store), 13), follow_up)
    done = checked(desk, follow_up, still_there=False)

    assert before == "invitation" and done.step == "phone"
    assert "no letter goes out until a new one is recorded" in done.words
    assert rows(store, tables.Person)[0]["moved_on"] == desk.today
    assert stands_at(later(desk, 400), follow_up) not in LETTER_STEPS
    contact_points.add_contact_point(
        desk, "W1", ContactPoint("address", "9 Teasel Row\nWrenfield", "WR9 9ZX")
    )
    assert stands_at(desk, follow_up) == "invitation"


def test_a_wrong_address_by_mistake_is_taken_back(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 14)
    checked(desk, follow_up, still_there=False)
    undo(desk)
    assert rows(store, tables.Person)[0]["moved_on"] is None
    assert stands_at(desk, follow_up) == "invitation"


def test_where_nothing_was_found_out_only_what_was_in_doubt_is_not_written_to(
    store: Store, follow_up: dict
) -> None:
    desk = later(desk_at(store), 1)
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "wrong_number"))
    assert "Not known" in checked(desk, follow_up, still_there=None).words
    assert rows(store, tables.Person)[0]["moved_on"] is None

    contact_points.add_contact_point(desk, "W1", ContactPoint("phone", "01632 960999"))
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "moved"))
    assert checked(desk, follow_up, still_there=None).step == "phone"
    assert rows(store, tables.Person)[0]["moved_on"] == desk.today


def test_an_address_recorded_since_the_doubt_stays(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "moved"))
    contact_points.add_contact_point(
        desk, "W1", ContactPoint("address", "9 Teasel Row\nWrenfield", "WR9 9ZX")
    )
    done = checked(desk, follow_up, still_there=False)

    assert "the one recorded since then stays" in done.words
    assert rows(store, tables.Person)[0]["moved_on"] is None
    assert "no letter" in checked(desk, follow_up, still_there=False).words
    assert rows(store, tables.Person)[0]["moved_on"] == desk.today


def test_without_an_address_there_is_none_to_be_wrong(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    for row in rows(store, tables.ContactPoint, kind="address"):
        contact_points.end_contact_point(desk, row["id"], "never theirs")
    assert "No address is on record" in checked(desk, follow_up, still_there=False).words
    assert rows(store, tables.Person)[0]["moved_on"] is None
