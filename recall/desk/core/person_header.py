"""Who a row is about, whom to ask for, and on which number: what every list shows of a person."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy.orm import Session

from recall.care.dates import is_child
from recall.desk.core.numbers import NumberToRing, numbers_of
from recall.desk.core.stopped_beside import stopped_beside
from recall.loop.addressee import (
    Adult,
    Person,
    contact_stopped,
    contact_warnings,
    to_ask,
)
from recall.protocol.contact import ContactProtocol
from recall.records import tables
from recall.records.facts.cases import pages
from recall.records.people.addresses import Reachable, reachable


@dataclass(frozen=True)
class PersonHeader:
    """A person on a list."""

    person_id: int
    reference: str
    title: str
    given_names: str
    family_name: str
    known_as: str
    born: date
    postcode: str
    ask_for: str
    """Whom to ask for: the person, or whoever answers for them."""
    has_speaker: bool
    """Whether that is somebody else than the person."""
    speaks: tuple[int, ...]
    """The numbers of those who answer for the person."""
    numbers: tuple[NumberToRing, ...]
    """All that may be rung, in the order to try; none where nobody may ring."""
    language: str
    format: str
    """How letters are wanted: standard, large, email, plain_text."""
    contact_stopped: str | None
    """Why nobody may ring or write; None where somebody may."""
    warnings: tuple[str, ...]
    reachable: Reachable
    site: str = ""
    """The handle of the site they belong to; empty: to all."""

    @property
    def name(self) -> str:
        """Return the name as it is shown."""
        return " ".join(filter(None, (self.given_names, self.family_name)))

    @property
    def number(self) -> str:
        """Return the number to try first as it was given; empty where none may be rung."""
        return self.numbers[0].raw if self.numbers else ""


def person_headers(
    session: Session, person_ids: Sequence[int], on: date, rules: ContactProtocol
) -> dict[int, PersonHeader]:
    """Return what lists show of some people on a day; of those who stand in the register."""
    found: dict[int, PersonHeader] = {}
    for some in pages(sorted(set(person_ids))):
        known = reachable(session, some, on)
        beside = stopped_beside(session, known, on)
        for number, reach in known.items():
            who = _person_header(reach, on, rules)
            found[number] = replace(who, warnings=(*beside.get(number, ()), *who.warnings))
    return found


def _person_header(known: Reachable, on: date, rules: ContactProtocol) -> PersonHeader:
    row, adults = known.row, known.names
    speakers = speakers_of(known.person, on)
    numbers = numbers_of(known, speakers, adults, on)
    stopped = contact_stopped(known.person, on)
    own = " ".join(filter(None, (row.title, row.given_names, row.family_name)))
    names = " or ".join(dict.fromkeys(adults[a.id] for a in speakers if a.id in adults))
    postcodes = [w.postcode for w in known.ways if w.kind == "address" and w.postcode]
    return PersonHeader(
        person_id=row.id,
        reference=row.ref,
        title=row.title,
        given_names=row.given_names,
        family_name=row.family_name,
        known_as=row.known_as,
        born=row.born,
        postcode=postcodes[0] if postcodes else "",
        ask_for=names or own,
        has_speaker=bool(names),
        speaks=tuple(a.id for a in speakers if a.id in adults),
        numbers=numbers if stopped is None else (),
        language=row.language,
        format=row.format,
        contact_stopped=stopped,
        warnings=tuple(_warnings(row, known, numbers, on, rules)),
        reachable=known,
        site=row.site,
    )


def speakers_of(person: Person, on: date) -> list[Adult]:
    """Return the adults who answer for the person: of a child all, of an adult those instead."""
    acting = [a for a in person.adults if a.acts_on(on)]
    if is_child(person.born, on):
        return [a for a in acting if a.role == "responsible_adult"] or acting
    only = [a for a in acting if a.safe == "only_this"]
    return only or [a for a in acting if a.instead]


def _warnings(
    row: tables.Person,
    known: Reachable,
    numbers: tuple[NumberToRing, ...],
    on: date,
    rules: ContactProtocol,
) -> list[str]:
    """Return what to know before contacting."""
    found = list(contact_warnings(known.person, on))
    if is_child(known.person.born, on) and not known.person.adults:
        found.append("Child without a responsible adult on record.")
    if not numbers:
        found.append("No number on record.")
    elif not numbers[0].value:
        found.append("The number on record could not be checked: read it as it was written.")
    if row.needs:
        found.append(f"Needs: {', '.join(row.needs)}.")
    if row.caller_note:
        found.append(f"Before contact: {row.caller_note}.".replace("..", "."))
    if ask := to_ask(known.person, on, rules):
        found.append(ask)
    return found
