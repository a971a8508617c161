"""One envelope: the letters of a batch to one recipient at one home, whomever they are about.

A mother's letters about two children go together; each of two homes gets its own. Nobody's own
letter shares an envelope with somebody else's, though they have one name and one home, and
neither does anything that goes to a colleague.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Sequence
from typing import TypeVar

from recall.letters.data import TO_COLLEAGUES
from recall.records.facts.happened import BY_EMAIL
from recall.records.tables import Letter

T = TypeVar("T")


def envelope(
    kind: str, form: str, to: Sequence[str], adult_id: int | None, person_id: int
) -> Hashable:
    """Return what the letters of one envelope share; None for one that has no envelope, or its own.

    Args:
        kind: which wording.
        form: the form that was wished for; large print needs a larger envelope.
        to: the addressee's name and the lines of the address.
        adult_id: who reads it for the person; None where it is the person.
        person_id: whom it is about.
    """
    if form in BY_EMAIL or kind in TO_COLLEAGUES:
        return None
    place = tuple(" ".join(line.split()).casefold() for line in to)
    return form == "large", place, person_id if adult_id is None else None


def together(things: Iterable[T], envelope_of: Callable[[T], Hashable]) -> list[T]:
    """Return things in their order, but each behind the first of its envelope."""
    found: dict[Hashable, list[T]] = {}
    for number, one in enumerate(things):
        shared = envelope_of(one)
        found.setdefault(number if shared is None else shared, []).append(one)
    return [one for some in found.values() for one in some]


def beside(letters: Iterable[Letter]) -> dict[int, tuple[Letter, ...]]:
    """Return by letter those of its envelope, itself included, in the order given."""
    found: dict[Hashable, list[Letter]] = {}
    for x in letters:
        shared = envelope(x.kind, x.format, (x.to_name, *x.to_lines), x.adult_id, x.person_id)
        found.setdefault(x.id if shared is None else shared, []).append(x)
    return {x.id: tuple(together) for together in found.values() for x in together}


def marks(letters: Iterable[Letter]) -> dict[int, str]:
    """Return what stands on the edge of letters that share an envelope, in the order given."""
    return {
        number: f"{[x.id for x in together].index(number) + 1} of {len(together)} in this envelope"
        for number, together in beside(letters).items()
        if len(together) > 1
    }


ON_LETTERS = {"cy": "{n} o {most} yn yr amlen hon"}
"""The same on a letter in another language; lists are in English."""


def on_letters(letters: Iterable[Letter]) -> dict[int, str]:
    """Return what stands on the letters themselves, each in the language of its letter."""
    some = list(letters)
    spoken = {x.id: x.language.partition("-")[0] for x in some}
    found = {}
    for number, mark in marks(some).items():
        n, _of, most, *_rest = mark.split()
        found[number] = ON_LETTERS.get(spoken[number], mark).format(n=n, most=most)
    return found
