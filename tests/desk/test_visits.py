"""Closing, correcting and voiding visits: the person is planned again, and the lists are right."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

import pytest

from recall.care.case import Visit
from recall.care.ear import Ear
from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.visits.closing import close_visit, void_visit
from recall.desk.visits.drafting import correction, draft
from recall.desk.visits.drafts import Acceptance, VisitNote
from recall.desk.visits.finding import find_visit, read_visit
from recall.desk.worklists.lists import overdue
from recall.desk.worklists.queue_lines import queue_lines
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.plan import Decision
from tests.desk.files import PERSON, VISIT, desk_with, take_in
from tests.desk.practice import (
    CLEAR,
    DAY,
    FLUID,
    desk_at,
    history_is_whole,
    later,
    open_follow_ups,
    rows,
    somebody,
)

NOBODY_LEFT_RIGHT = Visit(on=DAY)


def test_the_plan_is_shown_before_anything_is_stored(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    given = draft(desk, "W1", Visit(on=DAY, right=FLUID))
    assert given.suggested == "fluid_recheck"
    assert given.plan.follow_ups[0].tracks == ("fluid",)
    assert rows(store, tables.Visit) == []


def test_a_closed_visit_stores_findings_dues_and_the_protocol(store: Store) -> None:
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    closed = close_visit(
        desk, draft(desk, "W1", Visit(on=DAY, right=FLUID), VisitNote(words="Well."))
    )
    (row,) = rows(store, tables.Visit)
    assert (row["id"], row["by_id"], row["examiner_id"]) == (closed.visit_id, 1, 1)
    assert (row["confirmed_by_id"], row["note"], row["category"]) == (1, "Well.", "fluid_recheck")
    (due, *_) = rows(store, tables.Due)
    assert (due["visit_id"], due["protocol_id"]) == (closed.visit_id, row["protocol_id"])
    assert due["protocol_id"] is not None and due["source"]
    planned = closed.plan.follow_ups[0]
    (stored,) = open_follow_ups(store, child)
    assert (stored["earliest"], stored["latest"]) == (planned.earliest, planned.latest)
    assert history_is_whole(store)


def test_a_later_visit_answers_what_it_examined_and_only_that(store: Store) -> None:
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    close_visit(desk, draft(desk, "W1", Visit(on=DAY, right=FLUID, left=FLUID)))
    seen_later = later(desk, 40)
    one_ear = Visit(on=seen_later.today, right=CLEAR)
    close_visit(seen_later, draft(seen_later, "W1", one_ear), Acceptance(looked=True))
    (follow_up, *_) = open_follow_ups(store, child)
    assert "left" in follow_up["ears"]
    closed = [d for d in rows(store, tables.Due, is_open=False) if d["track"] == "fluid"]
    assert {d["ear"] for d in closed} == {"right"}


def test_an_older_visit_is_put_in_its_place(store: Store) -> None:
    """Entered last, seen first: the three months count from the first time fluid was seen."""
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    close_visit(desk, draft(desk, "W1", Visit(on=DAY, right=FLUID)))
    before = {d["rule"] for d in rows(store, tables.Due, is_open=True)}
    older = Visit(on=DAY - timedelta(days=100), right=FLUID)
    given = draft(desk, "W1", older)
    assert "later visit" in " ".join(q.says for q in given.questions)
    close_visit(desk, given, Acceptance(looked=True))
    after = {d["rule"] for d in rows(store, tables.Due, is_open=True)}
    assert after != before
    straight = desk_at(store, by="clara")
    other = somebody(straight, "W2")
    close_visit(straight, draft(straight, "W2", older), Acceptance(looked=True))
    close_visit(
        straight, draft(straight, "W2", Visit(on=DAY, right=FLUID)), Acceptance(looked=True)
    )
    assert _windows(store, child) == _windows(store, other)


def _windows(store: Store, person_id: int) -> list[tuple[object, ...]]:
    names = ("earliest", "target", "latest", "urgency", "tracks", "ears")
    return [tuple(f[n] for n in names) for f in open_follow_ups(store, person_id)]


def test_a_correction_is_a_new_row_that_cites_the_old(store: Store) -> None:
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    first = close_visit(
        desk, draft(desk, "W1", Visit(on=DAY, right=FLUID), VisitNote(words="Seen."))
    )
    again = close_visit(desk, correction(desk, first.visit_id, Visit(on=DAY, left=FLUID)))
    (stands,) = rows(store, tables.Visit)
    assert (stands["id"], stands["corrects_id"]) == (again.visit_id, first.visit_id)
    assert stands["note"] == "Seen."
    (follow_up,) = open_follow_ups(store, child)
    assert follow_up["ears"] == ("left",)
    assert history_is_whole(store)


def test_a_correction_keeps_the_practices_own_reference(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    seen = Visit(on=DAY, right=FLUID)
    first = close_visit(desk, draft(desk, "W1", seen, VisitNote(ref="V7")))
    both = Visit(on=DAY, right=FLUID, left=CLEAR)
    close_visit(desk, draft(desk, "W1", both, VisitNote(corrects=first.visit_id)))
    (row,) = rows(store, tables.Visit)
    assert (row["ref"], row["corrects_id"]) == ("V7", first.visit_id)


def test_a_voided_visit_asks_for_nothing_and_answers_nothing(store: Store) -> None:
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    close_visit(desk, draft(desk, "W1", Visit(on=DAY, right=FLUID)))
    clear_on = later(desk, 40)
    answer = close_visit(clear_on, draft(clear_on, "W1", Visit(on=clear_on.today, right=CLEAR)))
    assert open_follow_ups(store, child) == []
    void_visit(clear_on, answer.visit_id, "Another child's.")
    assert len(open_follow_ups(store, child)) == 1
    assert [line.reference for line in overdue(later(desk, 300))] == ["W1"]
    void_visit(clear_on, 1, "Another child's too.")
    assert open_follow_ups(store, child) == []
    assert queue_lines(later(desk, 300), letters=True) == ()


def test_a_letter_sent_before_a_correction_still_counts(store: Store) -> None:
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    first = close_visit(desk, draft(desk, "W1", Visit(on=DAY, right=FLUID)))
    (follow_up,) = open_follow_ups(store, child)
    close_visit(desk, correction(desk, first.visit_id, Visit(on=DAY, right=FLUID, left=CLEAR)))
    (same,) = open_follow_ups(store, child)
    assert same["id"] == follow_up["id"]


def test_a_category_alone_closes_a_visit(store: Store) -> None:
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    given = draft(desk, "W1", NOBODY_LEFT_RIGHT, VisitNote("hearing_check", ears=("left",)))
    close_visit(desk, given)
    (follow_up,) = open_follow_ups(store, child)
    assert (follow_up["tracks"], follow_up["ears"]) == (("hearing",), ("left",))
    assert follow_up["latest"] == given.plan.follow_ups[0].latest


def test_what_was_only_reported_is_asked_for_once(store: Store) -> None:
    """The category that reports suggest is no category that somebody set."""
    desk = desk_at(store, by="clara")
    somebody(desk)
    made = draft(desk, "W1", Visit(on=desk.today, reported=("sudden_hearing_loss",)))

    close_visit(desk, made, Acceptance(looked=True, arranged_with="Dr Sorrel"))

    referrals = rows(store, tables.Referral)
    assert referrals
    assert not [r for r in referrals if "category-" in r["reasons"]]
    assert not [d for d in rows(store, tables.Due) if d["rule"].startswith("category-")]


def test_a_visit_with_nothing_in_it_is_refused(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    with pytest.raises(InputError, match="neither findings nor a category"):
        draft(desk, "W1", NOBODY_LEFT_RIGHT)
    with pytest.raises(InputError, match="after today"):
        draft(desk, "W1", Visit(on=DAY + timedelta(days=1), right=FLUID))
    with pytest.raises(InputError, match="before the birth"):
        draft(desk, "W1", Visit(on=date(2020, 1, 1), right=FLUID))
    with pytest.raises(NotFound):
        draft(desk, "W9", Visit(on=DAY, right=FLUID))


def test_a_question_must_be_looked_at(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    given = draft(
        desk, "W1", Visit(on=DAY, right=FLUID), VisitNote(words="Sudden hearing loss on Monday")
    )
    with pytest.raises(Refused, match="sudden hearing loss"):
        close_visit(desk, given)
    assert rows(store, tables.Visit) == []
    close_visit(desk, given, Acceptance(looked=True))


def test_the_second_of_two_desks_is_told(store: Store) -> None:
    one, two = desk_at(store, by="clara"), desk_at(store, by="rob")
    somebody(one)
    first = draft(one, "W1", Visit(on=DAY, right=FLUID))
    second = draft(two, "W1", Visit(on=DAY, left=FLUID))
    close_visit(one, first)
    with pytest.raises(Conflict, match="changed person W1"):
        close_visit(two, second)


def test_a_date_is_changed_only_with_a_reason_by_somebody_who_may_decide(store: Store) -> None:
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    given = draft(desk, "W1", Visit(on=DAY, right=FLUID))
    day = DAY + timedelta(days=21)
    move = Decision(
        on=DAY, ear="right", track="fluid", action="move",
        earliest=day, target=day, latest=day, why="Away in October.",
    )  # fmt: skip
    without = replace_why(move, "")
    with pytest.raises(InputError, match="without a reason"):
        close_visit(desk, given, Acceptance(changes=(without,)))
    with pytest.raises(Refused):
        close_visit(
            replace(desk, by=desk_at(store, by="rob").by), given, Acceptance(changes=(move,))
        )
    close_visit(desk, given, Acceptance(changes=(move,)))
    (follow_up,) = open_follow_ups(store, child)
    assert follow_up["latest"] == day


def replace_why(decision: Decision, why: str) -> Decision:
    import msgspec

    return msgspec.structs.replace(decision, why=why)


def test_an_appointment_of_that_day_is_kept(store: Store) -> None:
    from datetime import datetime, time

    desk = desk_at(store, by="clara")
    child = somebody(desk)
    close_visit(desk, draft(desk, "W1", Visit(on=DAY, right=FLUID)))
    (follow_up,) = open_follow_ups(store, child)
    day = follow_up["earliest"]
    starts = datetime.combine(day, time(10, 20))
    bookings.book(desk, follow_up["id"], follow_up["version"], Booking(starts, 20, "clara"))
    then = later(desk, (day - DAY).days)
    closed = close_visit(then, draft(then, "W1", Visit(on=day, right=CLEAR)))
    (event,) = rows(store, tables.BookingEvent)
    assert (event["what"], event["visit_id"]) == ("attended", closed.visit_id)


def test_somebody_elses_visit_is_left_to_those_who_may_decide(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    closed = close_visit(desk, draft(desk, "W1", Visit(on=DAY, right=FLUID)))
    reception = desk_at(store, by="rob")
    with pytest.raises(Refused):
        void_visit(reception, closed.visit_id, "Mine now.")
    with pytest.raises(Refused):
        close_visit(reception, correction(reception, closed.visit_id, Visit(on=DAY, left=FLUID)))
    with pytest.raises(InputError, match="without a reason"):
        void_visit(desk, closed.visit_id, " ")


def test_a_visit_is_found_by_its_reference_or_number(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path, by="clara")
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", VISIT)
    number, seen, person = find_visit(desk, "V1")
    assert find_visit(desk, f"#{number}") == (number, seen, person)
    assert (seen.on, person) == (date(2026, 9, 1), "P1")
    assert seen.right == Ear(drum_seen="full", effusion="present")
    with pytest.raises(NotFound):
        find_visit(desk, "V9")


def test_a_visit_is_read_from_a_case_file_s_piece(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    read = read_visit(desk, "W1", b'{"right": {"effusion": "present"}}', DAY)
    assert read == Visit(on=DAY, right=Ear(effusion="present"))
    with pytest.raises(InputError, match=r"right\.efusion"):
        read_visit(desk, "W1", b'{"right": {"efusion": "present"}}', DAY)
    with pytest.raises(InputError):
        read_visit(desk, "W1", b"not json", DAY)
