"""Where the lists look: bare names that are the mapped ones, and conditions that hold."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from datetime import timedelta

import pytest
from sqlalchemy import TableClause, event, insert, text

from recall.records import tables
from recall.records.database.plain import by_session
from recall.records.database.store import Store
from recall.records.facts import candidates
from recall.records.facts import unsettled as unsettled_rows
from recall.records.facts.first_counts import first_counts
from recall.records.facts.unsettled import unsettled
from recall.records.journal import head_file
from recall.records.ledger.storing import store_ledger
from tests.records.build import DAY, MADE, WHO, due, ledger, opens, person, referral


@pytest.mark.parametrize(
    "bare",
    [
        candidates.FOLLOW_UPS,
        candidates.PEOPLE,
        unsettled_rows.ADULTS,
        unsettled_rows.BOOKINGS,
        unsettled_rows.VISITS,
        candidates.TO_PLAN,
        candidates.REFERRALS,
        candidates.MILDER,
        head_file.REGISTER,
        head_file.HISTORY,
        head_file.HEAD,
    ],
    ids=lambda t: t.name,
)
def test_bare_names_are_those_of_the_mapped_tables(bare: TableClause) -> None:
    mapped = tables.Base.metadata.tables[bare.name]

    for column in bare.columns:
        there = mapped.columns[column.name].type
        there = getattr(there, "impl_instance", there)
        assert column.type.python_type is there.python_type


def test_each_kind_of_list_finds_where_to_look(store: Store) -> None:
    """Thirty people with a due each, a week apart; every third has a referral."""
    with store.write() as session:
        for number in range(30):
            who = person(session, f"W{number:03}")
            asked = due(asked_on=DAY + timedelta(weeks=number))
            sent = (referral(asked.asked_on),) if number % 3 == 0 else ()
            store_ledger(session, who.id, ledger(asked, referrals=sent), WHO, opens)

    on = due().latest + timedelta(weeks=3)
    with store.read() as session:
        everyone = list(candidates.candidates(session, "open", on))
        come = list(candidates.candidates(session, "come", on))
        late = list(candidates.candidates(session, "late", on))
        chased = candidates.to_chase(session, on)
        told = first_counts(by_session(session), on)
        assert len(candidates.to_chase(session, None)) == 10
        at_a_step = list(candidates.candidates(session, "come", on, ["invitation"]))
        at_none = list(candidates.candidates(session, "come", on, ["phone"]))
    waiting = come[0].person_id
    with store.write() as session:
        session.execute(insert(tables.ToPlan).values(person_id=waiting))
        to_be_planned = list(candidates.candidates(session, "come", on, ["phone"]))
    assert len(everyone) == 30
    assert {each.step for each in come} == {"invitation"}
    assert (at_a_step, at_none) == (come, [])
    assert {each.person_id for each in to_be_planned} == {waiting}
    assert set(come) == {each for each in everyone if each.next_step_on <= on}
    assert set(late) == {each for each in everyone if each.latest < on}
    assert 0 < len(late) < len(come) < 30
    assert (told.overdue, told.referrals, told.is_empty) == (len(late), len(chased), False)


def test_what_stays_and_what_may_turn_is_all_that_has_come(store: Store) -> None:
    """Each by what says so: its step, the person's plan, its number, the day of going live."""
    with store.write() as session:
        for number in range(9):
            who = person(session, f"W{number:03}")
            asked = due(asked_on=DAY + timedelta(weeks=number))
            store_ledger(session, who.id, ledger(asked), WHO, opens)
    on = due().latest + timedelta(weeks=3)
    with store.write() as session:
        come = list(candidates.candidates(session, "come", on))
        live = sorted(each.latest for each in come)[2]
        stays = candidates.settled(session, on, ["invitation"])
        stays_since = candidates.settled(session, on, ["invitation"], live)
        at_step = unsettled(session, on, ["invitation"])
        of_before = unsettled(session, on, ["phone"], live=live).kept
        before = min(each.next_step_on for each in come) - timedelta(days=1)
        later = unsettled(session, before, ["invitation"], ["invitation"])
        session.execute(insert(tables.ToPlan).values(person_id=come[0].person_id))
        planned_anew = unsettled(session, on, ["invitation"])
    assert {each[-2:] for each in stays} == {(each.person_id, each.id) for each in come}
    assert later.kept == []
    assert (set(at_step.kept), at_step.by_facts) == (set(come), [])
    assert set(come) <= set(later.later)
    assert (planned_anew.by_facts, set(planned_anew.kept)) == ([come[0]], set(come[1:]))
    assert set(of_before) == {each for each in come if each.latest < live}
    assert {each[-1] for each in stays_since} == {e.id for e in come} - {e.id for e in of_before}
    assert 0 < len(of_before) < len(come)


def test_who_turned_16_is_told_by_facts_where_an_adult_answered(store: Store) -> None:
    """Without one nothing turned on the birthday."""
    with store.write() as session:
        who = person(session, "W001", born=DAY.replace(year=DAY.year - 16, month=1))
        store_ledger(session, who.id, ledger(due()), WHO, opens)
        alone = unsettled(session, due().latest, ["phone"])
        session.add(tables.AdultFor(person_id=who.id, name="A", role="carer", **MADE))
        session.flush()
        answered_for = unsettled(session, due().latest, ["phone"])
    assert (alone.by_facts, [each.person_id for each in answered_for.by_facts]) == ([], [who.id])


@pytest.mark.parametrize("column", ["latest", "next_step_on", "urgency_rank"])
def test_what_cannot_be_read_is_never_put_in_order(store: Store, column: str) -> None:
    """Days and urgencies are compared as they are kept: what is none is said, not placed."""
    with store.write() as session:
        who = person(session, "W001")
        store_ledger(session, who.id, ledger(due()), WHO, opens)
        session.execute(text("PRAGMA ignore_check_constraints = ON"))
        session.execute(text(f"UPDATE follow_up SET {column} = ''"))
    with store.read() as session, pytest.raises(ValueError):
        candidates.settled(session, due().latest, ["invitation"])
        unsettled(session, due().latest, [])


def four_at_four_sites(store: Store) -> None:
    """Four people with a due and a referral each, at four sites."""
    with store.write() as session:
        for number, site in enumerate(("north", "south", "", "closed")):
            who = person(session, f"W{number:03}")
            who.site = site
            store_ledger(session, who.id, ledger(due(), referrals=(referral(DAY),)), WHO, opens)
            session.flush()


def lengths(store: Store, *left_out: str) -> tuple[int, ...]:
    """How many stand on each list where some sites are left out."""
    on = due().latest + timedelta(weeks=3)
    with store.read() as session:
        candidates.leave_out_sites(session, left_out)
        told = first_counts(by_session(session), on, None, candidates.left_out_sites(session))
        found = (
            len(list(candidates.candidates(session, "come", on))),
            len(list(candidates.candidates(session, "late", on))),
            len(candidates.settled(session, on, ["invitation"])),
            len(candidates.to_chase(session, on)),
        )
    assert (told.overdue, told.referrals) == (found[1], found[3])
    return found


def test_a_list_of_some_sites_leaves_out_the_others_people(store: Store) -> None:
    four_at_four_sites(store)

    assert lengths(store) == (4,) * 4
    assert lengths(store, "north") == (3,) * 4
    assert lengths(store, "north", "south") == (2,) * 4


def test_whose_site_a_row_is_of_is_looked_up_by_their_number(store: Store) -> None:
    """SQLite, "EXPLAIN QUERY PLAN"."""
    four_at_four_sites(store)
    asked = list[str]()

    def seen(_connection: object, _cursor: object, sql: str, values: tuple[str, ...], *_: object):
        if "follow_up" in sql and sql.startswith("SELECT"):
            asked.append(" ".join(plan(sql, values)))

    def plan(sql: str, values: tuple[str, ...]) -> list[str]:
        with closing(sqlite3.connect(store.path)) as bare:
            return [row[3] for row in bare.execute(f"EXPLAIN QUERY PLAN {sql}", values)]

    event.listen(store.engine, "before_cursor_execute", seen)
    lengths(store, "north")
    assert len(asked) == 4
    for each in asked:
        assert "INDEX ix_follow_up" in each and "INTEGER PRIMARY KEY" in each, each
