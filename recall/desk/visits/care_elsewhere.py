"""What others do and have documented: care that runs elsewhere, findings that others told.

Both change the plan: what is followed elsewhere is not referred again, and what was documented
elsewhere counts for the clocks. The person is planned again in the same transaction.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import date
from typing import Any, TypeVar

import msgspec

from recall.care.case import ToldByOthers, UnderCare
from recall.care.dates import resolve
from recall.desk.core.acting import Act, Next, row_of
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import InputError
from recall.records import tables

Told = TypeVar("Told", UnderCare, ToldByOthers)


@dataclass(frozen=True, slots=True)
class CareElsewhere:
    """Care that somebody else gives, as it was told."""

    of: str
    """The service."""
    ear: str | None = None
    """Right or left; both where it is left out."""
    track: str | None = None
    """What is followed; everything where it is left out."""
    since: str | None = None
    """A day or a month; today where it is left out."""
    until: str | None = None
    """A day or a month on which it ends."""


@needs(Right.DECIDE)
def record_care(desk: Desk, ref: str, care: CareElsewhere) -> Next:
    """Record that a service follows something; whether that still runs is asked from time to time.

    Raises:
        InputError: no such service, ear, track or day.
    """
    given = {**asdict(care), "since": care.since or desk.today.isoformat()}
    words = f"Under the care of {care.of.replace('_', ' ')}."
    return _keep(desk, ref, "under_care", _read(UnderCare, given), words)


@needs(Right.KEEP_PEOPLE)
def end_care(desk: Desk, care_id: int, why: str) -> Next:
    """Record that care elsewhere has ended, so that what is found is referred again."""
    required(why, "It ends without words.", hint="Say how it is known.")
    with desk.store.write() as session:
        row = row_of(session, tables.UnderCare, care_id)
        act = Act(desk, session, row.person_id)
        care = msgspec.json.decode(row.content, type=UnderCare)
        ended = msgspec.structs.replace(care, until=desk.today.isoformat())
        act.set("under_care", care_id, content=msgspec.json.encode(ended).decode())
        act.note(why.strip(), "under_care", care_id)
        return act.finish("care", "Care elsewhere has ended. Planned again.", refold=True)


@needs(Right.FOLLOW_REFERRALS)
def record_told(desk: Desk, ref: str, on: str, ear: str, source: str, **found: Any) -> Next:
    """Record what others have documented: effusion, hearing_dB, grommet_on or surgery.

    Raises:
        InputError: it tells nothing, or a value or day that cannot be.
    """
    required(source, "Nobody is named as the source.", hint="Say who documented it.")
    told = _read(ToldByOthers, {"on": on, "ear": ear, "source": source.strip(), **found})
    if resolve(told.on, desk.today).on > desk.today:
        raise InputError(f"{on} is ahead.", hint="Give the day or month it was documented.")
    return _keep(desk, ref, "told_by_others", told, "Recorded.")


def _read(kind: type[Told], given: dict[str, Any]) -> Told:
    """Return the values as the case file holds them, or say which of them cannot be."""
    values = {name: value for name, value in given.items() if value is not None}
    try:
        found = msgspec.convert(values, kind)
        for name in ("on", "since", "until", "grommet_on"):
            if values.get(name) is not None:
                resolve(getattr(found, name), date.max)
    except (msgspec.ValidationError, ValueError) as problem:
        raise InputError(f"This cannot be recorded: {problem}.") from None
    return found


def _keep(desk: Desk, ref: str, table: str, what: UnderCare | ToldByOthers, words: str) -> Next:
    with desk.store.write() as session:
        person = person_row(session, ref)
        act = Act(desk, session, person.id)
        content = msgspec.json.encode(what).decode()
        made = act.add(table, person_id=person.id, content=content)
        return act.finish(table, f"{words} Planned again.", refold=True, made=made)
