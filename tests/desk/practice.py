"""An invented practice on a migrated register, for the tests of the desk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import msgspec
from sqlalchemy import insert, select

from recall import config
from recall.care.ear import Ear
from recall.clock import Clock
from recall.desk.core.acting import status_now
from recall.desk.core.replanning import plan_people
from recall.desk.core.session import Desk, staff_member
from recall.protocol.loading import Protocol, load
from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal import history
from recall.records.people.finding import rekey
from recall.schedule.calendar import Calendar

DAY = date(2026, 9, 1)
PRACTICE = config.Config(
    practice=config.Practice(
        name="Wrenfield Ear Care",
        address=("4 Larkspur Yard", "Wrenfield"),
        postcode="WR9 9ZZ",
        phone="01632 960123",
    )
)
FLUID = Ear(
    wax_found="some",
    wax_left="none",
    drum_seen="full",
    attic_seen=True,
    effusion="present",
    hearing_dB={"500": 15, "1000": 15, "2000": 15, "4000": 20},
)
CLEAR = Ear(
    wax_found="some",
    wax_left="none",
    drum_seen="full",
    attic_seen=True,
    effusion="absent",
    tensa_grade=0,
    attic_grade=0,
    perforation="none",
    hearing_dB={"500": 15, "1000": 15, "2000": 15, "4000": 20},
)
KERATIN = Ear(drum_seen="full", attic_seen=True, attic_grade=3, keratin=True, scutum_erosion=True)


@lru_cache(maxsize=1)
def protocol() -> Protocol:
    """The default protocol, read once."""
    return load(None, None)


def desk_at(store: Store, on: date = DAY, by: str = "rob") -> Desk:
    """The desk of somebody on a day."""
    calendar = Calendar()
    member = staff_member(store, by, on)
    return Desk(store, PRACTICE, protocol(), calendar, Clock.at(on), member)


def with_files(desk: Desk, **paths: Path) -> Desk:
    """The same desk, with some of the practice's folders elsewhere."""
    files = msgspec.structs.replace(desk.config.files, **paths)
    return replace(desk, config=msgspec.structs.replace(desk.config, files=files))


def later(desk: Desk, days: int) -> Desk:
    """The same desk so many days later."""
    return replace(desk, clock=Clock.at(desk.today + timedelta(days=days)))


def evening(desk: Desk, days: int = 0) -> Desk:
    """The same desk at six in the evening so many days later: who was to come has come or not."""
    return replace(desk, clock=Clock.at(desk.today + timedelta(days=days), hour=18))


def somebody(desk: Desk, ref: str = "W1", **more: Any) -> int:
    """A child with a mother who has an address and a telephone, unless told otherwise."""
    # put in past the history, as rows from before it told of each: number 0
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id, "recorded_no": 0}
    adult = more.pop("adult", True)
    values = {
        "ref": ref,
        "given_names": "Rowan",
        "family_name": "Thackwell",
        "born": date(2020, 3, 2),
        "gp": "Dr Quill, Mill Surgery, Wrenfield",
        "gp_may_be_told": None,
        **made,
        **more,
    }
    with desk.store.write() as session:
        row = insert(tables.Person.__table__).values(**values)
        person_id: int = session.execute(row.returning(tables.Person.id)).scalar_one()
        adult_id = None
        if adult:
            about = {"person_id": person_id, "name": "Ida Thackwell", "role": "responsible_adult"}
            row = insert(tables.AdultFor.__table__).values(**about, **made)
            adult_id = session.execute(row.returning(tables.AdultFor.id)).scalar_one()
        for kind, value in (("address", "7 Teasel Row\nWrenfield"), ("phone", "+441632960321")):
            given = {"person_id": person_id, "adult_id": adult_id, "kind": kind, "raw": value}
            given |= {"value": value, "postcode": "WR9 9ZX" if kind == "address" else None}
            session.execute(insert(tables.ContactPoint.__table__).values(**given, **made))
        rekey(session, [person_id])
    return person_id


def visit(desk: Desk, person_id: int, *, confirmed: bool = True, **ears: Ear) -> int:
    """A visit of today, closed by the clinical lead whoever is at the desk, planned."""
    made = {"on": desk.today, "recorded_at": desk.now, "by_id": desk.by.id, "recorded_no": 0}
    values = {"person_id": person_id, "source": "entered", **made}
    with desk.store.write() as session:
        lead = select(tables.Staff.id).where(tables.Staff.role == "clinical_lead")
        if confirmed:
            by_id = session.scalars(lead.order_by(tables.Staff.id)).first()
            values |= {"by_id": by_id, "confirmed_by_id": by_id, "confirmed_at": desk.now}
        row = insert(tables.Visit.__table__).values(**values)
        visit_id: int = session.execute(row.returning(tables.Visit.id)).scalar_one()
        for side, ear in ears.items():
            content = msgspec.json.encode(ear).decode()
            findings = {"visit_id": visit_id, "ear": side, "content": content}
            session.execute(insert(tables.Findings.__table__).values(**findings))
        plan_people(desk, session, [person_id])
    return visit_id


def rows(store: Store, table: Any, **where: Any) -> Sequence[Any]:
    """Rows of a table that stand."""
    columns = table.__table__.c
    wanted = select(table.__table__).order_by(columns.id)
    for name, value in where.items():
        wanted = wanted.where(columns[name] == value)
    if "void_at" in columns:
        wanted = wanted.where(columns.void_at.is_(None))
    with store.read() as session:
        return session.execute(wanted).mappings().all()


def open_follow_ups(store: Store, person_id: int) -> Sequence[Any]:
    """A person's open follow-ups."""
    return rows(store, tables.FollowUp, person_id=person_id, is_open=True)


def history_is_whole(store: Store) -> bool:
    """Whether the history verifies."""
    return history.verify(store) == ()


def stands_at(desk: Desk, follow_up: dict) -> str:
    """Return the step that is next on a day."""
    with desk.store.read() as session:
        step = status_now(desk, session, follow_up["id"]).step
    assert step is not None
    return step.kind
