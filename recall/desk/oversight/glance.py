"""What can be counted at once, by the search columns alone.

Whoever opens the desk sees it before the library of SQL, the mapped tables and the protocol are
there; so nothing here imports them.
"""

from __future__ import annotations

import sqlite3
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from recall.clock import Clock
from recall.config import Config
from recall.desk.core.opening import may_be_opened
from recall.desk.core.proof import has_passwords
from recall.desk.core.staff_row import everybody, member_among, works_here
from recall.records.database import plain
from recall.records.database.odd import ODD_VALUES
from recall.records.facts.first_counts import first_counts, last_change, settled_for

if TYPE_CHECKING:
    from recall.records.database.store import Store


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
        return _counted(plain.by_session(session), clock, live)


def glance(config: Config, on: date | None = None, by: str = "") -> Counts | None:
    """Return what can be counted before the desk is open.

    Nothing where everybody signs in, where opening the register has something to say, or where
    it depends on the sites for which somebody works.

    Args:
        config: the practice's settings.
        on: the day to count for, in the place of today.
        by: who is to act: a name that may not is refused here, before there is a screen.

    Raises:
        NotFound: no such member of staff, or they have left.
        Refused: it is the name of the jobs.
        StorageError: it is encrypted, and not by this key.
    """
    if config.desk.sign_in or len(config.sites) > 1:
        return None
    clock = Clock(config.calendar.time_zone)
    try:
        with plain.by_file(config.files.database) as ask:
            if ask is None or has_passwords(ask) or not may_be_opened(ask):
                return None
            if by:
                works_here(member_among(everybody(ask), by, on or clock.today()))
            return _counted(ask, clock.acting_for(on), config.changeover.went_live)
    except (sqlite3.Error, *ODD_VALUES):
        return None


def _counted(ask: plain.Ask, clock: Clock, live: date | None) -> Counts | None:
    last = last_change(ask)
    if last is not None and clock.day_of(last) > clock.today():
        return None
    if settled_for(ask) != live:
        return None
    found = first_counts(ask, clock.today(), live)
    counted = found.overdue, found.referrals, found.unconfirmed, found.is_empty, found.history
    return Counts(*counted)
