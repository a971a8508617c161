"""An interpreter, a complaint, an incident, a message: owned, due, and closed by name."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from recall.cli.practice.matters import answer_of
from recall.clock import Clock
from recall.desk.core import undo
from recall.desk.core.session import Desk
from recall.desk.oversight.counts import counts
from recall.desk.people.person_card import person
from recall.desk.people.timeline import timeline
from recall.desk.practice.matters import Entry, close, pass_on, write_down
from recall.desk.practice.staff import mark_left
from recall.desk.worklists.matter_list import answered_lately, matters
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.loop.matters import KIND, OWNERS, seen_by
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import DAY, desk_at, history_is_whole, later, rows, somebody


def taken(desk: Desk, kind: str = "message", text: str = "May he swim?", **more: object) -> int:
    made = write_down(desk, "W1", Entry(kind, text, **more)).made  # type: ignore[arg-type]
    assert made is not None
    return made


def titles(desk: Desk) -> list[str]:
    return [row.title for row in matters(desk)]


def test_each_kind_is_on_the_list_of_whoever_owns_it_and_on_no_other(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    for kind in ("interpreter", "complaint", "message"):
        taken(desk, kind)

    assert titles(desk_at(store, by="rob")) == ["An interpreter to book"]
    assert titles(desk_at(store, by="mina")) == ["A complaint"]
    assert titles(desk_at(store, by="clara")) == ["A message"]
    assert len(matters(desk, everybody=True)) == 3


def test_a_complaint_is_due_after_three_working_days(store: Store) -> None:
    """The complaints regulations of 2009, regulation 13(3): acknowledged within 3 working days.

    From Friday 4 September 2026 that is Wednesday the 9th.
    """
    desk = desk_at(store, date(2026, 9, 4))
    somebody(desk)
    taken(desk, "complaint")

    (row,) = matters(desk, everybody=True)
    assert (row.due_on, row.owner, row.late_by_days) == (date(2026, 9, 9), "manager", 0)
    (late,) = matters(desk_at(store, date(2026, 9, 11)), everybody=True)
    assert late.late_by_days == 2


def test_the_answer_comes_back_to_whoever_took_the_message(store: Store) -> None:
    desk, clinician = desk_at(store), desk_at(store, by="clara")
    somebody(desk)
    number = taken(desk)

    close(clinician, number, "tell_them", "Not before the ear is dry.")

    assert matters(clinician) == ()
    (row,) = matters(desk)
    assert row.text == "Not before the ear is dry. (They asked: May he swim?)"
    assert (row.owner, row.due_on, row.kind) == ("rob", DAY, "answer")
    told = " ".join(str(each) for each in timeline(desk, "W1"))
    assert "Closed by clara on 1 September 2026: answered; whoever took it tells them" in told
    assert history_is_whole(store)


def test_a_close_is_one_of_its_kind_by_its_owner_with_words_where_it_needs_them(
    store: Store,
) -> None:
    desk, clinician = desk_at(store), desk_at(store, by="clara")
    somebody(desk)
    number = taken(desk)

    with pytest.raises(InputError, match="closes no message"):
        close(clinician, number, "booked")
    with pytest.raises(InputError, match="without words"):
        close(clinician, number, "answered", "  ")
    with pytest.raises(Refused, match="is for clinicians, not rob"):
        close(desk, number, "answered", "Yes.")
    close(clinician, number, "not_needed")
    with pytest.raises(Conflict, match="closed already"):
        close(clinician, number, "not_needed")


def test_the_manager_may_close_what_lies_with_somebody_else(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)

    assert close(desk_at(store, by="mina"), taken(desk), "answered", "Yes.").words == (
        "A message: answered by whoever saw to it."
    )


def test_what_is_passed_on_changes_lists_and_keeps_its_day(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    number = taken(desk, due=DAY + timedelta(days=9))

    done = pass_on(desk, number, "rob", why="she asks for me")

    assert done.words == "Passed to rob, by Thursday 10 September 2026."
    assert [row.number for row in matters(desk)] == [number]
    assert matters(desk_at(store, by="clara")) == ()
    assert person(desk, "W1").notes[0].words == "she asks for me"
    with pytest.raises(NotFound, match="no member of staff 'nobody-here'"):
        pass_on(desk, number, "nobody-here")


def test_writing_down_passing_on_and_closing_can_be_taken_back(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    number = taken(desk, "interpreter")
    close(desk, number, "booked")

    undo.undo(desk)
    assert [row.number for row in matters(desk)] == [number]
    undo.undo(desk)
    assert matters(desk) == ()
    assert history_is_whole(store)


def test_one_answer_taken_back_takes_back_what_it_made_for_somebody_else(store: Store) -> None:
    desk, clinician = desk_at(store), desk_at(store, by="clara")
    somebody(desk)
    number = taken(desk)
    close(clinician, number, "tell_them", "Yes.")

    undo.undo(clinician)

    assert (matters(desk), [row.number for row in matters(clinician)]) == ((), [number])


def test_a_leavers_matters_are_handed_over_whole(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    mine, other = taken(desk, owner="rob"), taken(desk, owner="mina")
    ended = taken(desk, owner="rob")
    close(desk, ended, "not_needed")

    went = mark_left(store, Clock.at(DAY), "rob", DAY, by="mina", to="clara")

    assert went == 1
    assert {row.number: row.owner for row in matters(desk, everybody=True)} == {
        mine: "clara",
        other: "mina",
    }
    assert rows(store, tables.Matter, id=ended)[0]["owner_id"] is not None
    assert history_is_whole(store)


def test_without_a_name_they_go_to_the_leavers_role(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)
    taken(desk, owner="rob")

    mark_left(store, Clock.at(DAY), "rob", DAY, by="mina")

    (row,) = matters(desk_at(store, by="mina"), everybody=True)
    assert row.owner == "reception"


def test_what_a_role_owns_that_nobody_has_is_seen_by_somebody(store: Store) -> None:
    """Worked out by hand: nothing is ever on nobody's list."""
    assert seen_by("manager", frozenset({"reception", "clinical_lead"})) >= {"clinical_lead"}
    assert seen_by("reception", frozenset({"clinical_lead"})) >= {"clinical_lead"}
    assert seen_by("clinical_lead", frozenset({"practitioner"})) >= {"practitioner"}
    for here in OWNERS:
        for owner in OWNERS:
            assert here in seen_by(owner, frozenset({here})), (here, owner)


def test_words_of_alarm_in_a_message_are_answered_at_once(store: Store) -> None:
    desk = desk_at(store)
    somebody(desk)

    alarm = write_down(desk, "W1", Entry("message", "Sudden loss of hearing since today"))
    calm = write_down(desk, "W1", Entry("message", "No dizziness. May he swim?"))

    assert "hand the person over to a clinician now" in alarm.words
    assert "hand the person over" not in calm.words


def test_a_matter_may_be_about_nobody(store: Store) -> None:
    desk = desk_at(store)

    made = write_down(desk, None, Entry("incident", "Water on the floor of room 2")).made

    (row,) = matters(desk_at(store, by="mina"))
    assert (row.number, row.reference, row.name) == (made, "", "")
    for seen, late in ((desk_at(store, by="mina"), 0), (later(desk_at(store, by="mina"), 9), 1)):
        by_step = counts(seen).by_step
        assert by_step is not None and (by_step.matters, by_step.late) == (1, late)
    close(desk_at(store, by="mina"), row.number, "looked_into", "Mopped; the tap was changed.")
    assert matters(desk, everybody=True) == ()
    assert undo.last(desk) is None
    assert history_is_whole(store)


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        (Entry("gossip", "x"), "no kind"),
        (Entry("message", " "), "needs words"),
        (Entry("message", "x", due=DAY - timedelta(days=1)), "has gone by"),
        (Entry("message", "x", owner="nightly"), "jobs see to nothing"),
    ],
)
def test_what_cannot_be_is_refused_before_anything_is_written(
    store: Store, entry: Entry, says: str
) -> None:
    desk = desk_at(store)
    somebody(desk)

    with pytest.raises(InputError, match=says):
        write_down(desk, "W1", entry)
    assert rows(store, tables.Matter) == []


def test_every_kind_can_be_closed_and_every_owner_is_a_role() -> None:
    assert all(kind.closes and kind.owner in OWNERS and kind.days >= 0 for kind in KIND.values())


@pytest.mark.parametrize("how", ["answered", "not_needed", "tell_them"])
def test_whoever_took_a_message_sees_every_answer(store: Store, how: str) -> None:
    """For a week; what they are to pass on is on their list instead, and nobody else sees it."""
    rob = desk_at(store, by="rob")
    somebody(rob)
    number = taken(rob)
    clara = desk_at(store, by="clara")
    close(clara, number, how, "Yes,\nfrom Monday.")

    if how == "tell_them":
        assert answered_lately(rob) == () and titles(rob) == ["An answer to pass on"]
        return
    (row,) = answered_lately(rob)
    assert (row.number, row.closed_by, row.answer) == (number, "clara", "Yes, from Monday.")
    assert (row.text, row.reference, row.closed_on) == ("May he swim?", "W1", DAY)
    said = answer_of(row).splitlines()
    assert said[-2:] == ["    Yes, from Monday.", "    you wrote: May he swim?"]
    assert answered_lately(clara) == () == answered_lately(desk_at(store, by="mina"))
    assert answered_lately(later(rob, 7)) and not answered_lately(later(rob, 8))
    undo.undo(clara)
    assert answered_lately(rob) == () and titles(clara) == ["A message"]


def test_what_one_answered_oneself_is_told_to_nobody(store: Store) -> None:
    clara = desk_at(store, by="clara")
    somebody(clara)
    close(clara, taken(clara), "answered", "Yes.")
    assert answered_lately(clara) == ()
