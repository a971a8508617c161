"""How much there is on a day, at once: what the first screen shows before anything else.

Counted by the search columns alone, through bare names of tables and columns: whoever opens the
desk does not wait for the mapped tables, nor for the protocol. A test holds these names against
the mapped ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Boolean, Date, DateTime, String, column, func, select, table

from recall.clock import Clock
from recall.config import Config
from recall.protocol.contact import LETTER_STEPS
from recall.records.database.store import Store, open_store

FOLLOW_UPS = table(
    "follow_up",
    column("is_open", Boolean),
    column("next_step_on", Date),
    column("step", String),
    column("latest", Date),
)
PEOPLE = table("person", column("id"))
REFERRALS = table("referral", column("is_open", Boolean), column("chase_on", Date))
VISITS = table("visit", column("confirmed_at", DateTime), column("void_at", DateTime))


@dataclass(frozen=True)
class Tally:
    """How much there is on a day."""

    queue: int
    """Follow-ups of those to be reached otherwise than by letter, the lost still among them."""
    letters: int
    overdue: int
    referrals: int
    unconfirmed: int
    is_empty: bool
    """Whether the register holds nobody at all."""


def tally(store: Store, on: date) -> Tally:
    """Return how much there is on a day, by the search columns: at once, whatever the size."""
    f, r, v = FOLLOW_UPS.c, REFERRALS.c, VISITS.c
    come = f.is_open, f.next_step_on <= on
    counted = {
        "come": select(func.count()).where(*come),
        "letters": select(func.count()).where(*come, f.step.in_(LETTER_STEPS)),
        "overdue": select(func.count()).where(f.is_open, f.latest < on),
        "referrals": select(func.count()).where(r.is_open, r.chase_on <= on),
        "unconfirmed": select(func.count()).where(v.confirmed_at.is_(None), v.void_at.is_(None)),
    }
    with store.read() as session:
        found = {name: session.scalar(wanted) or 0 for name, wanted in counted.items()}
        nobody = session.scalar(select(PEOPLE.c.id).limit(1)) is None
    return Tally(queue=found.pop("come") - found["letters"], is_empty=nobody, **found)


def glance(config: Config, on: date | None = None) -> Tally:
    """Return how much there is, before the desk is open.

    Raises:
        StorageError: no database, or one of another version.
    """
    day = on or Clock(config.calendar.time_zone).today()
    store = open_store(config.files.database)
    try:
        return tally(store, day)
    finally:
        store.close()
