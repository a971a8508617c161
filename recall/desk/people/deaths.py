"""The death of a person: it takes effect at once, everywhere.

Whoever records it types the name, so that nobody dies by a slip of the finger. Appointments
are called off and letters pulled at once; what is open is closed where whoever records it may
decide, and otherwise waits for somebody who may.
"""

from __future__ import annotations

from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.desk.contacts.contact_stopped import stop_contact
from recall.desk.core.acting import Act, Next, in_words
from recall.desk.core.guarding import always, needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.required import required
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.plans.decisions import close_due
from recall.desk.referrals.ends import close_all
from recall.errors import InputError, Refused
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.people.search_keys import name_parts
from recall.records.tables.statements import whole

_WHY = "Has died."


@needs(Right.KEEP_PEOPLE, never_waits=always)
def record_death(
    desk: Desk, ref: str, on: date, typed_name: str, *, version: int | None = None
) -> Next:
    """Record that somebody has died.

    Args:
        desk: who acts, on which day.
        ref: the person's reference.
        on: the day of death, or the day it became known.
        typed_name: the person's name as whoever records it typed it.
        version: of the person, as it was looked at.

    Raises:
        Refused: the typed name is not this person's.
        InputError: the day is ahead, or before the birth.
    """
    with desk.store.write() as session:
        person = person_row(session, ref, version)
        _check(desk, person, on, typed_name)
        act = Act(desk, session, person.id)
        stopped = stop_contact(act, "died", on)
        if not desk.allows(Right.END):
            words = f"Recorded. {stopped} What is open waits for somebody who may decide."
            return act.finish("death", words)
        dues = _open_dues(session, person.id)
        for due in dues:
            close_due(act, due, "died", _WHY)
        referrals = _open_referrals(session, person.id)
        close_all(act, referrals, "died", _WHY)
        closed = f"Closed: {len(dues)} due, {len(referrals)} referral(s)."
        return act.finish("death", in_words(("Recorded.", stopped, closed)), refold=True)


@needs(Right.DECIDE)
def death_in_error(desk: Desk, ref: str, why: str) -> Next:
    """Take back a death that was recorded in error, and everything that it closed.

    Raises:
        Refused: whoever acts may not decide, or no death is recorded.
    """
    required(why, "The correction is without words.", hint="Say how it was found out.")
    with desk.store.write() as session:
        person = person_row(session, ref)
        if person.deceased_on is None:
            raise Refused(f"No death is recorded for {person.ref}.")
        act = Act(desk, session, person.id)
        act.set("person", person.id, deceased_on=None)
        d = tables.Decision
        mine = d.person_id == person.id, d.reason == "died", stands(tables.Decision)
        for number in session.scalars(select(d.id).where(*mine)).all():
            act.void("decision", number, why.strip())
        again = _open_again(act)
        words = (
            "The death is taken back: what it closed stands again. "
            "Appointments that were called off are made anew by hand."
        )
        act.note(why.strip(), "person", person.id)
        return act.finish("death_in_error", in_words((words, again)), refold=True)


def _open_again(act: Act) -> str:
    """Open the referrals that the death closed."""
    r, e = tables.Referral, tables.ReferralEvent
    closed = r.person_id == act.person_id, r.end_reason == "died", stands(tables.Referral)
    rows = act.session.execute(select(r.id, r.sent_by).where(*closed)).all()
    for number, sent_by in rows:
        ends = e.referral_id == number, e.what == "closed", e.void_at.is_(None)
        for event in act.session.scalars(select(e.id).where(*ends)).all():
            act.void("referral_event", event, "The death was recorded in error.")
        opens = {"is_open": True, "ended_on": None, "end_reason": None, "chase_on": sent_by}
        act.set("referral", number, **opens)
    return f"{len(rows)} referral(s) open again." if rows else ""


def _check(desk: Desk, person: tables.Person, on: date, typed_name: str) -> None:
    if on > desk.today:
        raise InputError(f"{on} is ahead.", hint="Give the day of death, or today.")
    if on < person.born:
        raise InputError(f"{on} is before the birth.", hint="Check whom it is about.")
    check_name(person, typed_name)


def check_name(person: tables.Person, typed_name: str) -> None:
    """Refuse where the typed name is another one than the person's.

    Raises:
        Refused: it is.
    """
    typed = name_parts(typed_name)
    given, family = person.given_names, person.family_name
    known = [name_parts(given, family), name_parts(person.known_as or given, family)]
    if typed not in known:
        raise Refused(
            f"The typed name is not that of {person.ref}.",
            hint="Type the given and family name of the person as recorded.",
        )


def _open_dues(session: Session, person_id: int) -> list[tables.Due]:
    d = tables.Due
    wanted = select(whole(tables.Due)).where(
        d.person_id == person_id, d.is_open, stands(tables.Due)
    )
    return list(session.scalars(wanted.order_by(d.id)))


def _open_referrals(session: Session, person_id: int) -> list[int]:
    r = tables.Referral
    wanted = select(r.id).where(r.person_id == person_id, r.is_open, stands(tables.Referral))
    return list(session.scalars(wanted.order_by(r.id)))
