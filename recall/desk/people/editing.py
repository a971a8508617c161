"""Changing what is recorded of a person: details, needs, risks, who answers for them.

What changes the plan plans the person again in the same transaction.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, get_args

import msgspec

from recall.care.case import RiskWord
from recall.care.dates import When, resolve
from recall.care.ear import SIDES
from recall.config import site_meant
from recall.desk.contacts.contact_stopped import COLUMN, SAYS, stop_contact
from recall.desk.core.acting import Act, Next, in_words, row_of
from recall.desk.core.guarding import always, needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.people.letter_wishes import adults_too, language_meant
from recall.errors import InputError, Refused
from recall.exchange.people_in import LetterFormat
from recall.loop.outcomes import ContactStop
from recall.records import tables
from recall.records.people.finding import rekey
from recall.records.tables.people import ROLES

DETAILS: dict[str, str] = {
    "title": "title",
    "given_names": "given names",
    "family_name": "family name",
    "known_as": "known as",
    "born": "birth date",
    "gp": "GP",
    "gp_may_be_told": "whether the GP may be told",
    "referrer": "who referred them",
    "dependent": "whether others bring them",
    "language": "language",
    "format": "form of letters",
    "needs": "what helps",
    "caller_note": "the note before contact",
    "site": "site",
}
"""What can be set on the person's own row; the rest has functions of its own."""
FORMATS: tuple[str, ...] = get_args(LetterFormat)


@needs(Right.KEEP_PEOPLE)
def edit_details(desk: Desk, ref: str, version: int | None, **details: Any) -> Next:
    """Set some details of a person: `DETAILS`.

    Raises:
        InputError: no such detail, or one that cannot be.
        Conflict: somebody else changed the person meanwhile.
    """
    unknown = [name for name in details if name not in DETAILS]
    if unknown:
        raise InputError(
            f"{unknown[0]!r} is no detail of a person.", hint=f"It may be: {', '.join(DETAILS)}."
        )
    _check(desk, details)
    told = ""
    if "language" in details:
        details["language"], told = language_meant(desk, details["language"])
    if "site" in details:
        details["site"] = site_meant(desk.config.sites, details["site"])
    with desk.store.write() as session:
        person = person_row(session, ref, version)
        act = Act(desk, session, person.id)
        was = {name: getattr(person, name) for name in details}
        act.set("person", person.id, **details)
        too = adults_too(act, was, details)
        rekey(session, [person.id])
        changed = [DETAILS[name] for name in DETAILS if name in was and details[name] != was[name]]
        if not changed:
            return Next(in_words(("Nothing was changed.", told)), person_ref=person.ref)
        words = in_words((f"Changed: {', '.join(changed)}.", told, too))
        return act.finish("details", words, refold="born" in details)


@needs(Right.KEEP_PEOPLE)
def edit_needs(desk: Desk, ref: str, version: int | None, needs: tuple[str, ...]) -> Next:
    """Set what a person needs: interpreter, relay call, hearing loop, step-free room."""
    tidy = tuple(need.strip() for need in needs if need.strip())
    return edit_details(desk, ref, version, needs=tidy)


@needs(Right.KEEP_PEOPLE)
def add_risk(
    desk: Desk,
    ref: str,
    what: str,
    *,
    ear: str | None = None,
    since: str | None = None,
    until: str | None = None,
) -> Next:
    """Record a risk; the person is planned again."""
    if what not in get_args(RiskWord):
        hint = f"It may be: {', '.join(get_args(RiskWord))}."
        raise InputError(f"{what!r} is no risk that the protocol knows.", hint=hint)
    if ear is not None and ear not in SIDES:
        raise InputError(f"{ear!r} is no ear.", hint="It may be: right, left.")
    for day in (since, until):
        _check_when(day)
    with desk.store.write() as session:
        person = person_row(session, ref)
        act = Act(desk, session, person.id)
        made = act.add(
            "person_risk", person_id=person.id, what=what, ear=ear, since=since, until=until
        )
        words = f"Risk recorded: {what.replace('_', ' ')}. Planned again."
        return act.finish("risk", words, refold=True, made=made)


@needs(Right.KEEP_PEOPLE)
def end_risk(desk: Desk, risk_id: int, why: str, until: str | None = None) -> Next:
    """End a risk on a day, or void one that was never so; the person is planned again."""
    required(why, "A risk is taken away without words.", hint="Say why.")
    _check_when(until)
    with desk.store.write() as session:
        row = row_of(session, tables.PersonRisk, risk_id)
        act = Act(desk, session, row.person_id)
        if until is None:
            act.void("person_risk", risk_id, why.strip())
        else:
            act.set("person_risk", risk_id, until=until)
            act.note(why.strip(), "person_risk", risk_id)
        return act.finish("risk", "Risk ended. Planned again.", refold=True)


@dataclass(frozen=True, slots=True)
class Adult:
    """Somebody who answers for a person."""

    name: str
    role: str
    """One of `recall.records.tables.people.ROLES`."""
    relation: str = ""
    """Mother, son, home manager: in the practice's own words."""
    instead: bool = False
    """Written to in the place of an adult person, not beside them."""


@needs(Right.KEEP_PEOPLE)
def add_adult(desk: Desk, ref: str, adult: Adult) -> Next:
    """Record somebody who answers for a person; how to reach them is added after."""
    name, role = adult.name.strip(), adult.role
    if role not in ROLES:
        raise InputError(f"{role!r} is no role.", hint=f"It may be: {', '.join(ROLES)}.")
    if not name:
        raise InputError("The adult has no name.")
    with desk.store.write() as session:
        person = person_row(session, ref)
        act = Act(desk, session, person.id)
        who = {"name": name, "role": role, "relation": adult.relation.strip()}
        own = {"language": person.language, "format": person.format}
        made = act.add("adult_for", person_id=person.id, instead=adult.instead, **who, **own)
        rekey(session, [person.id])
        return act.finish("adult", "Recorded. Add how to reach them.", made=made)


@needs(Right.KEEP_PEOPLE)
def end_adult(desk: Desk, adult_id: int, why: str) -> Next:
    """Record that somebody answers for a person no longer."""
    required(why, "It ends without words.", hint="Say why.")
    with desk.store.write() as session:
        row = row_of(session, tables.AdultFor, adult_id)
        act = Act(desk, session, row.person_id)
        act.set("adult_for", adult_id, until=desk.today)
        act.note(why.strip(), "adult_for", adult_id)
        return act.finish("adult", "Ended.")


@needs(Right.KEEP_PEOPLE, never_waits=always)
def record_objection(desk: Desk, ref: str) -> Next:
    """Record that a person asked not to be contacted: at once, everywhere."""
    return _stop_contact(desk, ref, "objected")


@needs(Right.KEEP_PEOPLE, never_waits=always)
def record_unsafe(desk: Desk, ref: str) -> Next:
    """Record that it is not safe to contact a person: at once, everywhere."""
    return _stop_contact(desk, ref, "unsafe")


@needs(Right.KEEP_PEOPLE)
def withdraw(desk: Desk, ref: str, what: ContactStop, why: str) -> Next:
    """Record that a person may be contacted again; letters come as their steps come.

    Raises:
        Refused: nothing of the kind is recorded, or whoever acts may not decide that it is safe.
        InputError: no reason.
    """
    if what == "died":
        raise InputError("A death is taken back by itself.", hint="Say that it was in error.")
    if what == "unsafe":
        desk.require(Right.DECIDE)
    required(why, "It ends without words.", hint="Say who asked for it, or how it is known.")
    with desk.store.write() as session:
        person = person_row(session, ref)
        if getattr(person, COLUMN[what]) is None:
            raise Refused(f"Nothing of the kind is recorded for {person.ref}.")
        act = Act(desk, session, person.id)
        act.set("person", person.id, **{COLUMN[what]: None})
        act.note(why.strip(), "person", person.id)
        return act.finish("withdrawn", "May be contacted again.")


def _stop_contact(desk: Desk, ref: str, what: ContactStop) -> Next:
    with desk.store.write() as session:
        person = person_row(session, ref)
        act = Act(desk, session, person.id)
        stopped = stop_contact(act, what, desk.today)
        words = in_words((f"Recorded: {SAYS[what]}.", stopped, "A clinician decides what is open."))
        return act.finish(what, words)


def _check(desk: Desk, details: dict[str, Any]) -> None:
    born = details.get("born")
    if born is not None and born > desk.today:
        raise InputError(f"{born} is ahead.", hint="A birth date lies in the past.")
    if "family_name" in details and not details["family_name"].strip():
        raise InputError("The family name is empty.")
    if details.get("format", "standard") not in FORMATS:
        raise InputError(
            f"{details['format']!r} is no form of letter.",
            hint=f"It may be: {', '.join(FORMATS)}.",
        )


def _check_when(text: str | None) -> None:
    """Refuse what is neither a day nor a month."""
    if text is None:
        return
    try:
        resolve(msgspec.convert(text, When), date.max)
    except (msgspec.ValidationError, ValueError):
        hint = "Write 2026-08-31 or 2026-08."
        raise InputError(f"{text!r} is no day or month.", hint=hint) from None
