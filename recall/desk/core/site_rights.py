"""Whose site an act of the desk is about, and who may do it: one table beside that of the rights.

Where a practice has several sites, what is done about a person is for those who work for the
person's site. Looking is allowed, and written down where everybody signs in. What must not wait
for the right desk is never refused: each such function says so where it says its right.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.core.references import person_id
from recall.desk.core.rights import Right, Role, has_right
from recall.desk.core.session import Desk, staff
from recall.desk.core.sites import named, not_worked_for, worked_for
from recall.errors import InputError, NotFound, Refused
from recall.records import tables
from recall.records.facts.cases import pages

READS = frozenset({Right.LOOK, Right.SEE_LOOKS})
"""What only looks: allowed for everybody in the register."""
PEOPLE = frozenset({"ref", "person", "reference", "refs"})
"""Parameters that name people by their references."""
ROWS: dict[str, Any] = {
    "follow_up_id": tables.FollowUp,
    "follow_up_ids": tables.FollowUp,
    "booking_id": tables.Booking,
    "contact_point_id": tables.ContactPoint,
    "risk_id": tables.PersonRisk,
    "adult_id": tables.AdultFor,
    "care_id": tables.UnderCare,
    "visit_id": tables.Visit,
    "visit_ids": tables.Visit,
    "referral_id": tables.Referral,
    "decision": tables.Decision,
    "milder_line": tables.MilderLine,
    "earlier_date": tables.Proposal,
}
"""Parameters that name rows by their number, or what the bare `number` of a function is."""
LETTER, ASKS = "letter_number", "asks"
"""A letter by its own number; things of history, as they are shown: F12, R3."""
ABOUT = frozenset({*PEOPLE, *ROWS, LETTER, ASKS})
"""Every parameter by which a function of the desk is about somebody."""


def refuse_other_sites(right: Right, desk: Desk, given: Mapping[str, object]) -> None:
    """Refuse an act about somebody of a site for which whoever acts does not work.

    What cannot be found is left to the function itself, which says so.

    Raises:
        Refused: whose site it is, and who may.
    """
    others = not_worked_for(desk.config.sites, desk.by)
    about = {name: value for name, value in given.items() if name in ABOUT and value is not None}
    if not others or not about:
        return
    p = tables.Person
    with desk.store.read() as session:
        people = [n for name, value in about.items() for n in _people(session, name, value)]
        for some in pages(people):
            wanted = select(p.ref, p.site).where(p.id.in_(some), p.site.in_(others)).limit(1)
            for ref, site in session.execute(wanted):
                raise _refused(desk, right, ref, site)


def _refused(desk: Desk, right: Right, ref: str, site: str) -> Refused:
    sites = desk.config.sites
    able = [
        each.handle
        for each in staff(desk.store)
        if each.left_on is None
        and each.role is not Role.JOBS
        and has_right(each.role, right)
        and site in worked_for(sites, each)
    ]
    name = named(sites, frozenset({site}))
    return Refused(
        f"{ref} belongs to {name}, for which {desk.by.handle} does not work.",
        hint=f"It needs one of: {', '.join(able) or 'nobody yet; see recall staff sites'}.",
    )


def _people(session: Session, name: str, value: object) -> list[int]:
    """Return the numbers of those whom one parameter is about."""
    if name in PEOPLE:
        return [number for ref in _each(value) for number in _by_ref(session, str(ref))]
    if name == LETTER:
        return _by_letter(session, str(value))
    if name == ASKS:
        asks = [str(each) for each in _each(value)]
        kinds = (("F", tables.FollowUp), ("R", tables.Referral))
        return [
            number
            for letter, table in kinds
            for number in _owners(session, table, [a[1:] for a in asks if a[:1] == letter])
        ]
    return _owners(session, ROWS[name], _each(value))


def _each(value: object) -> Iterable[object]:
    return value if isinstance(value, Iterable) and not isinstance(value, str) else (value,)


def _by_ref(session: Session, ref: str) -> list[int]:
    try:
        return [person_id(session, ref)]
    except (NotFound, InputError):
        return []


def _by_letter(session: Session, number: str) -> list[int]:
    c = tables.Letter
    told = f'"number":{msgspec.json.encode(number.strip()).decode()}'
    wanted = select(c.person_id).where(c.fields.contains(told, autoescape=True))
    return list(session.scalars(wanted.where(c.void_at.is_(None)).limit(1)))


def _owners(session: Session, table: Any, numbers: Iterable[object]) -> list[int]:
    """Return the people of some rows."""
    asked = [int(str(number)) for number in numbers if str(number).isdecimal()]
    found: list[int] = []
    for some in pages(asked):
        found += session.scalars(select(table.person_id).where(table.id.in_(some))).all()
    return found
