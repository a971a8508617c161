"""What was sent already of a visit that is put right: who was written to, when, and for what."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.services import SERVICES
from recall.desk.core.acting import row_of
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.facts.referral_loops import referral_loops
from recall.records.tables.statements import whole
from recall.schedule.calendar import say_day
from recall.schedule.reading import reasons_read

SENT = ("sent", "spoke")
"""What is noted of a referral that went, by letter or by word of mouth."""


def sent_already(session: Session, visit_id: int | None) -> tuple[str, ...]:
    """Return what others were told of a visit that is to be put right, one sentence a referral.

    Args:
        session: the register.
        visit_id: the number of the visit as it stands; None where nothing is put right.
    """
    if visit_id is None:
        return ()
    return tuple(_sent(session, row_of(session, tables.Visit, visit_id)))


def _sent(session: Session, old: tables.Visit) -> Iterator[str]:
    r, e = tables.Referral, tables.ReferralEvent
    wanted = (
        select(whole(r), e.on)
        .join_from(r, e, e.referral_id == r.id)
        .where(r.person_id == old.person_id, r.asked_on == old.on, stands(r))
        .where(e.what.in_(SENT), stands(e))
        .order_by(r.id, e.id.desc())
    )
    days = {row.id: on for row, on in session.execute(wanted)}
    loops = referral_loops(session, list(days))
    for number, on in days.items():
        said = reasons_read(loops[number].referral.reasons)
        service = SERVICES[loops[number].referral.to].short
        words = " ".join(f"{' and '.join(ears)}: {reason.says}" for ears, reason in said)
        yield (
            f"{service} was told on {say_day(on)}: {words} Write again once this is put right: "
            f"recall refer draft {number}."
        )
