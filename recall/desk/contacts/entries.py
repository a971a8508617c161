"""What somebody gives to be recorded about reaching a person, before it is a row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

from recall.loop.outcomes import BY_ID

_WORSE = frozenset(str(each.id) for each in BY_ID.values() if each.moves_up)


@dataclass(frozen=True, slots=True)
class Attempt:
    """One attempt to reach a person, or their call or coming to us, and what came of it."""

    channel: str
    """One of `recall.desk.contacts.allowed.CHANNELS`."""
    outcome: str
    """One of `recall.loop.outcomes`."""
    note: str = ""
    until: date | None = None
    """The day agreed, where the outcome asks for one."""
    by_them: bool = False
    """They rang, wrote or walked in."""
    spoke_with: str = ""
    """Whom it was spoken with, where it was not the person."""
    adult_id: int | None = None
    """The same, from the register."""
    which: tuple[int, ...] = ()
    """Of an outcome that may end something: what it was said of; empty for the one in hand."""
    contact_point_id: int | None = None
    """The number or address that was used; a wrong one is used no longer."""
    until_at: time | None = None
    """The hour agreed with the day, on the practice's wall clock."""
    language: str = ""
    """For which language an interpreter is needed, or which kind of call."""
    best_time: str = ""
    """When they are best rung on that number, in the words of whoever said so."""


def must_not_wait(given: Mapping[str, Any]) -> bool:
    """Return whether an attempt is a call of theirs, or says that somebody got worse."""
    attempt = given.get("attempt")
    if not isinstance(attempt, Attempt):
        return False
    return attempt.by_them or attempt.outcome in _WORSE


@dataclass(frozen=True, slots=True)
class Booking:
    """An appointment to be made, and how it was agreed."""

    starts_local: datetime
    """The practice's wall time."""
    minutes: int = 20
    with_: str | None = None
    """The handle of who sees them."""
    why_late: str = ""
    """The reason, where the day lies after the latest."""
    channel: str | None = None
    """How it was agreed, where that was a contact; it is then logged as well."""
    by_them: bool = False
    """They rang, wrote or walked in."""
    place: str = ""
    """The room or site, where there are several."""
    note: str = ""
    earlier: str = ""
    """When they would come earlier, in their words; empty where they would not."""
    all_the_same: bool = False
    """It is made although the rota does not have who sees them for it that day."""
    contact_point_id: int | None = None
    """The number that was rung, where it was agreed on a call of ours."""


@dataclass(frozen=True, slots=True)
class MoveTo:
    """Where an appointment is moved to, and what of it changes with that."""

    starts_local: datetime
    """The practice's wall time."""
    minutes: int | None = None
    """How long it is then; None: as long as before."""
    with_: str | None = None
    """The handle of who sees them then; None: whoever did before."""
    why_late: str = ""
    """The reason, where the day lies after the latest."""
    earlier: str = ""
    """When they would come earlier still; empty where they would not."""
    all_the_same: bool = False
    """It is made although the rota does not have who sees them for it that day."""


@dataclass(frozen=True, slots=True)
class ContactPoint:
    """A way to reach a person or their adult."""

    kind: str
    """One of `recall.records.tables.people.CONTACT_POINT_KINDS`."""
    raw: str
    """The number, the lines of the address, the e-mail address."""
    postcode: str = ""
    adult_id: int | None = None
    """Whose it is, where it is not the person's own."""
    label: str = ""
    """Home, work, and the like."""
    safe: str = "yes"
    """One of `recall.records.tables.people.SAFE`."""
