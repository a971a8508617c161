"""Contacts: claiming, every outcome, holding back, and taking it back the same day."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from datetime import date, datetime, timedelta

import pytest
from sqlalchemy import select

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.entries import Attempt, Booking, MoveTo
from recall.desk.core import done
from recall.desk.core.undo import last, last_undoable, undo
from recall.errors import Conflict, InputError, NotFound, Refused
from recall.loop.outcomes import OUTCOMES
from recall.records import tables
from recall.records.database.store import Store
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


def test_two_desks_do_not_take_the_same_in_hand(store: Store, follow_up: dict) -> None:
    rob, mina = desk_at(store), desk_at(store, by="mina")
    contacting.claim(rob, follow_up["id"])
    with pytest.raises(Conflict):
        contacting.claim(mina, follow_up["id"])
    with pytest.raises(Conflict, match="rob has follow-up"):
        contacting.log_contact(mina, follow_up["id"], None, Attempt("phone", "no_answer"))
    contacting.release(rob, follow_up["id"])
    contacting.claim(mina, follow_up["id"])


def test_a_claim_runs_out_by_itself(store: Store, follow_up: dict) -> None:
    contacting.claim(desk_at(store), follow_up["id"])
    contacting.claim(later(desk_at(store, by="mina"), 1), follow_up["id"])


def test_who_rings_in_is_logged_though_somebody_has_it_in_hand(
    store: Store, follow_up: dict
) -> None:
    contacting.claim(desk_at(store), follow_up["id"])
    done = contacting.log_contact(
        desk_at(store, by="mina"),
        follow_up["id"],
        None,
        Attempt("phone", "will_call_back", by_them=True),
    )
    assert done.step == "phone"


@pytest.mark.parametrize("outcome", ["worse", "do_not_contact", "not_safe"])
def test_what_must_not_be_lost_is_logged_though_somebody_has_it_in_hand(
    store: Store, follow_up: dict, outcome: str
) -> None:
    contacting.claim(desk_at(store), follow_up["id"])
    mina = desk_at(store, by="mina")
    contacting.log_contact(mina, follow_up["id"], None, Attempt("phone", outcome))
    assert rows(store, tables.Contact)[-1]["outcome"] == outcome


@pytest.mark.parametrize("outcome", OUTCOMES, ids=lambda o: o.id)
def test_every_outcome_gives_a_next_step_and_leaves_it_open(
    store: Store, follow_up: dict, outcome
) -> None:
    desk = later(desk_at(store), 1)
    done = contacting.log_contact(
        desk, follow_up["id"], follow_up["version"], Attempt("phone", outcome.id)
    )

    row = rows(store, tables.FollowUp, id=follow_up["id"])[0]
    assert (row["is_open"], row["step"], row["next_step_on"]) == (True, done.step, done.on)
    assert outcome.words in done.words
    assert done.version == row["version"] > follow_up["version"]
    assert history_is_whole(store)


def test_the_second_of_two_desks_is_told(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    contacting.log_contact(
        desk, follow_up["id"], follow_up["version"], Attempt("phone", "no_answer")
    )
    with pytest.raises(Conflict, match="Somebody else changed follow up"):
        contacting.log_contact(
            desk, follow_up["id"], follow_up["version"], Attempt("phone", "no_answer")
        )
    assert len(rows(store, tables.Contact)) == 1


def test_worse_symptoms_go_to_a_clinician_at_once_and_move_up(
    store: Store, follow_up: dict
) -> None:
    desk = later(desk_at(store), 1)
    done = contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "worse"))

    assert (done.step, done.on) == ("clinician_call", desk.today)
    assert "hand the call to a clinician" in done.words
    row = rows(store, tables.FollowUp, id=follow_up["id"])[0]
    assert row["urgency_rank"] == 1


@pytest.mark.parametrize("outcome", ["moved", "wrong_number"])
def test_a_doubtful_address_is_checked_next(store: Store, follow_up: dict, outcome: str) -> None:
    desk = later(desk_at(store), 1)
    done = contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", outcome))
    assert done.step == "address_check"


def test_a_wrong_number_is_not_used_again(store: Store, follow_up: dict) -> None:
    phone = rows(store, tables.ContactPoint, kind="phone")[0]
    desk = later(desk_at(store), 1)
    contacting.log_contact(
        desk, follow_up["id"], None, Attempt("phone", "wrong_number", contact_point_id=phone["id"])
    )
    assert rows(store, tables.ContactPoint, kind="phone")[0]["until"] == desk.today


@pytest.mark.parametrize(
    ("outcome", "column"),
    [("died", "deceased_on"), ("do_not_contact", "objected_on"), ("not_safe", "unsafe_on")],
)
def test_a_contact_stop_counts_everywhere_at_once(
    store: Store, follow_up: dict, outcome: str, column: str
) -> None:
    desk = later(desk_at(store), 1)
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", outcome))

    assert rows(store, tables.Person)[0][column] == desk.today
    with pytest.raises(Refused, match="The person of follow-up"):
        contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "no_answer"))


def test_what_waits_for_a_decision_still_says_so_after_another_outcome(
    store: Store, follow_up: dict
) -> None:
    desk = later(desk_at(store), 1)
    given = follow_up["id"], None
    first = contacting.log_contact(desk, *given, Attempt("phone", "cannot_afford"))
    assert "Next, Wednesday 2 September 2026: a named clinician decides: cannot" in first.words

    done = contacting.log_contact(
        later(desk, 14), *given, Attempt("phone", "wants_letter", by_them=True)
    )
    assert done.step == "decision"
    assert done.words == (
        "Would like a letter first. Next, now: a named clinician decides: cannot afford it: "
        "public route offered (2 September 2026)."
    )


def test_a_day_gone_by_is_not_told_as_if_it_were_to_come(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 100)
    done = contacting.note(desk, follow_up["id"], "Not rung yet.")
    assert done.on is not None and done.on < desk.today
    assert done.words.startswith("Noted. Next, now: ")
    assert (done.person_ref, done.follow_up) == ("W1", follow_up["id"])


def test_call_again_on_a_day_is_that_day(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    until = desk.today + timedelta(days=9)
    done = contacting.log_contact(
        desk, follow_up["id"], None, Attempt("phone", "call_again_on", until=until)
    )
    assert (done.step, done.on) == ("phone", until)


def test_what_cannot_be_is_refused(store: Store, follow_up: dict) -> None:
    desk = desk_at(store)
    with pytest.raises(InputError, match="is no channel"):
        contacting.log_contact(desk, 1, None, Attempt("pigeon", "no_answer"))
    with pytest.raises(InputError, match="is no outcome"):
        contacting.log_contact(desk, 1, None, Attempt("phone", "perhaps"))
    with pytest.raises(InputError, match="takes no day"):
        contacting.log_contact(desk, 1, None, Attempt("phone", "no_answer", until=date(2027, 1, 1)))
    with pytest.raises(NotFound):
        contacting.log_contact(desk, 999, None, Attempt("phone", "no_answer"))


def test_holding_back_needs_a_reason_and_a_day_ahead(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    until = desk.today + timedelta(days=10)
    with pytest.raises(InputError, match="without a reason"):
        contacting.hold(desk, follow_up["id"], None, " ", until)
    with pytest.raises(InputError, match="not ahead"):
        contacting.hold(desk, follow_up["id"], None, "abroad", desk.today)
    done = contacting.hold(desk, follow_up["id"], None, "abroad", until)
    assert done.on is not None and done.on >= until


def test_beyond_the_latest_day_only_who_may_decide_holds_back(
    store: Store, follow_up: dict
) -> None:
    until = follow_up["latest"] + timedelta(days=1)
    with pytest.raises(Refused):
        contacting.hold(desk_at(store), follow_up["id"], None, "abroad", until)
    contacting.hold(desk_at(store, by="clara"), follow_up["id"], None, "abroad", until)


def test_taking_back_restores_everything_and_leaves_its_trace(
    store: Store, follow_up: dict
) -> None:
    desk = later(desk_at(store), 1)
    before = rows(store, tables.FollowUp, id=follow_up["id"])[0]
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "died"))

    latest = last_undoable(desk)
    assert latest is not None and latest.kind == "contact"
    undo(desk)

    after = rows(store, tables.FollowUp, id=follow_up["id"])[0]
    same = ("is_open", "urgency_rank", "close_reason", "latest")
    assert [after[n] for n in same] == [before[n] for n in same]
    assert rows(store, tables.Person)[0]["deceased_on"] is None
    assert rows(store, tables.Contact) == []
    assert last_undoable(desk) is None
    with store.read() as session:
        voided = session.query(tables.Contact).one()
    assert (voided.void_why, voided.outcome) == ("Taken back.", "died")
    assert history_is_whole(store)


def test_taking_back_says_about_whom_and_can_be_asked_first(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    assert last(desk) is None
    made = contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "will_call_back"))
    asked = last(desk)
    assert asked is not None and len(rows(store, tables.Contact)) == 1
    done = undo(desk, asked.action)

    says = "Rowan Thackwell, born 2 March 2020: taken back: Spoke: will call back."
    assert asked.words == says and done.words.startswith(f"{says} Next, ")
    assert asked.action == made.action
    for found in (asked, done):
        assert (found.person_ref, found.follow_up) == ("W1", follow_up["id"])


def test_the_history_of_taking_back_names_nobody(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "no_answer"))
    undo(desk)
    told = tables.HistoryPayload.__table__.c.content
    with store.read() as session:
        lines = session.scalars(select(told).where(told.contains("aken back"))).all()
    assert lines and not [line for line in lines if "Thackwell" in line]
    with pytest.raises(NotFound, match="rob has nothing of today"):
        undo(desk)


def test_only_ones_own_of_today_can_be_taken_back(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    done = contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "no_answer"))
    with pytest.raises(Refused, match="somebody else's"):
        undo(later(desk_at(store, by="mina"), 1), done.action)
    with pytest.raises(NotFound):
        undo(later(desk, 1), done.action)
    with pytest.raises(NotFound):
        undo(later(desk, 1))


def test_what_came_after_is_taken_back_first(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    first = contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "no_answer"))
    contacting.note(desk, follow_up["id"], "Rang at noon.")
    with pytest.raises(Conflict, match="Take that back first"):
        undo(desk, first.action)
    undo(desk)
    undo(desk)
    assert rows(store, tables.Contact) == []


def test_only_who_may_decide_looks_at_the_list(store: Store, follow_up: dict) -> None:
    with pytest.raises(Refused):
        contacting.looked(desk_at(store), [follow_up["id"]])
    contacting.looked(desk_at(store, by="clara"), [follow_up["id"]])
    assert rows(store, tables.FollowUpEvent)[0]["what"] == "looked"


def test_the_gp_is_not_told_against_the_persons_will(store: Store) -> None:
    desk = desk_at(store)
    person_id = somebody(desk, gp_may_be_told=False)
    visit(desk, person_id, right=FLUID)
    number = open_follow_ups(store, person_id)[0]["id"]
    with pytest.raises(Refused):
        contacting.gp_told(desk, number, None)


def test_somebody_elses_number_is_not_taken_away(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    somebody(desk, "W2")
    theirs = rows(store, tables.ContactPoint, kind="phone")[-1]
    given = Attempt("phone", "wrong_number", contact_point_id=theirs["id"])
    with pytest.raises(NotFound, match="is not this person's"):
        contacting.log_contact(desk, follow_up["id"], None, given)
    assert rows(store, tables.ContactPoint, id=theirs["id"])[0]["until"] is None


def test_of_two_desks_at_the_same_moment_one_is_told(store: Store, follow_up: dict) -> None:
    given = follow_up["id"], follow_up["version"], Attempt("phone", "no_answer")

    def log(by: str) -> str:
        try:
            contacting.log_contact(later(desk_at(store, by=by), 1), *given)
        except Conflict:
            return "told"
        return "logged"

    with ThreadPoolExecutor(max_workers=2) as desks:
        assert sorted(desks.map(log, ["rob", "mina"])) == ["logged", "told"]
    assert len(rows(store, tables.Contact)) == 1
    assert history_is_whole(store)


def test_what_one_did_today_is_counted_while_it_stands(store: Store, follow_up: dict) -> None:
    desk, number = later(desk_at(store), 1), follow_up["id"]
    assert done.done_today(desk).counted == 0
    contacting.log_contact(desk, number, None, Attempt("phone", "no_answer"))
    contacting.note(desk, number, "Rang at noon.")
    contacting.hold(desk, number, None, "abroad", desk.today + timedelta(days=3))
    booked = bookings.book(desk, number, None, Booking(datetime(2026, 9, 29, 10)))
    assert booked.made is not None
    bookings.move(desk, booked.made, MoveTo(datetime(2026, 9, 30, 10)), "person")
    assert done.done_today(desk).counted == 4
    undo(desk)
    assert done.done_today(desk).counted == 3
    assert done.done_today(later(desk_at(store, by="mina"), 1)).counted == 0
    assert done.done_today(later(desk, 1)).counted == 0


def test_errors_never_name_a_person(store: Store, follow_up: dict) -> None:
    desk = later(desk_at(store), 1)
    contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "do_not_contact"))
    with pytest.raises(Refused) as refused:
        contacting.log_contact(desk, follow_up["id"], None, Attempt("phone", "no_answer"))
    assert "Thackwell" not in str(refused.value) and "Rowan" not in str(refused.value)
    assert desk.today > DAY
