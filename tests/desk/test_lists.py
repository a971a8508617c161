"""The lists tell the truth of any day, from facts alone, in the order of what presses."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path

import pytest
from sqlalchemy import update

from recall.care.case import URGENCIES
from recall.cli.calls.lists import line_text
from recall.desk.contacts.contacting import log_contact
from recall.desk.contacts.entries import Attempt
from recall.desk.oversight.counts import counts
from recall.desk.worklists.day_list import Part, everything
from recall.desk.worklists.lists import Line, for_clinician, lost, overdue
from recall.desk.worklists.queue_lines import queue_lines
from recall.desk.worklists.referral_list import referrals
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.files import PERSON, VISIT, desk_with, take_in
from tests.desk.practice import (
    CLEAR,
    DAY,
    FLUID,
    KERATIN,
    desk_at,
    later,
    open_follow_ups,
    somebody,
    visit,
)


def refs(lines: Iterable[Line]) -> list[str]:
    return [line.reference for line in lines]


def test_a_row_says_whom_to_ask_for_why_and_what_is_next(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)
    (line,) = queue_lines(desk)
    assert line.name == "Rowan Thackwell"
    assert (line.ask_for, line.number) == ("Ida Thackwell", "+441632960321")
    assert (line.born, line.postcode) == (date(2020, 3, 2), "WR9 9ZX")
    assert line.step == "book_now" and line.next.startswith("Book before they leave")
    assert "look at the ear again" in line.why
    assert line.clinical == ""
    (told,) = queue_lines(desk, clinical=True)
    assert "fluid" in told.clinical


@pytest.mark.parametrize("outcome", ["do_not_contact", "not_safe"])
def test_whoever_may_not_be_contacted_has_a_reason_and_no_number(
    store: Store, outcome: str
) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)
    (line,) = queue_lines(desk)
    assert (line.contact_stopped, line.number) == (None, "+441632960321")
    log_contact(desk, line.follow_up_id or 0, None, Attempt("phone", outcome))

    assert queue_lines(desk) == ()
    (line,) = for_clinician(desk)

    assert line.contact_stopped is not None
    assert line.contact_stopped.endswith("(1 September 2026)")
    assert line.number == ""
    assert line.warnings[0] == f"Do not contact: {line.contact_stopped}."
    said = line_text(1, line, desk.today)
    assert "ask for" not in said and "Say:" not in said
    assert "! Do not contact" in said


def test_who_has_moved_is_still_rung(store: Store) -> None:
    """Only letters stop: the telephone is the way by which the new address is found."""
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)
    log_contact(desk, queue_lines(desk)[0].follow_up_id or 0, None, Attempt("phone", "moved"))

    (line,) = queue_lines(later(desk, 1))

    assert (line.contact_stopped, line.number) == (None, "+441632960321")
    assert any(warning.startswith("Moved, new address not known") for warning in line.warnings)


def test_nothing_clinical_is_in_a_row_unless_it_is_asked_for(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID, left=KERATIN)
    for line in (*queue_lines(desk), *referrals(desk, everything=True)):
        text = str(line).lower()
        for word in ("fluid", "effusion", "keratin", "cholesteatoma", "retraction"):
            assert word not in text


def test_of_two_calls_of_one_day_the_later_one_is_the_last(store: Store) -> None:
    desk = desk_at(store)
    visit(desk, somebody(desk), right=FLUID)
    (row,) = open_follow_ups(store, 1)
    for outcome in ("no_answer", "left_message"):
        log_contact(later(desk, 30), row["id"], None, Attempt("phone", outcome))
    (line,) = overdue(later(desk, 200))
    assert line.tried == "2 calls; last on 1 October 2026: left a message: name and number only"


def test_the_most_pressing_comes_first(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk, "W1"), right=FLUID)
    visit(desk, somebody(desk, "W2"), right=FLUID, left=FLUID)
    visit(desk, somebody(desk, "W3", born=date(1950, 1, 1), adult=False), right=KERATIN)
    late = later(desk, 200)
    ranks = [(URGENCIES.index(line.urgency), line.latest) for line in overdue(late)]
    assert ranks == sorted(ranks)
    assert len(ranks) >= 3


def test_a_day_to_come_needs_no_job(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)
    assert overdue(desk) == ()
    latest = queue_lines(desk)[0].latest
    days = (latest - DAY).days
    assert overdue(later(desk, days)) == ()
    (line,) = overdue(later(desk, days + 1))
    assert (line.late_by_days, line.latest) == (1, latest)


def test_search_columns_only_say_where_to_look(store: Store) -> None:
    """A stale column may show too many candidates, never another truth."""
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)
    tomorrow = later(desk, 1)
    with store.write() as session:
        follow_up = tables.FollowUp.__table__
        session.execute(update(follow_up).values(step="decision", next_step_on=DAY))
    assert queue_lines(tomorrow) == ()


def test_a_day_that_has_gone_by_shows_what_stood_then(store: Store) -> None:
    desk = desk_at(store, by="clara")
    child = somebody(desk)
    visit(desk, child, right=FLUID)
    (before,) = queue_lines(desk)
    visit(later(desk, 40), child, right=CLEAR)
    assert open_follow_ups(store, child) == []
    (then,) = queue_lines(desk)
    assert (then.latest, then.step, then.urgency) == (before.latest, before.step, before.urgency)
    assert overdue(later(desk, 300)) == ()


def test_what_happened_later_does_not_show_on_an_earlier_day(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)
    number = queue_lines(desk)[0].follow_up_id
    assert number is not None
    log_contact(later(desk, 3), number, None, Attempt("phone", "booked"))
    assert queue_lines(desk)[0].tried == ""
    assert "1 call" in queue_lines(later(desk, 200), letters=True)[0].tried


def test_an_ask_answered_before_the_import_still_stood_on_its_day(
    store: Store, tmp_path: Path
) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    first = {**VISIT, "on": "2025-01-10"}
    clear = {**VISIT, "reference": "V2", "on": "2025-06-10", "right_effusion": "absent"}
    take_in(desk, tmp_path, "visits", first, clear)
    on = later(desk, (date(2025, 5, 1) - desk.today).days)
    (line,) = overdue(on)
    assert (line.reference, line.follow_up_id) == ("P1", None)
    assert overdue(later(desk, (date(2025, 7, 1) - desk.today).days)) == ()


def test_known_at_leaves_out_what_was_recorded_later(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID)
    number = queue_lines(desk)[0].follow_up_id
    assert number is not None
    next_day = later(desk, 1)
    log_contact(next_day, number, None, Attempt("phone", "no_answer"))
    soon = later(desk, 200)
    assert "1 call" in queue_lines(soon, letters=True)[0].tried
    assert queue_lines(soon, Part(known_at=desk.now), letters=True)[0].tried == ""


def test_lost_only_once_everything_was_tried(store: Store, tmp_path: Path) -> None:
    desk = desk_with(store, tmp_path)
    take_in(desk, tmp_path, "people", PERSON)
    take_in(desk, tmp_path, "visits", {**VISIT, "on": "2026-01-05"})
    assert refs(overdue(desk)) == ["P1"]
    assert lost(desk) == ()
    tries = [
        ("2026-01-20", "letter", "message_sent"),
        ("2026-02-20", "phone", "no_answer"),
        ("2026-02-25", "phone", "no_answer"),
        ("2026-03-10", "letter", "message_sent"),
        ("2026-04-01", "phone", "address_checked"),
    ]
    names = ("on", "channel", "outcome")
    contacts = [{"person": "P1", **dict(zip(names, t, strict=True))} for t in tries]
    take_in(desk, tmp_path, "contacts", *contacts[:-1])
    assert lost(desk) == ()
    (line,) = queue_lines(desk)
    assert line.step == "address_check"
    take_in(desk, tmp_path, "contacts", *contacts)
    assert refs(lost(desk)) == ["P1"]
    assert lost(desk)[0].tried.startswith("2 letters, 2 calls")


def test_referrals_are_listed_when_a_stage_is_not_known(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), left=KERATIN)
    (line,) = referrals(later(desk, 30))
    assert line.to == "ent" and line.stage == "sent"
    assert line.late_by_days > 0
    assert refs(referrals(desk, everything=True)) == ["W1"]  # type: ignore[arg-type]
    assert referrals(later(desk, -1), everything=True) == ()


def test_the_counts_are_the_lengths_of_the_lists(store: Store) -> None:
    desk = desk_at(store, by="clara")
    for n in range(3):
        visit(desk, somebody(desk, f"W{n}"), right=FLUID, left=KERATIN)
    for days in (0, 20, 60, 120, 400):
        then = later(desk, days)
        counted = counts(then)
        assert counted.by_step is not None
        assert counted.by_step.to_reach == len(queue_lines(then))
        assert counted.by_step.clinician == len(for_clinician(then))
        for lines in (queue_lines(then), queue_lines(then, letters=True), for_clinician(then)):
            assert len(set(refs(lines))) == len(lines)
        assert counted.overdue == len(overdue(then))
        assert counted.by_step.lost == len(lost(then))
        assert counted.referrals == len(referrals(then))


def test_pages_of_a_list_are_the_list(store: Store) -> None:
    desk = desk_at(store, by="clara")
    for n in range(5):
        visit(desk, somebody(desk, f"W{n}"), right=FLUID)
    whole = queue_lines(desk)
    assert (*queue_lines(desk, Part(2)), *queue_lines(desk, Part(9, 2))) == whole


@pytest.mark.parametrize("days", [0, 5, 30, 60, 90, 400])
def test_every_open_follow_up_stands_somehow_on_every_day(store: Store, days: int) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=FLUID, left=KERATIN)
    then = later(desk, days)
    with store.read() as session:
        found = list(everything(then, session))
    assert found
    assert all(s.status.word != "closed" and s.status.step is not None for s in found)
    assert all(s.facts.latest - s.facts.earliest >= timedelta(0) for s in found)
