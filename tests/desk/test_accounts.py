"""The accounts at the desk: counted by hand on a small register, and no miss ever hidden."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from pathlib import Path

import pytest
from sqlalchemy import insert

from recall.accounts.cohort import Cohort, Only, Period
from recall.desk.contacts import bookings, contact_points
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.oversight.accounts import accounts, people_behind
from recall.desk.oversight.accounts_rows import (
    MISSED,
    entered_late,
    entries_behind,
    group_rows,
    share_in_time,
    state_rows,
)
from recall.desk.oversight.accounts_text import as_groups, as_text
from recall.desk.people import deaths
from recall.desk.plans import decisions
from recall.desk.plans.decisions import Dates, Decided
from recall.desk.referrals import progress
from recall.desk.visits import closing
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.calendar import say_day
from recall.schedule.plan import CloseReason
from tests.desk.files import lost_in_april
from tests.desk.practice import (
    CLEAR,
    DAY,
    FLUID,
    KERATIN,
    desk_at,
    later,
    open_follow_ups,
    rows,
    somebody,
    visit,
)
from tests.jobs import recount

ALL = Cohort(Period(DAY, date(2030, 1, 1), "asked"))


def child(store: Store, ref: str = "W1", **more: object) -> dict:
    """A child with fluid on one side, and the follow-up that comes of it."""
    desk = desk_at(store)
    person = somebody(desk, ref, **more)
    visit(desk, person, right=FLUID)
    return dict(open_follow_ups(store, person)[0])


def states(desk: Desk, cohort: Cohort = ALL) -> dict[str, int]:
    found = state_rows(accounts(desk, cohort))
    return {row.state: row.asks for row in found if row.of == "re-checks" and row.asks}


def decide(store: Store, row: dict, on: date, what: str, dates: Dates | None = None) -> None:
    said = Decided(what, "as talked over", considered=True, dates=dates)
    decisions.decide(desk_at(store, on, "clara"), [row["id"]], said)


def test_one_ask_goes_through_its_states_day_by_day(store: Store) -> None:
    row = child(store)
    earliest, latest = row["earliest"], row["latest"]

    assert states(desk_at(store, earliest - timedelta(days=1))) == {"not_yet_due": 1}
    assert states(desk_at(store, earliest)) == {"in_window": 1}
    day = next(d for n in range(9) if (d := earliest + timedelta(days=n)).weekday() < 5)
    at = desk_at(store, earliest)
    bookings.book(at, row["id"], None, Booking(datetime.combine(day, time(10))))
    assert states(at) == {"booked": 1}
    assert states(desk_at(store, latest)) == {"in_window": 1}
    assert states(desk_at(store, latest + timedelta(days=1))) == {"late": 1}
    visit(desk_at(store, latest + timedelta(days=9)), row["person_id"], right=CLEAR)
    assert states(desk_at(store, latest + timedelta(days=9)))["met_late"] == 1


def test_moving_what_is_late_leaves_the_miss_where_it_was(store: Store) -> None:
    row = child(store)
    late = row["latest"] + timedelta(days=5)
    far = late + timedelta(days=60)
    due = Cohort(Period(row["latest"], row["latest"]))
    before = accounts(desk_at(store, late), due)
    decide(store, row, late, "move", Dates(late, late, far))

    after = accounts(desk_at(store, late), due)
    assert before.now.rechecks.missed == after.now.rechecks.missed == 1
    (line,) = people_behind(
        desk_at(store, late), after.now, "rechecks", after.now.rechecks.in_state("moved_late")
    )
    assert (line.reference, line.due_on, line.moved_to, line.by) == (
        "W1",
        row["latest"],
        far,
        "clara",
    )
    assert share_in_time(after).hits == 0
    visit(desk_at(store, far), row["person_id"], right=CLEAR)
    assert accounts(desk_at(store, far), due).now.rechecks.missed == 1


def test_putting_off_in_time_is_said_and_not_in_time(store: Store) -> None:
    row = child(store)
    day, far = row["earliest"], row["latest"] + timedelta(days=30)
    decide(store, row, day, "move", Dates(day, day, far))
    due = Cohort(Period(row["latest"], row["latest"]))

    found = accounts(desk_at(store, row["latest"] + timedelta(days=1)), due)

    assert [e.state for e in found.now.rechecks.entries] == ["moved_later"]
    assert (share_in_time(found).hits, share_in_time(found).of) == (0, 1)
    assert found.now.rechecks.missed == 0


@pytest.mark.parametrize(
    ("what", "state"),
    [("transferred", "transferred"), ("clinician_decision", "decided")],
)
def test_an_end_by_name_is_its_own_state(store: Store, what: str, state: str) -> None:
    row = child(store)
    decide(store, row, row["earliest"], what)

    assert states(desk_at(store, row["latest"])) == {state: 1}


def test_every_closing_reason_of_the_table_is_counted_somewhere(store: Store) -> None:
    """Written straight into the table of ends, so that each is walked through the statement."""
    row = child(store)
    (due,) = rows(store, tables.Due, person_id=row["person_id"])
    desk, seen = desk_at(store, row["latest"] + timedelta(days=1)), set()
    for reason in CloseReason.__args__:
        made = {"on": row["latest"], "recorded_at": desk.now, "by_id": desk.by.id}
        with store.write() as session:
            table = tables.DueEvent.__table__
            values = {"due_id": due["id"], "what": "closed", "reason": reason, **made}
            session.execute(table.insert().values(**values))
        (state,) = states(desk)
        seen.add(state)
    assert len(seen) == len(CloseReason.__args__) - 1  # answered and resolved are one


@pytest.mark.parametrize(("days", "state"), [(0, "entered_in_error"), (1, "error_late")])
def test_what_is_taken_back_after_its_latest_day_stays_missed(
    store: Store, days: int, state: str
) -> None:
    """By whom stands beside it; the recount of the tests, which shares nothing, says the same."""
    row = child(store)
    on = row["latest"] + timedelta(days=days)
    clara = desk_at(store, on, "clara")
    closing.void_visit(clara, rows(store, tables.Visit)[0]["id"], "another child's")

    found = accounts(clara, ALL)

    assert states(clara) == {state: 1}
    share = share_in_time(found)
    assert (share.hits, share.of) == (0, days)
    (line,) = people_behind(clara, found.now, "rechecks", found.now.rechecks.entries)
    assert (line.missed, line.by, line.ended_on) == (bool(days), "clara", on)
    mine = recount.rechecks(store.path, on, set())
    assert [(c.state, c.missed) for c in mine] == [(line.state, line.missed)]
    assert recount.came_in_time(mine, on) == (share.hits, share.of)


def test_what_was_met_in_time_and_taken_back_long_after_was_never_missed(store: Store) -> None:
    row = child(store)
    visit(desk_at(store, row["latest"]), row["person_id"], right=CLEAR)
    on = row["latest"] + timedelta(days=90)
    clara = desk_at(store, on, "clara")
    closing.void_visit(clara, rows(store, tables.Visit)[0]["id"], "another child's")

    assert states(clara)["entered_in_error"] == 1
    assert not accounts(clara, ALL).now.rechecks.missed
    assert not any(c.missed for c in recount.rechecks(store.path, on, set()))


def test_a_death_is_an_end_of_its_own_and_its_person_opens(store: Store) -> None:
    row = child(store)
    desk = desk_at(store, row["earliest"], "clara")
    deaths.record_death(desk, "W1", row["earliest"], "Rowan Thackwell")

    found = accounts(desk, ALL)
    died = found.now.rechecks.in_state("died")
    (line,) = people_behind(desk, found.now, "rechecks", died)
    assert (line.name, line.ended_on) == ("Rowan Thackwell", row["earliest"])


def test_a_referral_that_nobody_sent_is_not_sent_whatever_else_is_known(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person = somebody(desk)
    visit(desk, person, right=KERATIN)
    (referral,) = rows(store, tables.Referral, person_id=person)
    progress.accepted(desk, referral["id"], None)

    found = accounts(desk, ALL).now
    recorded = {line.stage: line.recorded for line in found.stages}
    assert (recorded["sent"], recorded["accepted"]) == (0, 1)
    assert [e.state for e in found.referrals.entries] == ["accepted"]


def test_a_cohort_is_split_and_narrowed_by_what_is_told_of_each_ask(store: Store) -> None:
    child(store, "W1", site="North", born=date(2022, 3, 2))
    child(store, "W2", site="South")
    desk = desk_at(store)

    found = accounts(desk, ALL).now.rechecks
    assert {name: part.asks for name, part in found.by("site").items()} == {"North": 1, "South": 1}
    assert set(found.by("age")) == {"4 to 15"}
    north = accounts(desk, Cohort(ALL.period, Only(site="North"))).now.rechecks
    assert north.asks == 1
    assert sum(part.asks for part in found.by("urgency").values()) == found.asks


def test_each_part_says_its_share_with_the_range_and_who_ended_otherwise(store: Store) -> None:
    """One of one child died: 0 per cent, and by Wilson (1927) anything up to 79 per cent."""
    row = child(store)
    deaths.record_death(desk_at(store, row["earliest"], "clara"), "W1", DAY, "Rowan Thackwell")
    found = accounts(desk_at(store, row["latest"] + timedelta(days=1), "clara"), ALL)

    (part,) = group_rows(found, "month")
    said = as_groups([part])
    assert (part.name, part.without_a_look) == (f"{row['latest']:%Y-%m}", {"died": 1})
    assert "0 of 1     0%  0% to 79%" in said
    assert said.splitlines()[-1].split() == [part.name, "died,", "1"]


def test_what_was_entered_late_is_told_apart_and_the_old_figure_stays(store: Store) -> None:
    row = child(store)
    period = Cohort(Period(row["latest"], row["latest"]))
    before = accounts(desk_at(store, row["latest"] + timedelta(days=1)), period)
    with_visit = desk_at(store, row["latest"] + timedelta(days=10))
    number = visit(with_visit, row["person_id"], right=CLEAR)
    with store.write() as session:
        table = tables.DueEvent.__table__
        session.execute(table.update().where(table.c.visit_id == number).values(on=row["latest"]))

    after = accounts(with_visit, period)
    assert before.then is not None and after.then is not None and after.since is not None
    assert after.then.rechecks == before.then.rechecks
    assert [e.state for e in after.then.rechecks.entries] == ["late"]
    assert [e.state for e in after.since.rechecks.entries] == ["met_in_time"]
    assert [e.number for e in entered_late(after, "rechecks")] == [
        e.number for e in after.since.rechecks.entries
    ]


def test_the_missed_are_behind_one_number_whatever_became_of_them(store: Store) -> None:
    first, second = child(store, "W1"), child(store, "W2")
    late = first["latest"] + timedelta(days=3)
    decide(store, first, late, "transferred")
    visit(desk_at(store, late), second["person_id"], right=CLEAR)

    found = accounts(desk_at(store, late), Cohort(Period(DAY, late)))

    assert {e.state for e in entries_behind(found, "rechecks", MISSED)} == {
        "transferred",
        "met_late",
    }


def test_who_was_lost_stays_so_in_that_days_account_whatever_is_learnt_since(
    store: Store, tmp_path: Path
) -> None:
    """Nobody could write to them then; an address comes later, and a visit after that."""
    desk = lost_in_april(store, tmp_path, address_1="", postcode="")
    cohort = Cohort(Period(date(2026, 1, 1), desk.today))
    before = accounts(later(desk, 1), cohort).then
    address = contact_points.ContactPoint("address", "9 Teasel Row", "WF99 4RR")
    contact_points.add_contact_point(later(desk, 5), "P1", address)

    now = accounts(later(desk, 6), cohort)

    assert before is not None and now.then is not None
    assert [e.state for e in before.rechecks.entries] == ["lost"]
    assert now.then.rechecks == before.rechecks
    assert [e.state for e in now.now.rechecks.entries] == ["late"]
    (row,) = rows(store, tables.Person)
    visit(later(desk, 8), row["id"], right=FLUID)
    seen = accounts(later(desk, 9), cohort).then
    assert seen is not None and seen.rechecks == before.rechecks


def test_rules_that_were_adopted_since_are_said_with_their_day(store: Store) -> None:
    row = child(store)
    desk = desk_at(store, row["latest"] + timedelta(days=40))
    month = Cohort(Period(DAY, row["latest"]))
    assert accounts(desk, month).rules_since is None
    made = {"on": DAY, "recorded_at": desk.now, "by_id": desk.by.id, "recorded_no": 0}
    for name, days in (("before", 0), ("after", 9)):
        day = row["latest"] + timedelta(days=days)
        rules = {"name": name, "version": "1", "digest": name, "content": "", "adopted_on": day}
        with store.write() as session:
            session.execute(insert(tables.Protocol.__table__).values(**rules, **made))

    found = accounts(desk, month)

    assert found.rules_since == row["latest"] + timedelta(days=9)
    assert f"adopted since, on {say_day(found.rules_since)}" in " ".join(
        as_text(found, "Wrenfield").split()
    )
