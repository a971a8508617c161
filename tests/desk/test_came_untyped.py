"""Who came while nothing of theirs is open: somebody is asked to type the visit. No source."""

from __future__ import annotations

from datetime import timedelta

from recall.care.case import Visit
from recall.desk.contacts.bookings import record_attended
from recall.desk.core.acting import Act
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.practice.matters import close
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.desk.worklists.matter_list import matters
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import CLEAR, DAY, desk_at, history_is_whole, rows, somebody, visit
from tests.desk.test_bookings import at


def booked(desk: Desk, with_: str = "") -> int:
    """Somebody with an appointment of today, made for nothing that is open here."""
    person = somebody(desk)
    with desk.store.write() as session:
        act = Act(desk, session, person)
        staff = {row["handle"]: row["id"] for row in rows(desk.store, tables.Staff)}
        when = {"starts_local": at(desk.today, 9), "zone": "Europe/London", "minutes": 20}
        made = act.add("booking", person_id=person, staff_id=staff.get(with_), **when)
        act.finish("booked", "Booked.", made=made)
    return made


def asked(store: Store) -> list[tuple[str, str]]:
    return [(m.owner, m.text) for m in matters(desk_at(store), everybody=True)]


def test_whoever_saw_them_is_asked_until_it_is_typed(store: Store) -> None:
    desk = desk_at(store)
    made = booked(desk, "clara")
    done = record_attended(desk, made)
    assert done.words.startswith("Attended. clara types the visit, by ")
    ((owner, text),) = asked(store)
    assert owner == "clara" and text.startswith("Type the visit of 1 September 2026: they came")
    (line,) = matters(desk_at(store, by="clara"))
    assert (line.reference, line.due_on) == ("W1", DAY + timedelta(1))

    by = desk_at(store, by="clara")
    given = draft(by, "W1", Visit(on=DAY, right=CLEAR, left=CLEAR))
    close_visit(by, given, Acceptance(looked=True))
    assert asked(store) == []
    assert rows(store, tables.Matter)[0]["closed_how"] == "done"
    assert history_is_whole(store)


def test_nobody_in_particular_is_any_practitioner_and_none_may_be_to_be_typed(
    store: Store,
) -> None:
    desk = desk_at(store)
    record_attended(desk, booked(desk))
    ((owner, _text),) = asked(store)
    assert owner == "clinicians"
    (line,) = matters(desk_at(store, by="clara"))
    close(desk_at(store, by="clara"), line.number, "none_to_type")
    assert asked(store) == []


def test_it_is_taken_back_with_the_act(store: Store) -> None:
    desk = desk_at(store)
    made = booked(desk)
    record_attended(desk, made)
    undo(desk)
    assert asked(store) == []
    record_attended(desk, made)
    assert len(asked(store)) == 1


def test_a_visit_that_is_there_already_is_asked_for_by_nobody(store: Store) -> None:
    desk = desk_at(store)
    made = booked(desk)
    visit(desk, rows(store, tables.Booking)[0]["person_id"], right=CLEAR, left=CLEAR)
    assert record_attended(desk, made).words == "Attended."
    assert asked(store) == []
