"""Whether the plan that stands is confirmed by somebody who may decide: the one answer to that.

It is asked of the visits that stand now, whatever they came from: a due keeps the number of the
visit that asked first, and that visit may have been put right, or read again from a file, since.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from sqlalchemy import ColumnElement, Select, and_, exists, select
from sqlalchemy.orm import Session

from recall.records.facts.candidates import waits
from recall.records.facts.cases import pages
from recall.records.tables import Due, Referral, Visit
from recall.records.tables.statements import IDS, many_now

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
        found.update(many_now(session, _not_confirmed(asks), some))
    return found


@cache
def _not_confirmed(asks: Asks) -> Select[int, str]:
    """Return the statement, which is made once: making it takes longer than asking it does."""
    wanted = select(asks.id, Visit.source).join_from(asks, Visit, _asked(asks))
    return wanted.where(asks.id.in_(IDS), *waits(Visit)).order_by(Visit.source)


def _asked(asks: Asks) -> ColumnElement[bool]:
    """Return the condition that a visit is one of the day on which this was asked for."""
    return and_(Visit.person_id == asks.person_id, Visit.on == asks.asked_on)
