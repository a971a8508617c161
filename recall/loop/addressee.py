"""To whom letters go on a day, and why to nobody.

Until the birthday of 16 letters go to the responsible adults, from that day to the young
person, whose own contact is asked for beforehand. Two homes get two letters for one booking.
"""

from __future__ import annotations

from datetime import date
from typing import Literal

import msgspec

from recall.care.dates import ADULT_FROM, birthday, is_child
from recall.protocol.contact import ContactProtocol
from recall.schedule.calendar import say_day

Role = Literal["self", "responsible_adult", "attorney", "carer", "care_home"]
Safe = Literal["yes", "only_this", "no"]
"""Whether an address may be written to: freely, as the only safe one, or never."""


NOWHERE = 0
"""The home of somebody who is spoken to and has no address."""


class Adult(msgspec.Struct, frozen=True, kw_only=True):
    """Somebody who acts or cares for the person. Ids are the register's, never names."""

    id: int
    role: Role
    home: int | None = None
    """Which address; two people at one address have the same."""
    safe: Safe = "yes"
    instead: bool = False
    """Written to in the place of an adult person, not beside them: an attorney, or as asked."""
    since: date | None = None
    until: date | None = None

    def acts_on(self, on: date) -> bool:
        """Return whether they act for the person on a day."""
        return (self.since is None or self.since <= on) and (self.until is None or on < self.until)


class Person(msgspec.Struct, frozen=True, kw_only=True):
    """What decides to whom letters about a person go."""

    born: date
    home: int | None = None
    """The person's own address; for a young person only once it was asked for."""
    safe: Safe = "yes"
    adults: tuple[Adult, ...] = ()
    died_on: date | None = None
    objected_on: date | None = None
    unsafe_on: date | None = None
    moved_on: date | None = None


class Addressee(msgspec.Struct, frozen=True, kw_only=True):
    """One letter: to whom, and to which address."""

    role: Role
    home: int
    adults: tuple[int, ...] = ()
    """Everybody at that address to whom it is written; empty for the person."""


class Addressees(msgspec.Struct, frozen=True, kw_only=True):
    """The letters for one occasion, or why there is none."""

    to: tuple[Addressee, ...] = ()
    none_because: str = ""
    ask: str = ""
    """What to ask at the next contact."""


def addressees(person: Person, on: date, rules: ContactProtocol) -> Addressees:
    """Return to whom a letter about the person is written on a day."""
    if because := contact_stopped(person, on) or _moved(person, on):
        return Addressees(none_because=because)
    ask = own_contact_asked(person, on, rules)
    child = is_child(person.born, on)
    to = _to_adults(person, on) if child else _to_person(person, on)
    if to:
        return Addressees(to=to, ask=ask)
    return Addressees(none_because=_nobody(person, on, child), ask=ask)


def contact_stopped(person: Person, on: date) -> str | None:
    """Return why nobody may ring, write or send anything about this person, or None."""
    known = (
        ("has died", person.died_on),
        ("asked not to be contacted", person.objected_on),
        ("not safe to contact", person.unsafe_on),
    )
    return next((said for words, day in known if (said := _since(words, day, on))), None)


def _moved(person: Person, on: date) -> str:
    """Return that the address is no longer theirs: no letter goes, but they may be rung."""
    return _since("moved, new address not known", person.moved_on, on)


def _since(words: str, since: date | None, on: date) -> str:
    return f"{words} ({say_day(since)})" if since is not None and since <= on else ""


def contact_warnings(person: Person, on: date) -> tuple[str, ...]:
    """Return what to know before anybody is rung or written to, as sentences."""
    stopped, moved = contact_stopped(person, on), _moved(person, on)
    said = (f"Do not contact: {stopped}." if stopped else "", moved and f"M{moved[1:]}.")
    return tuple(filter(None, said))


def own_contact_asked(person: Person, on: date, rules: ContactProtocol) -> str:
    """Return what to ask a young person whose own contact is not known, from some time before 16.

    Somebody of age without an address is asked as well.
    """
    if person.home is not None:
        return ""
    turns = birthday(person.born, ADULT_FROM)
    if rules.span(rules.own_contact_asked).after(on) < turns:
        return ""
    when = f"turn 16 on {say_day(turns)}" if on < turns else "are written to themselves"
    return f"Ask for the person's own address and number: they {when}."


def _instead(person: Person, on: date) -> list[Adult]:
    """Return who is written to in the place of a person of age."""
    if is_child(person.born, on):
        return []
    return [
        a for a in person.adults if a.instead and a.role != "responsible_adult" and a.acts_on(on)
    ]


def way_missing(person: Person, on: date) -> str:
    """Return in a sentence that no letter can go to who is written to in the person's place.

    Empty where one can, or nobody is: none goes to the person either, so somebody must ask.
    """
    if not _instead(person, on) or contact_stopped(person, on) or _to_person(person, on):
        return ""
    return (
        "No letter can go: who is written to in their place has no address on record. Ask for it."
    )


def to_ask(person: Person, on: date, rules: ContactProtocol) -> str:
    """Return which address is asked for at the next contact; empty where none is missing.

    Who is not written to needs no address of their own.
    """
    return way_missing(person, on) or own_contact_asked(person, on, rules)


def _to_adults(person: Person, on: date) -> tuple[Addressee, ...]:
    """One letter to each home of a child's responsible adults."""
    adults = [a for a in person.adults if a.role == "responsible_adult" and a.acts_on(on)]
    return _by_home(_safe(adults))


def _to_person(person: Person, on: date) -> tuple[Addressee, ...]:
    """The person, and whoever acts or cares for them: in their place, or beside them."""
    acting = [a for a in person.adults if a.role != "responsible_adult" and a.acts_on(on)]
    safe = _safe(acting)
    if any(a.safe == "only_this" for a in safe):
        return _by_home(safe)
    if any(a.instead for a in acting):
        return _by_home([a for a in safe if a.instead])
    if person.home is None or person.safe == "no":
        return _by_home([a for a in safe if a.home != person.home])
    own = Addressee(role="self", home=person.home)
    if person.safe == "only_this":
        return (own,)
    return (own, *(a for a in _by_home(safe) if a.home != person.home))


def _safe(adults: list[Adult]) -> list[Adult]:
    """Return those who may be written to; where one is the only safe one, only that one."""
    known = [a for a in adults if a.safe != "no" and a.home is not None]
    only = [a for a in known if a.safe == "only_this"]
    return only or known


def _by_home(adults: list[Adult]) -> tuple[Addressee, ...]:
    """Return one letter for each home, to everybody there, in the register's order."""
    homes: dict[int, list[Adult]] = {}
    for adult in sorted(adults, key=lambda a: a.id):
        if adult.home is not None:
            homes.setdefault(adult.home, []).append(adult)
    return tuple(
        Addressee(role=there[0].role, home=home, adults=tuple(a.id for a in there))
        for home, there in homes.items()
    )


def _nobody(person: Person, on: date, child: bool) -> str:
    """Say why there is nobody to write to."""
    if child:
        acting = [a for a in person.adults if a.role == "responsible_adult" and a.acts_on(on)]
        if not acting:
            return "no responsible adult is recorded"
        return "no safe address of a responsible adult is recorded"
    if _instead(person, on):
        return "no safe address of who is written to in their place is recorded"
    if person.home is None:
        return "no address of their own is recorded"
    return "their address is not safe to write to"
