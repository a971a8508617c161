"""Whose record has been kept as long as the rules ask: a list to look at, nothing is erased.

The rules are data (`retention.toml`), each with its source; a practice's own outrank them. Any
entry about somebody counts as the last contact, which only ever keeps a record longer.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from importlib import resources
from pathlib import Path
from typing import Annotated, Any

import msgspec
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from recall.care.dates import age_on, birthday
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import InputError
from recall.reading import content_at
from recall.records import tables
from recall.records.facts.cases import stands

_Years = Annotated[int, msgspec.Meta(ge=1, le=120)]
ADULT_AT = 18
"""By the code, a child's record is that of somebody under 18."""


class Rule(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How long one kind of record is kept, and who says so."""

    title: Annotated[str, msgspec.Meta(min_length=1)]
    source: Annotated[str, msgspec.Meta(min_length=1)]
    years_after_last: _Years | None = None
    until_birthday: _Years | None = None

    def __post_init__(self) -> None:
        """Refuse a rule that says no time, or two."""
        if (self.years_after_last is None) is (self.until_birthday is None):
            raise ValueError("a rule has either `years_after_last` or `until_birthday`")

    def kept_until(self, born: date, last: date) -> date:
        """Return the first day on which a record may be looked at for erasing."""
        if self.until_birthday is not None:
            return birthday(born, self.until_birthday)
        return birthday(last, self.years_after_last or 0)


class Rules(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """The rules of one file; what a practice's own leaves out is the published one."""

    adult: Rule | None = None
    child: Rule | None = None
    child_17: Rule | None = None

    def rule_for(self, born: date, last: date) -> Rule | None:
        """Return the rule for somebody, by their age at the last entry."""
        age = age_on(born, last)
        if age >= ADULT_AT:
            return self.adult
        return self.child_17 if age == ADULT_AT - 1 else self.child


@dataclass(frozen=True)
class KeptLongEnough:
    """Somebody whose record may be looked at."""

    reference: str
    name: str
    born: date
    last: date
    """The day of the last entry about them."""
    kept_until: date
    rule: str
    source: str


@needs(Right.ERASE)
def kept_long_enough(desk: Desk, own: Path | None = None) -> tuple[KeptLongEnough, ...]:
    """Return whose time is over by the rules, the longest over first.

    Nobody for whom anything is open is on it. `own` is the practice's own file of rules.

    Raises:
        InputError: that file cannot be read, or is none of rules.
    """
    rules = rules_with(own)
    with desk.store.read() as session:
        found = list(_over(session, rules, desk.today))
    return tuple(sorted(found, key=lambda row: (row.kept_until, row.reference)))


def rules_with(own: Path | None = None) -> Rules:
    """Return the published rules, each outranked by the practice's own of the same name.

    Raises:
        InputError: the practice's file cannot be read, or is none of rules.
    """
    published = resources.files("recall.desk.practice").joinpath("retention.toml").read_bytes()
    rules = _rules(published)
    if own is None:
        return rules
    try:
        here = _rules(content_at(own))
    except OSError as error:
        raise InputError(f"{own} cannot be read: {error.strerror or error}.") from None
    except (tomllib.TOMLDecodeError, UnicodeDecodeError, msgspec.ValidationError) as error:
        raise InputError(
            f"{own} holds no rules of retention: {error}.",
            hint="Each has a title, a source, and years_after_last or until_birthday.",
        ) from None
    names = Rules.__struct_fields__
    return Rules(**{name: getattr(here, name) or getattr(rules, name) for name in names})


def _rules(content: bytes) -> Rules:
    return msgspec.convert(tomllib.loads(content.decode("utf-8")), Rules)


def _over(session: Session, rules: Rules, today: date) -> Iterator[KeptLongEnough]:
    p = tables.Person
    busy, last_on = _busy(session), _last(session)
    wanted = select(p.id, p.ref, p.given_names, p.family_name, p.born, p.on, p.deceased_on)
    for row in session.execute(wanted.where(stands(p))):
        days = (row.on, row.deceased_on, last_on.get(row.id))
        last = max(day for day in days if day is not None)
        rule = rules.rule_for(row.born, last)
        if rule is None or row.id in busy:
            continue
        until = rule.kept_until(row.born, last)
        if until <= today:
            name = f"{row.given_names} {row.family_name}".strip()
            said = rule.title, rule.source
            yield KeptLongEnough(row.ref, name, row.born, last, until, *said)


def _busy(session: Session) -> set[int]:
    """Return for whom something is open."""
    f, r, m = tables.FollowUp, tables.Referral, tables.Matter
    asked = (
        select(f.person_id).where(f.is_open, stands(f)),
        select(r.person_id).where(r.is_open, stands(r)),
        select(m.person_id).where(m.is_open, stands(m)),
    )
    return {number for wanted in asked for number in session.scalars(wanted) if number is not None}


def _last(session: Session) -> dict[int, date]:
    """Return the day of the last entry about each person, of whatever kind."""
    found: dict[int, date] = {}
    for table in _ENTRIES:
        wanted = select(table.person_id, func.max(table.on)).group_by(table.person_id)
        for number, on in session.execute(wanted):
            if number is not None:
                found[number] = max(on, found.get(number, on))
    booked = select(tables.Booking.person_id, func.max(tables.Booking.starts_local))
    for number, starts in session.execute(booked.group_by(tables.Booking.person_id)):
        found[number] = max(starts.date(), found.get(number, starts.date()))
    return found


_ENTRIES: tuple[Any, ...] = (
    *(tables.Visit, tables.Contact, tables.Booking, tables.Letter, tables.Referral),
    *(tables.Matter, tables.Decision, tables.ToldByOthers, tables.UnderCare),
    *(tables.PersonRisk, tables.ContactPoint, tables.AdultFor),
)
