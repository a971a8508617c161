"""Somebody new, in one go: a walk-in, a caller. Looked for first, then written down.

Nothing is written while somebody in the register may be the same person and has not been
named as somebody else; who may be is worked out again in the transaction that writes.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from msgspec import structs
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.dates import is_child
from recall.config import site_meant
from recall.desk.contacts.contact_points import put_contact_point
from recall.desk.contacts.entries import ContactPoint
from recall.desk.core.acting import Act, Next, in_words
from recall.desk.core.guarding import needs
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.core.sites import own_site
from recall.desk.people.letter_wishes import language_meant
from recall.errors import Conflict, InputError, Refused
from recall.exchange import identifiers
from recall.records import tables
from recall.records.people.birthdates import birth_dates
from recall.records.people.finding import rekey
from recall.records.people.same_person import Alike, Asked, alike
from recall.schedule.calendar import say_day

OWN = "N"
"""Before the number of a reference that is made here: the practice's own never begin so."""
OLDEST = 120
"""Years: whoever would be older was born in another century than was typed."""


@dataclass(frozen=True, slots=True)
class NewPerson:
    """Somebody to be written down; what is not known stays empty."""

    family_name: str
    given_names: str
    born: date
    title: str = ""
    known_as: str = ""
    phone: str = ""
    email: str = ""
    address: str = ""
    postcode: str = ""
    nhs_number: str = ""
    adult: str = ""
    """Who answers for them, where they are a child or cannot themselves."""
    relation: str = ""
    language: str = ""
    gp: str = ""
    caller_note: str = ""
    site: str = ""
    """The site they belong to, where there are several; empty: that of whoever writes it."""
    ref: str = ""
    """The practice's own reference; one is made where it is not known yet."""


@dataclass(frozen=True, slots=True)
class Said:
    """What somebody says of themselves, taken apart."""

    given_names: str = ""
    family_name: str = ""
    born: date | None = None
    phone: str = ""


@needs(Right.LOOK)
def taken_apart(desk: Desk, text: str) -> Said:
    """Return what a text that was searched for says: names, a birth date, a number."""
    days, rest = birth_dates(text)
    number = re.search(r"\+?\d[\d\s()/.-]{4,}\d", rest)
    if number:
        rest = rest.replace(number[0], " ")
    before, comma, after = (part.strip() for part in rest.partition(","))
    names = before.split()
    given, family = (after, before) if comma else (" ".join(names[:-1]), " ".join(names[-1:]))
    if any(c.isdigit() for c in given + family):
        given, family = "", ""
    past = [day for day in days if day <= desk.today]
    born = past[0] if past else None
    return Said(_capital(given), _capital(family), born, number[0].strip() if number else "")


@needs(Right.LOOK)
def who_may_be(desk: Desk, new: NewPerson) -> tuple[Alike, ...]:
    """Return who in the register may be the same person, the likeliest first."""
    with desk.store.read() as session:
        return alike(session, _asked(new))


@needs(Right.KEEP_PEOPLE)
def add_person(desk: Desk, new: NewPerson, others: tuple[str, ...] = ()) -> Next:
    """Write somebody new down, with how to reach them and who answers for them.

    Args:
        desk: who acts, on which day.
        new: who it is.
        others: references of those who were looked at and are somebody else.

    Raises:
        InputError: a name or the birth date is missing or cannot be, or a number is no NHS number.
        Refused: somebody may be the same person and was not named as somebody else.
        Conflict: the reference is taken.
    """
    nhs = _check(desk, new)
    asked = new.language.strip()
    language, instead = language_meant(desk, new.language)
    new = replace(new, language=language)
    with desk.store.write() as session:
        found = [each for each in alike(session, _asked(new)) if each.ref not in others]
        if found:
            raise Refused(
                f"Not written down: {say_alike(found)}.",
                hint="Open them; or say that it is somebody else.",
            )
        ref = _reference(session, new.ref.strip())
        act = Act(desk, session, None)
        number = act.add("person", ref=ref, **_columns(desk, new, nhs))
        act.about = number
        act.changes[-1] = structs.replace(act.changes[-1], person_id=number)
        told = _reachable(act, new)
        rekey(session, [number])
        told = [*told, instead if asked else ""]
        words = in_words((f"Written down as {ref}.", *told, "A visit makes their plan."))
        return act.finish("new_person", words, refold=True, made=number)


def say_alike(found: tuple[Alike, ...] | list[Alike], most: int = 3) -> str:
    """Return in words who may be the same person and why."""
    named = [
        f"{each.ref} {each.given_names} {each.family_name}, born {say_day(each.born)} "
        f"({', '.join(each.by)})"
        for each in found[:most]
    ]
    more = f", and {len(found) - most} more" if len(found) > most else ""
    return f"this may be {'; or '.join(named)}{more}"


def _check(desk: Desk, new: NewPerson) -> str:
    """Refuse what cannot be; return the NHS number as it is stored."""
    required(new.family_name, "The family name is empty.")
    required(new.given_names, "The given name is empty.", hint="A dash where there is none.")
    if new.born > desk.today:
        raise InputError(f"{say_day(new.born)} is ahead.", hint="A birth date lies in the past.")
    if new.born.year < desk.today.year - OLDEST:
        raise InputError(f"Nobody is left who was born in {new.born.year}.", hint="Look again.")
    nhs = identifiers.nhs_number(new.nhs_number.strip()) if new.nhs_number.strip() else None
    if nhs is not None and nhs.wrong:
        raise InputError(f"The NHS number {nhs.wrong}.", hint=f"It is {nhs.right}; or leave it.")
    if is_child(new.born, desk.today) and not new.adult.strip():
        raise InputError("A child needs somebody who answers for them.", hint="Name the adult.")
    return nhs.value if nhs else ""


def _columns(desk: Desk, new: NewPerson, nhs: str) -> dict[str, Any]:
    return {
        "title": new.title.strip(),
        "given_names": " ".join(new.given_names.split()).strip("-"),
        "family_name": " ".join(new.family_name.split()),
        "known_as": " ".join(new.known_as.split()),
        "born": new.born,
        "nhs_number": nhs or None,
        "language": new.language,
        "format": "standard",
        "needs": (),
        "dependent": False,
        "version": 1,
        "referrer": "",
        "gp": new.gp.strip(),
        "caller_note": new.caller_note.strip(),
        "site": site_meant(desk.config.sites, new.site) or own_site(desk.config.sites, desk.by),
    }


def _reachable(act: Act, new: NewPerson) -> list[str]:
    """Record who answers for somebody, numbers and addresses; return what is wrong with one."""
    adult = None
    child = is_child(new.born, act.desk.today)
    if new.adult.strip():
        role = "responsible_adult" if child else "carer"
        adult = act.add(
            "adult_for",
            person_id=act.person_id,
            name=" ".join(new.adult.split()),
            role=role,
            relation=new.relation.strip(),
            instead=False,
            language=new.language,
            format="standard",
            note="",
        )
    whose = adult if child else None
    wrong = []
    for kind, raw, code in (
        ("phone", new.phone, ""),
        ("email", new.email, ""),
        ("address", new.address, new.postcode),
    ):
        if raw.strip():
            point = ContactPoint(kind, raw, code, adult_id=whose)
            _, words, is_wrong = put_contact_point(act, point)
            wrong += [f"The {kind}: {words[:1].lower()}{words[1:]}"] if is_wrong else []
    return wrong


def _reference(session: Session, given: str) -> str:
    """Return the reference somebody gets: the one given, or the next of our own."""
    c = tables.Person
    if given:
        if session.scalar(select(c.id).where(c.ref == given)) is not None:
            raise Conflict(
                f"The reference {given} is taken.", hint="Leave it empty, or look again."
            )
        return given
    own = session.scalars(select(c.ref).where(c.ref.startswith(f"{OWN}-"))).all()
    used = [int(ref[len(OWN) + 1 :]) for ref in own if ref[len(OWN) + 1 :].isdecimal()]
    return f"{OWN}-{max(used, default=0) + 1}"


def _asked(new: NewPerson) -> Asked:
    nhs = re.sub(r"\D", "", new.nhs_number)
    phones = tuple(filter(None, (new.phone.strip(),)))
    return Asked(new.given_names, new.family_name, new.born, phones, new.postcode.strip(), nhs)


def _capital(name: str) -> str:
    """Return a name as it is written, where it was typed without a capital."""
    return name.title() if name.islower() else name
