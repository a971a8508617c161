"""How much there is on a day, at once: what the first screen shows before anything else.

Counted by the search columns alone, and with few imports: it is what somebody waits for.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, select

from recall.desk.session import Desk
from recall.protocol.contact import LETTER_STEPS
from recall.records import tables
from recall.records.cases import stands

_follow_up: Any = tables.FollowUp.__table__
_person: Any = tables.Person.__table__
_referral: Any = tables.Referral.__table__
_visit: Any = tables.Visit.__table__


@dataclass(frozen=True)
class Tally:
    """How much there is on a day."""

    queue: int
    """To be reached otherwise than by letter; those who are lost are still among them."""
    letters: int
    overdue: int
    referrals: int
    unconfirmed: int


def nobody_yet(desk: Desk) -> bool:
    """Return whether the register holds nobody at all."""
    with desk.store.read() as session:
        return session.scalar(select(_person.c.id).limit(1)) is None


def tally(desk: Desk) -> Tally:
    """Return how much there is today, by the search columns: at once, whatever the size."""
    f, r, v = _follow_up.c, _referral.c, _visit.c
    come = f.is_open, f.next_step_on <= desk.today
    counted = {
        "come": select(func.count()).where(*come),
        "letters": select(func.count()).where(*come, f.step.in_(LETTER_STEPS)),
        "overdue": select(func.count()).where(f.is_open, f.latest < desk.today),
        "referrals": select(func.count()).where(r.is_open, r.chase_on <= desk.today),
        "unconfirmed": select(func.count()).where(v.confirmed_at.is_(None), stands(_visit)),
    }
    with desk.store.read() as session:
        found = {name: session.scalar(wanted) or 0 for name, wanted in counted.items()}
    return Tally(queue=found.pop("come") - found["letters"], **found)
