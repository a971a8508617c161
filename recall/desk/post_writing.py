"""What a letter needs, from the register's rows: to whom, about whom, which wording."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from recall.config import Config
from recall.desk.post_choosing import Chosen
from recall.desk.whom import Whom
from recall.letters.data import Kind, LetterData, Practice, Size
from recall.loop.addressee import Addressee
from recall.loop.bookings import is_child

TO_CALL = timedelta(days=14)
"""So long a letter leaves for a call where the target has gone by."""
_SOON = timedelta(days=7)
BY_EMAIL = ("email", "plain_text")


@dataclass(frozen=True)
class AdultName:
    """An adult as a letter names them."""

    name: str
    language: str
    format: str


@dataclass(frozen=True)
class Draft:
    """One letter before it is composed, with what its row says beside the text."""

    data: LetterData
    home: int
    adult_id: int | None
    reach_id: int
    format: str
    email: str
    """Where it goes by e-mail."""


def practice_of(config: Config) -> Practice:
    """Return the practice as letters show it."""
    p = config.practice
    return Practice(
        name=p.name,
        address=(*p.address, p.postcode),
        phone=p.phone,
        email=p.email,
        opening_hours=p.opening_hours,
    )


def drafts(
    chosen: Chosen,
    who: Whom,
    to: tuple[Addressee, ...],
    adults: dict[int, AdultName],
    config: Config,
    on: date,
    numbers: Iterator[str],
) -> Iterator[Draft]:
    """Give the letters for one follow-up: one for each home."""
    for home, addressee in enumerate(to, 1):
        names = [adults[a] for a in addressee.adults if a in adults]
        first = names[0] if names else None
        wish = _format(first, who, addressee)
        yield Draft(
            data=_data(chosen, who, addressee, names, config, on, next(numbers)),
            home=home,
            adult_id=addressee.adults[0] if addressee.adults else None,
            reach_id=addressee.home,
            format=wish,
            email=_email(who, addressee) if wish in BY_EMAIL else "",
        )


def _data(
    chosen: Chosen,
    who: Whom,
    addressee: Addressee,
    names: list[AdultName],
    config: Config,
    on: date,
    number: str,
) -> LetterData:
    address = who.reach.home(addressee.home)
    own = addressee.role == "self"
    greeted = _self(who) if own else " and ".join(a.name for a in names)
    language = (names[0].language if names else "") or who.language
    return LetterData(
        number=number,
        kind=kind_of(chosen.step, is_child(who.born, on), own),
        language=language if language in config.letters.languages else config.letters.languages[0],
        size=_size(_format(names[0] if names else None, who, addressee)),
        recipient=(_name(who) if own else greeted, *(address.value or "").split("\n")),
        salutation=greeted,
        person="" if own else who.name,
        practice=practice_of(config),
        on=on,
        call_by=call_by(chosen, on),
    )


def kind_of(step: str, child: bool, own: bool) -> Kind:
    """Return the wording for a step.

    >>> kind_of("invitation", True, False), kind_of("missed_letter", False, True)
    ('invitation_child', 'did_not_attend')
    """
    if step == "reminder":
        return "reminder"
    if step == "last_letter":
        return "last_letter"
    about_child = child and not own
    if step == "missed_letter":
        return "was_not_brought" if about_child else "did_not_attend"
    return "invitation_child" if about_child else "invitation_adult"


def call_by(chosen: Chosen, on: date) -> date:
    """Return the day by which to call: the target, or two weeks where that is too soon."""
    target = chosen.stood.facts.target
    return target if target >= on + _SOON else on + TO_CALL


def _self(who: Whom) -> str:
    return f"{who.title} {who.family_name}" if who.title else who.name


def _name(who: Whom) -> str:
    return " ".join(filter(None, (who.title, who.name)))


def _format(adult: AdultName | None, who: Whom, addressee: Addressee) -> str:
    return who.format if addressee.role == "self" or adult is None else adult.format


def _size(wish: str) -> Size:
    return "large" if wish == "large" else "standard"


def _email(who: Whom, addressee: Addressee) -> str:
    """Return the addressee's own e-mail address, if one is on record and safe."""
    owners: tuple[Any, ...] = addressee.adults or (None,)
    ways = [w for w in who.reach.ways if w.kind == "email" and w.value and w.safe != "no"]
    return next((w.value or "" for w in ways if w.adult_id in owners), "")
