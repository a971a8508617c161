"""One person: found, on a card, edited, told as a story."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

from recall.desk.contacts import bookings, contact_points, contacting
from recall.desk.contacts.entries import Attempt, Booking, ContactPoint
from recall.desk.core.undo import undo
from recall.desk.people import deaths, editing, person_card
from recall.desk.people.editing import Adult
from recall.desk.people.timeline import timeline
from recall.desk.referrals import progress
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.calendar import say_day
from tests.desk.practice import (
    DAY,
    FLUID,
    KERATIN,
    desk_at,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)


@pytest.fixture
def person_id(store: Store) -> int:
    desk = desk_at(store, by="clara")
    person_id = somebody(desk)
    visit(desk, person_id, right=FLUID, left=KERATIN)
    return person_id


def test_whoever_rings_in_is_found_with_what_is_open(store: Store, person_id: int) -> None:
    desk = later(desk_at(store), 3)
    found = person_card.find(desk, "thackwel 2020")
    assert [f.ref for f in found] == ["W1"]
    card = person_card.person(desk, found[0].ref)

    assert {t for f in card.follow_ups for t in f.tracks} >= {"fluid"}
    first = card.follow_ups[0]
    assert first.step and first.on and first.why and first.says and first.ahead
    assert {r.to for r in card.referrals} == {"ent"}
    assert [a.name for a in card.adults] == ["Ida Thackwell"]
    assert card.contact_points[0].value


def test_what_comes_next_never_stands_for_a_closed_day(store: Store, person_id: int) -> None:
    ahead = [
        words
        for days in range(0, 120, 5)
        for row in person_card.person(later(desk_at(store), days), "W1").follow_ups
        for words in row.ahead
    ]
    assert len(ahead) > 50
    calendar = desk_at(store).calendar
    days = (DAY + timedelta(days=n) for n in range(400))
    closed = [say_day(day) for day in days if not calendar.is_open(day)]
    assert [words for words in ahead if any(words.startswith(f"{day}:") for day in closed)] == []


def test_the_card_has_both_ears_and_the_cautions(store: Store, person_id: int) -> None:
    editing.add_risk(desk_at(store), "W1", "only_hearing_ear", ear="right")
    card = person_card.person(desk_at(store, by="clara"), "w1 ")
    assert "effusion: present" in card.visits[0].right
    assert "keratin: yes" in card.visits[0].left
    assert any("only hearing ear" in caution for caution in card.cautions)
    assert card.clinical


def test_the_card_of_whoever_examines_nobody_has_what_may_be_said_aloud_alone(
    store: Store, person_id: int
) -> None:
    """Unless it is asked for, as a command can; the days and who saw them are told to all."""
    editing.add_risk(desk_at(store), "W1", "only_hearing_ear", ear="right")
    desk = desk_at(store)
    card, whole = person_card.person(desk, "W1"), person_card.person(desk, "W1", clinical=True)
    assert not desk.by.may_decide and not card.clinical and whole.cautions
    assert (card.cautions, card.history, card.judged) == ((), (), ())
    assert [(v.on, v.right, v.left) for v in card.visits] == [(v.on, (), ()) for v in whole.visits]
    assert [f.says for f in card.follow_ups] == [f.says_aloud for f in whole.follow_ups]
    assert [f.on for f in card.follow_ups] == [f.on for f in whole.follow_ups]


def test_nobody_by_that_reference(store: Store) -> None:
    with pytest.raises(NotFound):
        person_card.person(desk_at(store), "W404")


def test_a_risk_plans_again_and_taking_it_back_too(store: Store) -> None:
    desk = desk_at(store)
    person_id = somebody(desk)
    visit(desk, person_id, right=FLUID, left=FLUID)
    before = {(d["rule"], d["latest"]) for d in rows(store, tables.Due, is_open=True)}
    editing.add_risk(desk, "W1", "down_syndrome")
    after = {(d["rule"], d["latest"]) for d in rows(store, tables.Due, is_open=True)}
    assert after != before
    undo(desk)
    again = {(d["rule"], d["latest"]) for d in rows(store, tables.Due, is_open=True)}
    assert again == before
    with pytest.raises(InputError, match="is no risk"):
        editing.add_risk(desk, "W1", "bad_luck")
    with pytest.raises(InputError, match="is no day or month"):
        editing.add_risk(desk, "W1", "diabetes", since="2026-19")


def test_a_new_address_ends_moved(store: Store, person_id: int) -> None:
    desk = desk_at(store)
    number = open_follow_ups(store, person_id)[0]["id"]
    contacting.log_contact(desk, number, None, Attempt("phone", "moved"))
    assert any("Moved" in w for w in person_card.person(desk, "W1").warnings)
    contact_points.add_contact_point(
        desk, "W1", ContactPoint("address", "9 Teasel Row\nWrenfield", "wr99zx")
    )
    assert rows(store, tables.Person)[0]["moved_on"] is None
    assert [f.ref for f in person_card.find(desk, "WR9 9ZX Thackwell")] == ["W1"]


def test_what_was_done_to_reach_them_is_told_with_how_and_why(store: Store, person_id: int) -> None:
    desk = later(desk_at(store), 3)
    number = open_follow_ups(store, person_id)[0]["id"]
    contacting.log_contact(desk, number, None, Attempt("phone", "no_answer"))
    contacting.address_checked(desk, number, None, "Asked an aunt.", still_there=True)
    contacting.gp_told(desk, number, None, "by letter")
    contacting.hold(desk, number, None, "with their father", date(2026, 9, 8))

    assert [tried.words for tried in person_card.person(desk, "W1").tried] == [
        "held back until 8 September 2026: with their father",
        "GP or referrer told: by letter",
        "address checked: Asked an aunt. The address on record is right",
        "phone, no answer",
    ]
    undo(desk)
    assert "held" not in person_card.person(desk, "W1").tried[0].words


def test_a_number_that_cannot_be_is_kept_with_what_is_wrong(store: Store, person_id: int) -> None:
    done = contact_points.add_contact_point(desk_at(store), "W1", ContactPoint("phone", "12"))
    row = rows(store, tables.ContactPoint, id=done.made)[0]
    assert (row["raw"], row["value"]) == ("12", None) and row["problem"]
    assert "Recorded, but" in done.words


def test_two_numbers_typed_at_once_are_two_with_whose_each_is(store: Store, person_id: int) -> None:
    typed = ContactPoint("phone", "07700 900004 (mum) or 01632 960999", label="new")
    done = contact_points.add_contact_point(desk_at(store), "W1", typed)

    made = [r for r in rows(store, tables.ContactPoint, kind="phone") if r["label"]]
    assert [(r["raw"], r["label"], r["rank"]) for r in made] == [
        ("07700 900004", "new, mum", 1),
        ("01632 960999", "new", 2),
    ]
    assert done.words == "Recorded as 2 numbers."
    undo(desk_at(store))
    assert not [r for r in rows(store, tables.ContactPoint, kind="phone") if r["label"]]


def test_what_is_taken_back_is_found_as_it_was(store: Store, person_id: int) -> None:
    desk = desk_at(store)

    def found(text: str) -> list[str]:
        return [f.ref for f in person_card.find(desk, text)]

    editing.edit_details(desk, "W1", None, family_name="Fenwright")
    undo(desk)
    assert (found("Fenwright"), found("Thackwell")) == ([], ["W1"])
    contact_points.add_contact_point(desk, "W1", ContactPoint("phone", "01632 960999"))
    assert found("960999") == ["W1"]
    undo(desk)
    assert found("960999") == []


def test_details_are_changed_once_and_found_by_the_new_name(store: Store, person_id: int) -> None:
    desk = desk_at(store)
    version = person_card.person(desk, "W1").version
    editing.edit_details(desk, "W1", version, family_name="Fenwright", needs=("hearing loop",))
    assert [f.ref for f in person_card.find(desk, "Fenwright")] == ["W1"]
    with pytest.raises(Conflict):
        editing.edit_details(desk, "W1", version, family_name="Quill")
    with pytest.raises(InputError, match="is no detail"):
        editing.edit_details(desk, "W1", None, deceased_on=DAY)
    with pytest.raises(InputError, match="is ahead"):
        editing.edit_details(desk, "W1", None, born=DAY + timedelta(days=1))


def test_adults_come_and_go(store: Store, person_id: int) -> None:
    desk = desk_at(store)
    made = editing.add_adult(
        desk, "W1", Adult("Bo Quill", "responsible_adult", relation="father")
    ).made
    assert made is not None
    assert len(person_card.person(desk, "W1").adults) == 2
    editing.end_adult(desk, made, "no longer")
    assert [a.name for a in person_card.person(desk, "W1").adults] == ["Ida Thackwell"]


def test_an_objection_counts_at_once_and_can_be_withdrawn(store: Store, person_id: int) -> None:
    desk = desk_at(store)
    number = open_follow_ups(store, person_id)[0]["id"]
    editing.record_objection(desk, "W1")
    with pytest.raises(Refused):
        contacting.log_contact(desk, number, None, Attempt("phone", "no_answer"))
    editing.withdraw(desk, "W1", "objected", "asked for it at the desk")
    contacting.log_contact(desk, number, None, Attempt("phone", "no_answer"))
    editing.record_unsafe(desk, "W1")
    with pytest.raises(Refused, match=r"rob \(reception\) may not"):
        editing.withdraw(desk, "W1", "unsafe", "said so")
    editing.withdraw(desk_at(store, by="clara"), "W1", "unsafe", "confirmed in person")


def test_the_story_tells_everything_in_order(store: Store, person_id: int) -> None:
    clara, rob = desk_at(store, by="clara"), desk_at(store)
    number = open_follow_ups(store, person_id)[0]["id"]
    contacting.log_contact(
        later(rob, 1), number, None, Attempt("phone", "no_answer", "rang at noon")
    )
    contacting.note(later(rob, 1), number, "Prefers mornings.")
    undo(later(rob, 1))
    bookings.book(later(rob, 2), number, None, Booking(datetime(2026, 9, 7, 10)))
    referral = rows(store, tables.Referral, to="ent")[0]["id"]
    progress.sent(later(clara, 2), referral, None)
    deaths.record_death(later(clara, 9), "W1", date(2026, 9, 9), "Rowan Thackwell")

    told = [str(s) for s in timeline(later(rob, 10), "W1")]
    text = "\n".join(told)
    wanted = [
        "was entered into the register",
        "Seen, visit 1. right ear: wax found: some",
        "Asked back for fluid, right ear",
        "Referral 1 to ent asked for",
        "Phone: no answer. To be rung once more that day, 14:00. rang at noon (rob)",
        "Booked for 7 September 2026 at 10:00",
        "Referral 1: sent",
        "Fluid, right ear: closed, died",
    ]
    places = [text.index(part) for part in wanted]
    assert places == sorted(places)
    assert "deceased on from nothing to 9 September 2026" in text
    assert history_is_whole(store)
