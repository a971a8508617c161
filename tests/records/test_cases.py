"""Rows become the case file's history, and what was voided is not part of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import msgspec
import pytest
from sqlalchemy.orm import Session

from recall.care.case import Case, Reported, Risk, ToldByOthers, UnderCare, Visit
from recall.care.ear import Ear
from recall.care.measured import Tympanogram
from recall.errors import NotFound
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.cases import all_cases, case_for, cases_of, decisions_of, pages
from recall.schedule.plan import Decision
from tests.conftest import NOW
from tests.records.build import DAY, MADE, WHO, person, visit

RIGHT = Ear(
    drum_seen="full",
    effusion="present",
    tympanogram=Tympanogram(flat=True, volume_ml=0.8),
    hearing_dB={"500": 30, "1000": "nr"},
)
LEFT = Ear(effusion="absent", drum_seen="full")
CARE = UnderCare(of="ent", ear="left", track="cavity", since="2024-05")
TOLD = ToldByOthers(on="2026-05", ear="right", source="GP letter", effusion="present")


def fill(session: Session) -> int:
    """A person with everything that a case can hold."""
    who = person(session)
    first = visit(session, who.id, DAY, right=RIGHT, left=LEFT)
    first.examiner_id = 1
    first.reported = msgspec.json.encode(
        ["hearing_concern", Reported(what="pain", ear="left")]
    ).decode()
    second = visit(session, who.id, DAY - timedelta(days=90))
    second.examiner = "locum"
    for table, content in ((tables.UnderCare, CARE), (tables.ToldByOthers, TOLD)):
        text = msgspec.json.encode(content).decode()
        session.add(table(person_id=who.id, content=text, **MADE))
    session.add_all(
        [
            tables.PersonRisk(person_id=who.id, what="down_syndrome", **MADE),
            tables.PersonRisk(person_id=who.id, what="hearing_aid", ear="left", **MADE),
            tables.LossTreated(person_id=who.id, treated_on="2026-08", **MADE),
        ]
    )
    session.flush()
    return who.id


WHOLE = Case(
    born=date(2018, 3, 2),
    risks=("down_syndrome", Risk(what="hearing_aid", ear="left")),
    visits=(
        Visit(on=DAY - timedelta(days=90), examiner="locum"),
        Visit(
            on=DAY,
            examiner="clara",
            reported=("hearing_concern", Reported(what="pain", ear="left")),
            right=RIGHT,
            left=LEFT,
        ),
    ),
    under_care=(CARE,),
    told_by_others=(TOLD,),
    loss_treated_on="2026-08",
)


def test_a_case_holds_everything_in_order_of_day(store: Store) -> None:
    with store.write() as session:
        assert case_for(session, fill(session)) == WHOLE


def test_what_was_voided_is_left_out(store: Store) -> None:
    with store.write() as session:
        number = fill(session)
        for table in (tables.Visit, tables.PersonRisk, tables.UnderCare, tables.LossTreated):
            for row in session.query(table):
                row.void_at, row.void_by_id, row.void_why = NOW, 1, "wrong person"
        session.flush()

        assert case_for(session, number) == Case(born=date(2018, 3, 2), told_by_others=(TOLD,))


def test_known_at_gives_what_the_desk_could_know_then(store: Store) -> None:
    day_later = NOW + timedelta(days=1)
    with store.write() as session:
        who = person(session)
        kept = visit(session, who.id)
        late = visit(session, who.id, DAY + timedelta(days=1))
        late.recorded_at = day_later
        kept.void_at, kept.void_by_id, kept.void_why = day_later, 1, "wrong person"
        session.flush()

        then = cases_of(session, [who.id], NOW)[who.id]
        now = case_for(session, who.id)

    assert [v.on for v in then.visits] == [DAY]
    assert [v.on for v in now.visits] == [DAY + timedelta(days=1)]


def test_nobody_has_no_case(store: Store) -> None:
    with store.read() as session, pytest.raises(NotFound):
        case_for(session, 99)


def test_the_whole_register_comes_in_pages(store: Store) -> None:
    with store.write() as session:
        ids = [person(session, f"W{n}").id for n in range(7)]
        for number in ids:
            visit(session, number, right=RIGHT)

        everybody = dict(all_cases(session, page=3))

        assert list(everybody) == ids
        assert {len(case.visits) for case in everybody.values()} == {1}


def test_more_people_than_one_statement_takes_are_read_in_pages(store: Store) -> None:
    """SQLite takes 32,766 values in a statement (SQLite: "Limits", section 9)."""
    with store.write() as session:
        who = person(session)

        assert list(cases_of(session, range(1, 40_000))) == [who.id]
    assert list(pages(range(5), 2)) == [[0, 1], [2, 3], [4]]


def test_decisions_come_back_as_they_were_made(store: Store) -> None:
    made = (
        Decision(on=DAY, ear="left", track="fluid", reason="informed_decline", why="Moving."),
        Decision(
            on=DAY,
            ear="right",
            track="wax",
            action="move",
            earliest=DAY,
            target=DAY,
            latest=replace(WHO).on,
        ),
    )
    with store.write() as session:
        who = person(session)
        for decision in made:
            values = {n: getattr(decision, n) for n in Decision.__struct_fields__}
            session.add(tables.Decision(person_id=who.id, **{**MADE, **values}))
        session.flush()

        assert decisions_of(session, [who.id]) == {who.id: made}
