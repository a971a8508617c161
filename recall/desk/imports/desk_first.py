"""What the desk changed of a person since a file was last taken in: it stands, and is told."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.imports.file_digests import Batch, Digests, Fresh, digest
from recall.exchange.identifiers import nhs_number
from recall.exchange.people_in import PersonRow
from recall.exchange.problem import Problem
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import read_as


@dataclass(frozen=True)
class Held:
    """A person's fields as the register holds them."""

    id: int
    ref: str
    given_names: str
    family_name: str
    born: date
    sex: str | None
    nhs_number: str | None
    nhs_number_raw: str | None
    nhs_number_problem: str | None
    gp: str
    gp_may_be_told: bool | None
    deceased_on: date | None
    objected_on: date | None
    language: str
    format: str
    caller_note: str
    site: str
    needs: tuple[str, ...]
    version: int


def held_people(session: Session, ids: Sequence[int]) -> dict[int, Held]:
    """Return some people's fields, by number."""
    wanted = select(read_as(Held, tables.Person)).where(tables.Person.id.in_(ids))
    return {person.id: person for person in session.scalars(wanted)}


def changed_at_desk(held: Held, before: Digests, names: Collection[str], usual: str) -> set[str]:
    """Return the fields that stand otherwise than the file had said; `usual` is the language."""
    could = _could_be_said(held, usual)
    return {
        name
        for name in names
        if name in could and before.get(name) not in {_said(value) for value in could[name]}
    }


def _said(value: object) -> str | None:
    return None if value in (None, "", ()) else digest(value)


def _could_be_said(held: Held, usual: str) -> dict[str, tuple[Any, ...]]:
    """Return what a file can have said for each field to stand as it does."""
    number = nhs_number(held.nhs_number or "")
    return {
        "given_name": (held.given_names,),
        "family_name": (held.family_name,),
        "born": (held.born,),
        "sex": (held.sex,),
        "gp": (held.gp.replace(", ", "", 1), held.gp),
        "tell_gp": (held.gp_may_be_told,),
        "deceased_on": (held.deceased_on,),
        "objected": (held.objected_on, True) if held.objected_on else (None,),
        "language": (held.language, *([None] if held.language == usual else ())),
        "letter_format": (held.format, *([None] if held.format == "standard" else ())),
        "safe_contact": (held.caller_note,),
        "site": (held.site,),
        "interpreter": ("; ".join(held.needs),),
        **({"nhs_number": (number.value, number.shown)} if number.value else {}),
    }


def told(fresh: Fresh[Any], column: str, wrong: str, right: str) -> Problem:
    """Return something of a row that landed which stays as the register has it."""
    return Problem(
        line=fresh.read.line, column=column, value="", wrong=wrong, right=right, kept=True
    )


def hold_back(batch: Batch, fresh: Fresh[PersonRow], names: Collection[str]) -> None:
    """Tell what the file changed of a person and the desk changed too."""
    for name in sorted(names):
        wrong = "changed in the file, and the desk changed it since: the desk's stands"
        batch.kept.append(told(fresh, name, wrong, "change it at the desk if the file is right"))


def of_others(session: Session, page: Sequence[Fresh[PersonRow]]) -> Mapping[str, str]:
    """Return, by reference, who else has an NHS number of a page."""
    numbers = {f.row.nhs_number.value: f.key for f in page if f.row.nhs_number}
    c = tables.Person
    wanted = select(c.nhs_number, c.ref).where(c.nhs_number.in_(numbers), stands(c))
    owner = {number: ref for number, ref in session.execute(wanted) if number}
    found: dict[str, str] = {}
    for fresh in page:
        number = fresh.row.nhs_number.value if fresh.row.nhs_number else ""
        if number and owner.setdefault(number, fresh.key) != fresh.key:
            found[fresh.key] = owner[number]
    return found
