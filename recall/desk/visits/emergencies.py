"""What is kept of a visit's referrals at closing: with whom they were arranged, and words."""

from __future__ import annotations

from datetime import date

from sqlalchemy import exists, select
from sqlalchemy.orm import Session

from recall.desk.core.acting import Act
from recall.desk.core.guarding import needs
from recall.desk.core.person_lookup import person_row
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.errors import Refused
from recall.records import tables
from recall.records.facts.cases import stands


def keep_arranged(desk: Desk, session: Session, person_id: int, on: date, whom: str) -> None:
    """Keep with whom the emergencies of a visit were arranged; without, the visit is not closed.

    One for which somebody was spoken with since that day is arranged already.

    Raises:
        Refused: the visit asks for an emergency, and nobody is named.
    """
    numbers = _not_arranged(session, person_id, on)
    if not numbers:
        return
    if not whom:
        raise Refused(
            "Not closed: this visit asks for an emergency, arranged by phone while they are here.",
            hint='Ring, then say with whom it was arranged: --arranged-with "NAME".',
        )
    act = Act(desk, session, person_id)
    for number in numbers:
        act.add("referral_event", referral_id=number, what="spoke", spoke_with=whom)
        act.touch("referral", number)
    act.finish("referral_spoke", "Spoken with.")


@needs(Right.LOOK)
def arranged(desk: Desk, ref: str, on: date) -> tuple[str, ...]:
    """Return the services with whom an emergency that was asked for on a day is arranged.

    Raises:
        NotFound: no such person.
    """
    r, e = tables.Referral, tables.ReferralEvent
    with desk.store.read() as session:
        person = person_row(session, ref)
        spoken = exists().where(e.referral_id == r.id, e.spoke_with != "", e.on >= on, stands(e))
        asked = r.person_id == person.id, r.is_open, stands(r), r.asked_on == on
        wanted = select(r.to).where(*asked, r.urgency == "emergency", spoken)
        return tuple(dict.fromkeys(session.scalars(wanted)))


def keep_words(desk: Desk, session: Session, person_id: int, on: date, words: str) -> None:
    """Keep the clinician's words for the letters of what was referred on a day."""
    r = tables.Referral
    asked = r.person_id == person_id, r.is_open, stands(r), r.asked_on == on
    numbers = session.scalars(select(r.id).where(*asked).order_by(r.id)).all() if words else ()
    if not numbers:
        return
    act = Act(desk, session, person_id)
    for number in numbers:
        act.add("referral_event", referral_id=number, what="worded", reason=words)
        act.touch("referral", number)
    act.finish("referral_worded", "The words go into the letter.")


def _not_arranged(session: Session, person_id: int, on: date) -> list[int]:
    r, e = tables.Referral, tables.ReferralEvent
    spoken = exists().where(e.referral_id == r.id, e.spoke_with != "", e.on >= on, stands(e))
    asked = r.person_id == person_id, r.is_open, stands(r), r.asked_on == on
    wanted = select(r.id).where(*asked, r.urgency == "emergency", ~spoken).order_by(r.id)
    return list(session.scalars(wanted))
