"""All numbers of a person, with whose each is, in the order in which they are tried."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from recall.care.dates import is_child
from recall.loop.addressee import Adult, Person
from recall.records.people.addresses import ContactPointRow, Reachable


@dataclass(frozen=True)
class NumberToRing:
    """One number by which somebody can be reached."""

    contact_point_id: int
    raw: str
    """As it was given: what is shown and dialled."""
    value: str
    """What makes it the same number wherever it stands; empty where only a person can read it."""
    whose: str
    """Whose it is, what it is called and what is noted of it; empty for the person's own."""
    problem: str = ""
    """Why it could not be read by a checker."""
    best_time: str = ""
    """When somebody answers there, in the words of whoever said so."""
    adult_id: int | None = None
    """Of which adult's it is; None of the person's own."""
    owner: str = ""
    """The name of that adult."""
    others: tuple[str, ...] = ()
    """The names of all other people in the register who have the same number."""

    @property
    def said(self) -> str:
        """Return the number with whose it is."""
        return f"{self.raw} ({self.whose})" if self.whose else self.raw


def numbers_of(
    known: Reachable, speakers: Sequence[Adult], names: Mapping[int, str], on: date
) -> tuple[NumberToRing, ...]:
    """Return every number that may be rung, each value once, those that only a person reads last.

    First those of whoever answers for the person, then their own, then those of others who act
    for them. Where one is the only safe one, no other is shown.
    """
    safe = [way for way in known.ways if way.kind == "phone" and way.safe != "no"]
    only = [way for way in safe if way.safe == "only_this"]
    ranked = _ordered(only or safe, known.person, speakers, on)
    found: dict[str, NumberToRing] = {}
    for way in sorted(ranked, key=lambda way: not way.value):
        found.setdefault(way.value or way.raw, _number(way, names))
    return tuple(found.values())


def _ordered(
    ways: Sequence[ContactPointRow], person: Person, speakers: Sequence[Adult], on: date
) -> Iterator[ContactPointRow]:
    """Give the numbers by owner, each owner's in the order that is recorded."""
    for owner in (*(a.id for a in speakers), None, *_others(person, speakers, on)):
        yield from (way for way in ways if way.adult_id == owner)


def _others(person: Person, speakers: Sequence[Adult], on: date) -> list[int]:
    """Return who else acts: of somebody of age not those who answered for the child."""
    child = is_child(person.born, on)
    acting = [a for a in person.adults if a.acts_on(on) and a not in speakers]
    return [a.id for a in acting if child or a.role != "responsible_adult"]


def _number(way: ContactPointRow, names: Mapping[int, str]) -> NumberToRing:
    owner = names.get(way.adult_id or 0, "")
    whose = ", ".join(filter(None, (owner, way.label, way.note)))
    return NumberToRing(
        *(way.id, way.raw, way.value or "", whose, way.problem or "", way.best_time),
        *(way.adult_id, owner),
    )
