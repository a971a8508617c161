"""Ways to reach people: added, ended, checked, marked as safe or not.

What is given is kept as it was given; where it cannot be right, with what is wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.contacts.entries import ContactPoint
from recall.desk.core.acting import Act, Next, own_row, row_of
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import InputError, Refused
from recall.exchange import identifiers
from recall.exchange.phone_cells import phone_cell
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.finding import rekey
from recall.records.tables.people import CONTACT_POINT_KINDS, SAFE


@needs(Right.KEEP_PEOPLE)
def add_contact_point(
    desk: Desk, ref: str, point: ContactPoint, instead_of: int | None = None
) -> Next:
    """Record a way to reach a person or their adult; a new address ends "moved".

    Args:
        desk: who acts, on which day.
        ref: the person's reference.
        point: the number or address, and whose it is.
        instead_of: the number of the way that it takes the place of.
    """
    _check(point)
    with desk.store.write() as session:
        person = person_row(session, ref)
        if point.adult_id is not None:
            own_row(session, tables.AdultFor, point.adult_id, person.id)
        act = Act(desk, session, person.id)
        there = _there_already(act, point)
        if instead_of is not None:
            own_row(session, tables.ContactPoint, instead_of, person.id)
            act.set("contact_point", instead_of, until=desk.today)
        made, words, _ = put_contact_point(act, point, there)
        rekey(session, [person.id])
        return act.finish("contact_point", words, made=made)


def _there_already(act: Act, point: ContactPoint) -> frozenset[str]:
    """Return the numbers or e-mail addresses given that stand there already, of the same owner.

    An address is none of them: given again, it says that they are there after all.

    Raises:
        Refused: nothing of what was given is new.
    """
    if point.kind == "address":
        return frozenset()
    c = tables.ContactPoint
    whose = c.person_id == act.person_id, c.adult_id.is_not_distinct_from(point.adult_id)
    wanted = select(c.value, c.raw).where(*whose, c.kind == point.kind, stands(c))
    rows = act.session.execute(wanted.where(c.until.is_(None))).all()
    known = {_same(value, raw) for value, raw in rows}
    given = [
        _same(one["value"], one["raw"]) for one in _read(point, act.desk.config.calendar.country)
    ]
    there = frozenset(given) & known
    if len(there) == len(set(given)):
        raise Refused(
            f"{point.raw.strip()} is recorded already: nothing was added.",
            hint="Change that one, or end it.",
        )
    return there


def _same(value: str | None, raw: str) -> str:
    return value or raw.casefold()


def put_contact_point(
    act: Act, point: ContactPoint, there: frozenset[str] = frozenset()
) -> tuple[int, str, bool]:
    """Make the rows of a way to reach somebody, as part of an act, without what is there already.

    Returns the first one's number, what to say of them, and whether something is wrong.
    """
    read = _read(point, act.desk.config.calendar.country)
    read = [given for given in read if _same(given["value"], given["raw"]) not in there]
    made = [_add(act, point, given) for given in read]
    if point.kind == "address" and read[0]["value"]:
        act.set("person", act.person_id, moved_on=None)
    return made[0], _recorded(read), any(given["problem"] for given in read)


def _add(act: Act, point: ContactPoint, given: dict[str, Any]) -> int:
    """Make the row of one way, after those that are there, with what stood by it."""
    rank = _next_rank(act.session, act.person_id, point)
    whose = {"person_id": act.person_id, "adult_id": point.adult_id, "kind": point.kind}
    label = ", ".join(filter(None, (point.label.strip(), given.get("label", ""))))
    more = {"label": label, "safe": point.safe, "checked_on": act.desk.today}
    return act.add("contact_point", **whose, rank=rank, **{**given, **more})


def _recorded(read: Sequence[dict[str, Any]]) -> str:
    """Say what was recorded, and what is wrong with it."""
    wrong = next((given["problem"] for given in read if given["problem"]), None)
    count = f"Recorded as {len(read)} numbers" if len(read) > 1 else "Recorded"
    return f"{count}, but {wrong}." if wrong else f"{count}."


@needs(Right.KEEP_PEOPLE)
def end_contact_point(desk: Desk, contact_point_id: int, why: str) -> Next:
    """Record that a number or address is right no longer."""
    required(why, "It ends without words.", hint="Say why.")
    with desk.store.write() as session:
        row = row_of(session, tables.ContactPoint, contact_point_id)
        act = Act(desk, session, row.person_id)
        act.set("contact_point", contact_point_id, until=desk.today)
        act.note(why.strip(), "contact_point", contact_point_id)
        rekey(session, [row.person_id])
        return act.finish("contact_point", "Ended.")


@needs(Right.KEEP_PEOPLE)
def edit_contact_point(
    desk: Desk,
    contact_point_id: int,
    *,
    safe: str | None = None,
    label: str | None = None,
    checked: bool = False,
) -> Next:
    """Set whether a way is safe and what it is called, or that it was checked today."""
    if safe is not None:
        _check_safe(safe)
    with desk.store.write() as session:
        row = row_of(session, tables.ContactPoint, contact_point_id)
        act = Act(desk, session, row.person_id)
        given = {"safe": safe, "label": label}
        values: dict[str, Any] = {name: v for name, v in given.items() if v is not None}
        if checked:
            values["checked_on"] = desk.today
        act.set("contact_point", contact_point_id, **values)
        return act.finish("contact_point", "Changed.")


def _check(point: ContactPoint) -> None:
    if point.kind not in CONTACT_POINT_KINDS:
        hint = f"It may be: {', '.join(CONTACT_POINT_KINDS)}."
        raise InputError(f"{point.kind!r} is no way to reach somebody.", hint=hint)
    required(point.raw, f"The {point.kind} is empty.")
    _check_safe(point.safe)


def _check_safe(safe: str) -> None:
    if safe not in SAFE:
        raise InputError(f"{safe!r} is no word for safety.", hint=f"It may be: {', '.join(SAFE)}.")


def _read(point: ContactPoint, country: str) -> list[dict[str, Any]]:
    """Return what is stored: as given, as understood, and what is wrong with it."""
    raw = point.raw.strip()
    if point.kind == "phone":
        cell = phone_cell(raw, country)
        return [{**_stored(n.given), "label": n.label} for n in cell.numbers]
    if point.kind == "email":
        return [_stored(identifiers.email(raw))]
    return [_read_address(point, country)]


def _read_address(point: ContactPoint, country: str) -> dict[str, Any]:
    given = point.postcode
    code = identifiers.postcode(given, country) if given.strip() else None
    shown = (code.value or code.raw) if code else ""
    lines = [line.strip() for line in point.raw.split("\n") if line.strip()]
    text = "\n".join([*lines, *([shown] if shown else [])])
    problem = f"the postcode {code.wrong}" if code and code.wrong else None
    value = code.value or None if code else None
    return {"raw": text, "value": text, "postcode": value, "problem": problem}


def _stored(found: identifiers.Identifier) -> dict[str, Any]:
    problem = found.wrong or None
    return {"raw": found.raw, "value": found.value or None, "postcode": None, "problem": problem}


def _next_rank(session: Session, person_id: int, point: ContactPoint) -> int:
    r = tables.ContactPoint
    whose = r.person_id == person_id, r.adult_id.is_not_distinct_from(point.adult_id)
    mine = *whose, r.kind == point.kind
    ranks = session.scalars(
        select(r.rank).where(*mine, stands(tables.ContactPoint), r.until.is_(None))
    ).all()
    return max(ranks, default=0) + 1
