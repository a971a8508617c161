"""Which letters are due, what each is told, and how it is listed: without making pages."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import msgspec
import pytest
from sqlalchemy import insert, update

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking
from recall.desk.core.person_header import person_headers
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.post.batches import prepare
from recall.desk.post.call_scripts import script_for
from recall.desk.post.choosing import Chosen, choose
from recall.desk.post.posting import hold, mark_returned
from recall.desk.post.weekly import monday_of
from recall.desk.post.writing import AdultName, Recipients, call_by, drafts, is_soon, kind_of
from recall.desk.referrals import progress
from recall.desk.referrals.colleague_letters import address_of
from recall.errors import Refused
from recall.loop.addressee import addressees
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.calendar import say_day
from tests.desk.practice import (
    DAY,
    FLUID,
    KERATIN,
    desk_at,
    evening,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)
from tests.desk.test_per_person import WAX


def chosen_on(desk: Desk) -> Sequence[Chosen]:
    with desk.store.read() as session:
        return choose(desk, session, monday_of(desk.today)).chosen


def a_child(store: Store, **more: Any) -> tuple[Desk, int]:
    """A child with fluid, on the day before the letters of the invitation's week."""
    desk = desk_at(store, by="clara")
    person = somebody(desk, **more)
    visit(desk, person, right=FLUID)
    return later(desk, 14), person


def drafted(desk: Desk, one: Chosen, adults: dict[int, AdultName], homes: int = 0) -> Any:
    person = one.about.person_id
    with desk.store.read() as session:
        who = person_headers(session, [person], desk.today, desk.protocol.contact)[person]
    to = addressees(who.reachable.person, desk.today, desk.protocol.contact).to
    about = Recipients(who, to, adults)
    return list(drafts(one, about, desk, *([homes] if homes else [])))


def printed_letter(desk: Desk, person: int, follow_up: int, **more: Any) -> int:
    values = {
        "person_id": person, "follow_up_id": follow_up, "step": "invitation", "round": 1,
        "kind": "invitation_child", "language": "en", "format": "standard", "to_name": "x",
        "to_lines": ("x",), "body": "x", "on": desk.today, "recorded_at": desk.now,
        "by_id": desk.by.id, "fields": '{"number":"1-0001","backlog":false,"email":""}', **more,
    }  # fmt: skip
    with desk.store.write() as session:
        row = insert(tables.Letter.__table__).values(**values).returning(tables.Letter.id)
        return int(session.execute(row).scalar_one())


def test_a_letter_is_chosen_in_the_week_in_which_its_day_lies(store: Store) -> None:
    """The invitation is due on 15 September 2026, a Tuesday."""
    desk, _person = a_child(store)

    assert [one.step for one in chosen_on(desk)] == ["invitation"]
    assert [one.step for one in chosen_on(later(desk, -1))] == ["invitation"]
    assert chosen_on(later(desk, -2)) == ()


def test_where_the_address_is_in_doubt_no_letter_is_chosen(store: Store) -> None:
    desk, person = a_child(store)
    (row,) = open_follow_ups(store, person)
    contacting.log_contact(desk, row["id"], None, Attempt("phone", "moved"))

    assert chosen_on(later(desk, 2)) == ()


def test_where_only_the_number_is_in_doubt_the_address_is_asked(store: Store) -> None:
    desk, person = a_child(store)
    (row,) = open_follow_ups(store, person)
    contacting.log_contact(desk, row["id"], None, Attempt("phone", "wrong_number"))

    assert [one.step for one in chosen_on(later(desk, 2))] == ["address_check"]


def test_only_the_letter_about_a_missed_appointment_names_it(store: Store) -> None:
    desk, person = a_child(store)
    (row,) = open_follow_ups(store, person)
    starts = datetime.combine(desk.today, time(10))
    made = bookings.book(desk, row["id"], None, Booking(starts)).made
    assert made is not None
    bookings.record_missed(evening(desk), made)
    contacting.log_contact(later(desk, 1), row["id"], None, Attempt("phone", "no_answer"))

    (missed,) = chosen_on(later(desk, 4))
    assert (missed.step, missed.starts_local) == ("missed_letter", starts)
    printed_letter(later(desk, 4), person, row["id"], step="missed_letter", round=missed.round,
                   printed_at=desk.now, posted_on=later(desk, 4).today)  # fmt: skip
    assert contacting.note(later(desk, 5), row["id"], "x").step == "invitation"
    (after,) = chosen_on(later(desk, 14))
    assert (after.step, after.starts_local) == ("invitation", None)


@pytest.mark.parametrize(
    ("step", "child", "dependent", "own", "kind"),
    [
        ("invitation", True, False, False, "invitation_child"),
        ("invitation", True, False, True, "invitation_adult"),
        ("invitation", False, True, False, "invitation_adult"),
        ("missed_letter", True, False, False, "was_not_brought"),
        ("missed_letter", False, True, False, "was_not_brought"),
        ("missed_letter", False, False, False, "did_not_attend"),
        ("missed_letter", True, True, True, "did_not_attend"),
        ("reminder", True, False, False, "reminder"),
        ("last_letter", True, False, False, "last_letter"),
        ("address_check", False, False, True, "moved_check"),
        ("asked_letter", False, False, True, "invitation_adult"),
    ],
)
def test_which_wording_a_step_has(
    step: str, child: bool, dependent: bool, own: bool, kind: str
) -> None:
    assert kind_of(step, child, dependent, own) == kind


def test_the_day_to_call_by_is_the_target_until_a_week_before_it(store: Store) -> None:
    desk, _person = a_child(store)
    (one,) = chosen_on(desk)
    target = one.about.facts.target

    assert call_by(one, target - timedelta(days=7)) == target
    late = target - timedelta(days=6)
    assert call_by(one, late) == late + timedelta(days=14)
    assert call_by(replace(one, step="address_check"), desk.today) is None
    assert not is_soon(replace(one, step="address_check"), one.about.facts.latest)


@pytest.mark.parametrize("left", [-400, -11, -1, 0, 6, 7, 8, 20, 400])
def test_a_letter_asks_for_no_day_after_the_nearest_and_for_a_late_one_says_soon(
    store: Store, left: int
) -> None:
    desk, _person = a_child(store)
    (one,) = chosen_on(desk)
    assert one.nearest == one.about.facts.latest
    near = replace(one, nearest=desk.today + timedelta(days=left))

    by = call_by(near, desk.today)

    assert is_soon(near, desk.today) == (left < 7) == (by is None)
    if by is not None and near.nearest is not None:
        assert desk.today < by <= near.nearest
    (paper,) = drafted(desk, near, {1: AdultName("Ida Thackwell", "en", "standard")})
    assert (paper.data.call_by, paper.data.soon) == (by, by is None)


def test_what_is_late_beside_what_a_letter_names_makes_it_soon(store: Store) -> None:
    desk, person = a_child(store)
    (one,) = chosen_on(desk)
    assert not is_soon(one, desk.today)
    visit(later(desk, -14), person, left=WAX)

    (both,) = chosen_on(desk)

    wax = min(row["latest"] for row in open_follow_ups(store, person))
    assert both.nearest == wax
    assert is_soon(both, wax + timedelta(days=1))


def test_each_home_has_a_place_of_its_own_and_the_form_its_reader_wants(store: Store) -> None:
    desk, person = a_child(store)
    (adult,) = rows(store, tables.AdultFor)
    (one,) = chosen_on(desk)
    names = {adult["id"]: AdultName("Ida Thackwell", "en", "email")}

    (paper,) = drafted(desk, one, names)
    assert (paper.home, paper.format, paper.email) == (1, "standard", "")
    assert drafted(desk, one, names, homes=2)[0].home == 3

    made = {"on": DAY, "recorded_at": desk.now, "by_id": 1, "rank": 1}
    mail = {"kind": "email", "raw": "ida@example.org", "value": "ida@example.org"}
    with store.write() as session:
        for adult_id, safe in ((None, "yes"), (adult["id"], "yes")):
            values = {"person_id": person, "adult_id": adult_id, "safe": safe, **mail, **made}
            session.execute(insert(tables.ContactPoint.__table__).values(**values))
    (sent,) = drafted(desk, one, names)
    assert (sent.format, sent.email) == ("email", "ida@example.org")
    with store.write() as session:
        unsafe = update(tables.ContactPoint.__table__).where(
            tables.ContactPoint.kind == "email", tables.ContactPoint.adult_id.is_not(None)
        )
        session.execute(unsafe.values(safe="no"))
    assert drafted(desk, one, names)[0].format == "standard"


def test_of_two_adults_in_one_home_the_first_gives_form_and_name(store: Store) -> None:
    desk, person = a_child(store)
    (adult,) = rows(store, tables.AdultFor)
    made = {"on": DAY, "recorded_at": desk.now, "by_id": 1, "person_id": person}
    with store.write() as session:
        about = {"name": "Joel Thackwell", "role": "responsible_adult"}
        row = insert(tables.AdultFor.__table__).values(**about, **made)
        second = session.execute(row.returning(tables.AdultFor.id)).scalar_one()
        home = {"kind": "address", "raw": "x", "value": "7 Teasel Row\nWrenfield", "rank": 1}
        values = {"adult_id": second, "postcode": "WR9 9ZX", **home, **made}
        session.execute(insert(tables.ContactPoint.__table__).values(**values))
    names = {
        adult["id"]: AdultName("Ida Thackwell", "en", "large"),
        second: AdultName("Joel Thackwell", "en", "standard"),
    }

    (letter,) = drafted(desk, chosen_on(desk)[0], names)
    assert (letter.home, letter.adult_id, letter.format) == (1, adult["id"], "large")
    assert letter.data.salutation == "Ida Thackwell and Joel Thackwell"


def test_what_no_page_can_be_made_of_is_counted_as_held(store: Store) -> None:
    desk, _person = a_child(store)

    prepared = prepare(desk)

    assert (prepared.written, prepared.held, prepared.number) == (1, 0, 1)
    assert prepare(desk).batch_id == prepared.batch_id


def test_a_letter_that_came_back_says_which_follow_up_it_was_about(store: Store) -> None:
    desk, person = a_child(store)
    (row,) = open_follow_ups(store, person)
    prepare(desk)
    hold(desk, "1-0001", "wait")
    (letter,) = rows(store, tables.Letter)
    with store.write() as session:
        posted = update(tables.Letter.__table__).where(tables.Letter.id == letter["id"])
        session.execute(posted.values(printed_at=desk.now, posted_on=desk.today, held_why=None))

    assert mark_returned(later(desk, 3), "1-0001") == row["id"]
    (back,) = rows(store, tables.Letter)
    assert back["returned_on"] == later(desk, 3).today
    assert open_follow_ups(store, person)[0]["step"] == "address_check"


def test_where_no_letter_is_next_the_call_says_what_the_invitation_would(store: Store) -> None:
    desk, person = a_child(store)
    (row,) = open_follow_ups(store, person)
    invited = script_for(desk, row["id"])
    contacting.log_contact(desk, row["id"], None, Attempt("phone", "wrong_number"))

    assert open_follow_ups(store, person)[0]["step"] == "address_check"
    assert script_for(desk, row["id"]) == invited


def with_addresses(desk: Desk) -> Desk:
    known = {"ent": ("Ear, Nose and Throat", "Wrenfield Infirmary")}
    return replace(desk, config=msgspec.structs.replace(desk.config, addresses=known))


def test_a_written_letter_is_taken_back_until_it_is_printed_itself(store: Store) -> None:
    desk = with_addresses(desk_at(store, by="clara"))
    person = somebody(desk)
    visit(desk, person, right=KERATIN)
    (referral,) = rows(store, tables.Referral, to="ent")
    follow_up = open_follow_ups(store, person)[0]["id"]
    printed_letter(desk, person, follow_up, printed_at=desk.now)
    made = progress.write_letter(desk, referral["id"], None).made

    undo(desk)
    assert [row["id"] for row in rows(store, tables.Letter)] == [1]

    again = progress.write_letter(desk, referral["id"], None).made
    assert again != made
    with store.write() as session:
        mine = update(tables.Letter.__table__).where(tables.Letter.id == again)
        session.execute(mine.values(printed_at=datetime(2026, 9, 1, 10, tzinfo=UTC)))
    with pytest.raises(Refused, match=f"Letter {again} is printed already"):
        undo(desk)


def test_the_day_by_which_to_see_them_is_asked_for_until_it_has_gone_by(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=KERATIN)
    (row,) = rows(store, tables.Referral, to="ent")

    def text(on: date) -> str:
        return progress.draft_letter(later(desk, (on - DAY).days), row["id"]).text

    assert f", by {say_day(row['seen_by'])}." in text(row["seen_by"])
    assert "as soon as you can" in text(row["seen_by"] + timedelta(days=1))
    assert "7 Teasel Row" in text(DAY)
    assert (
        "Ear, nose and throat department" in progress.draft_letter(desk, row["id"]).letter.address
    )


def test_the_letter_of_somebody_never_seen_here_has_what_is_known(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person = somebody(desk)
    visit_id = visit(desk, person, right=KERATIN)
    (row,) = rows(store, tables.Referral, to="ent")
    with store.write() as session:
        made = {"on": DAY, "recorded_at": desk.now, "by_id": 1, "person_id": person}
        session.add(tables.PersonRisk(what="diabetes", **made))
        gone = update(tables.Visit.__table__).where(tables.Visit.id == visit_id)
        session.execute(gone.values(void_at=desk.now, void_by_id=1, void_why="x"))

    text = progress.draft_letter(desk, row["id"]).text
    assert "Seen on 1 September 2026" in text and "diabetes" in text
    assert "keratin" not in text


@pytest.mark.parametrize(
    ("to", "name"),
    [
        ("ent", "Ear, nose and throat department"),
        ("emergency", "Emergency department"),
        ("stroke", "Stroke service"),
        ("audiology", "Audiology department"),
        ("paediatric_audiology", "Children's audiology department"),
        ("gp", "General practitioner"),
        ("dentist", "Dentist"),
    ],
)
def test_without_an_address_a_service_is_named_in_words(store: Store, to: Any, name: str) -> None:
    desk = desk_at(store)
    person = somebody(desk, gp="")
    with store.read() as session:
        assert address_of(desk, session, person, to) == (name,)
        known = {to: ("Department 4", "1 Elm Way")}
        told = replace(desk, config=msgspec.structs.replace(desk.config, addresses=known))
        assert address_of(told, session, person, to) == ("Department 4", "1 Elm Way")
