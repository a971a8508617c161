"""Whether the plan that stands is confirmed by somebody who may decide: the one answer to that.

It is asked of the visits that stand now, whatever they came from: a due keeps the number of the
visit that asked first, and that visit may have been put right, or read again from a file, since.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlalchemy import ColumnElement, and_, exists, select
from sqlalchemy.orm import Session

from recall.records.facts.candidates import waits
from recall.records.facts.cases import pages
from recall.records.tables import Due, Referral, Visit

Asks = type[Due] | type[Referral]


def still_waits(asks: Asks) -> ColumnElement[bool]:
    """Return the condition that a visit which asked for this waits to be confirmed."""
    return exists().where(_asked(asks), *waits(Visit))


def waiting_since(session: Session, asks: Asks, numbers: Sequence[int]) -> dict[int, str]:
    """Return what is not confirmed among some dues or referrals, with its visits' source.

    Where several visits of that day wait, one from a file counts.
    """
    found: dict[int, str] = {}
    for some in pages(numbers):
        wanted = select(asks.id, Visit.source).join_from(asks, Visit, _asked(asks))
        wanted = wanted.where(asks.id.in_(some), *waits(Visit)).order_by(Visit.source)
        found.update((number, source) for number, source in session.execute(wanted))
    return found


def _asked(asks: Asks) -> ColumnElement[bool]:
    """Return the condition that a visit is one of the day on which this was asked for."""
    return and_(Visit.person_id == asks.person_id, Visit.on == asks.asked_on)
