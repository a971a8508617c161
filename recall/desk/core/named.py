"""Whose something is, in words: name, birth date and reference, against mistaken people."""

from __future__ import annotations

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.records.tables import Person
from recall.schedule.calendar import say_day


def named(session: Session, person_id: int) -> str:
    """Return name, birth date and reference of a person."""
    wanted = select(Person.given_names, Person.family_name, Person.born, Person.ref)
    row = session.execute(wanted.where(Person.id == person_id)).one()
    name = " ".join(filter(None, (row.given_names, row.family_name)))
    return f"{name}, born {say_day(row.born)}, {row.ref}"
