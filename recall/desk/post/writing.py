"""What a letter needs, from the register's rows: to whom, about whom, which wording."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from recall.care.dates import is_child
from recall.config import Practice
from recall.desk.core.person_header import PersonHeader
from recall.desk.core.session import Desk
from recall.desk.core.sites import practice_at
from recall.desk.post.choosing import Chosen
from recall.desk.post.occasions import CONFIRMATION, OWN_CONTACT
from recall.desk.referrals.colleague_letters import practice_words
from recall.letters.data import ABOUT_ANOTHER, Appointment, Kind, LetterData, Size
from recall.loop.addressee import NOWHERE, Addressee
from recall.protocol.contact_steps import CONTACT_STEPS, STEP
from recall.records.facts.happened import BY_EMAIL
from recall.records.people.addresses import ContactPointRow

TO_CALL = timedelta(days=14)
"""So long a letter leaves for a call where the target has gone by."""
_SOON = timedelta(days=7)
MATTERS = ("emergency", "urgent", "high")
"""What can do harm if it is left, as the last letter says."""
_NO_CALL = (CONFIRMATION, OWN_CONTACT, *(s.kind for s in CONTACT_STEPS if s.about_address))
_KINDS: dict[str, Kind] = {
    CONFIRMATION: "booking_confirmation",
    OWN_CONTACT: "own_contact_16",
}


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
    contact_point_id: int
    format: str
    email: str
    """Where it goes by e-mail."""


@dataclass(frozen=True, slots=True)
class Recipients:
    """Whom the letters about a person go to."""

    who: PersonHeader
    """About whom."""
    to: tuple[Addressee, ...]
    """The addressees, one for each home."""
    adults: dict[int, AdultName]


def drafts(chosen: Chosen, recipients: Recipients, desk: Desk, homes: int = 0) -> Iterator[Draft]:
    """Give the letters for one follow-up: one for each home, numbered once all are known.

    Args:
        chosen: about what.
        recipients: about whom, and to whom.
        desk: who acts, on which day.
        homes: places taken by letters that were pulled before.
    """
    who, adults = recipients.who, recipients.adults
    for home, addressee in enumerate(recipients.to, homes + 1):
        names = [adults[a] for a in addressee.adults if a in adults]
        email = _email(who, addressee)
        wish = names[0].format if names else who.format
        if wish in BY_EMAIL and not email:
            wish = "standard"  # a letter on paper is better than none
        yield Draft(
            data=_data(chosen, who, addressee, names, desk),
            home=home,
            adult_id=addressee.adults[0] if addressee.adults else None,
            contact_point_id=addressee.home,
            format=wish,
            email=email if wish in BY_EMAIL else "",
        )


def _data(
    chosen: Chosen,
    who: PersonHeader,
    addressee: Addressee,
    names: list[AdultName],
    desk: Desk,
) -> LetterData:
    """Return all that the letter needs to be told.

    Of a child it speaks to the adults by name; whoever reads it for an adult is only named on
    the address, and the adult is spoken to.
    """
    where = _lines(who.reachable.home(addressee.home)) if addressee.home != NOWHERE else ()
    own, child = addressee.role == "self", is_child(who.born, desk.today)
    others = " and ".join(dict.fromkeys(adult.name for adult in names))
    kind = kind_of(chosen.step, child, chosen.about.facts.dependent, own)
    about = not own and (child or kind in ABOUT_ANOTHER)
    known = desk.config.letters.languages
    language = (names[0].language if names else "") or who.language
    return LetterData(
        number="",
        kind=kind,
        language=language if language in known else known[0],
        size=_size(names[0].format if names else who.format),
        recipient=(_recipient(who, others, own, child), *where),
        salutation=others if about else _self(who),
        person=who.known_as or who.given_names or who.name if about else "",
        practice=practice_words(desk, who.site),
        on=desk.today,
        appointment=_appointment(chosen, practice_at(desk.config, who.site)),
        call_by=call_by(chosen, desk.today),
        soon=is_soon(chosen, desk.today),
        what_for=_what_for(chosen, who, desk),
        matters=any(
            each.facts.urgency in MATTERS
            for each in (chosen.about, *(one.about for one in chosen.also))
        ),
    )


def _what_for(chosen: Chosen, who: PersonHeader, desk: Desk) -> tuple[str, ...]:
    """Return why the person is asked to come, where the practice has chosen to say so.

    Never where any way to reach them is not safe: somebody else may open the letter.
    """
    guarded = any(way.safe != "yes" for way in who.reachable.ways)
    if desk.config.letters.says == "neutral" or guarded:
        return ()
    about = (chosen.about, *(one.about for one in chosen.also))
    said = (due.says_aloud for each in about for due in each.dues)
    return tuple(dict.fromkeys(words for words in said if words))


def kind_of(step: str, child: bool, dependent: bool, own: bool) -> Kind:
    """Return the wording for a step; a missed appointment is laid to nobody who is brought.

    >>> kind_of("invitation", True, False, False), kind_of("missed_letter", False, False, True)
    ('invitation_child', 'did_not_attend')
    """
    if step in _KINDS:
        return _KINDS[step]
    match STEP[step].letter:
        case "missed":
            return "was_not_brought" if (child or dependent) and not own else "did_not_attend"
        case "invite" | None:
            return "invitation_child" if child and not own else "invitation_adult"
        case named:
            return named


def call_by(chosen: Chosen, on: date) -> date | None:
    """Return the day by which to call: the target, or two weeks where that is too soon.

    It is never later than the last day of what is nearest; None where that is less than a week
    away, for a letter takes days, and where there is no call to ask for.
    """
    if chosen.step in _NO_CALL or is_soon(chosen, on):
        return None
    target = chosen.about.facts.target
    return min(target if target >= on + _SOON else on + TO_CALL, _nearest(chosen))


def is_soon(chosen: Chosen, on: date) -> bool:
    """Return whether a call is asked for as soon as they can: something is late, or nearly."""
    return chosen.step not in _NO_CALL and _nearest(chosen) < on + _SOON


def come_by(chosen: Chosen, on: date) -> date | None:
    """Return the day by which to offer an appointment in a call; None where all have gone by."""
    target, nearest = chosen.about.facts.target, _nearest(chosen)
    by = min(target, nearest) if target >= on else nearest
    return by if by > on else None


def _nearest(chosen: Chosen) -> date:
    """Return the last day of what is nearest of all that the person is asked for."""
    about = (chosen.about, *(one.about for one in chosen.also))
    days = [each.facts.latest for each in about]
    return min(days) if chosen.nearest is None else min(*days, chosen.nearest)


def _recipient(who: PersonHeader, others: str, own: bool, child: bool) -> str:
    if own:
        return _name(who)
    return others if child else f"{others}, for {_name(who)}"


def _lines(place: ContactPointRow) -> tuple[str, ...]:
    lines = [line.strip() for line in (place.value or "").split("\n") if line.strip()]
    if place.postcode and place.postcode not in lines:
        lines.append(place.postcode)
    return tuple(lines)


def _appointment(chosen: Chosen, ours: Practice) -> Appointment | None:
    starts = chosen.starts_local
    if starts is None:
        return None
    place = ", ".join((ours.name, *ours.address))
    return Appointment(on=starts.date(), at=starts.time(), place=place)


def _self(who: PersonHeader) -> str:
    return f"{who.title} {who.family_name}" if who.title else who.name


def _name(who: PersonHeader) -> str:
    return " ".join(filter(None, (who.title, who.name)))


def _size(wish: str) -> Size:
    return "large" if wish == "large" else "standard"


def _email(who: PersonHeader, addressee: Addressee) -> str:
    """Return the addressee's own e-mail address, if one is on record and safe."""
    owners: tuple[Any, ...] = addressee.adults or (None,)
    ways = [w for w in who.reachable.ways if w.kind == "email" and w.value and w.safe != "no"]
    return next((w.value or "" for w in ways if w.adult_id in owners), "")
