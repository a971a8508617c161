"""What can be counted at once, by the search columns alone.

Whoever opens the desk sees it before the mapped tables and the protocol are there; so nothing
here imports them.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from recall.clock import Clock
from recall.config import Config
from recall.desk.core.opening import open_register
from recall.records.database.store import Store
from recall.records.facts import candidates


@dataclass(frozen=True)
class ByStep:
    """The counts that depend on what is next for each follow-up."""

    to_reach: int
    """People whom reception is to reach otherwise than by letter."""
    clinician: int
    """People about whom a clinician is to decide, to ring or to look before letters go."""
    lost: int
    letters: int
    """Follow-ups about which a letter goes out with the week's batch."""
    matters: int = 0
    """Matters that whoever acts is to see to."""
    late: int = 0
    """Those of them whose day has gone by."""
    milder: int = 0
    """Lines that a correction made milder, which no second person has seen."""


@dataclass(frozen=True)
class Counts:
    """How much there is on a day."""

    overdue: int
    referrals: int
    unconfirmed: int
    """Imported visits that no clinician has confirmed."""
    is_empty: bool
    """Whether the register holds nobody at all."""
    history: int = 0
    """What is of before the practice went live, and waits to be looked through."""
    by_step: ByStep | None = None
    """None until it is worked out."""


def at_once(store: Store, clock: Clock, live: date | None = None) -> Counts | None:
    """Return what the search columns alone can count, whatever the register's size.

    None for a day that has gone by since: how it stood then is worked out from facts. So it is
    where the day of going live is another one than when the columns were worked out.
    """
    with store.read() as session:
        last = candidates.last_change(session)
        if last is not None and clock.day_of(last) > clock.today():
            return None
        if candidates.settled_for(session) != live:
            return None
        found = candidates.glance(session, clock.today(), live)
    counted = found.overdue, found.referrals, found.unconfirmed, found.is_empty, found.history
    return Counts(*counted)


def glance(config: Config, on: date | None = None) -> Counts | None:
    """Return what can be counted before the desk is open; nothing where everybody signs in.

    Raises:
        StorageError: no database, or one of another version.
    """
    if config.desk.sign_in:
        return None
    zone = config.calendar.time_zone
    store = open_register(config.files)
    try:
        return at_once(store, Clock(zone).acting_for(on), config.changeover.went_live)
    finally:
        store.close()
