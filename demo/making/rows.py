"""What the files hold beside people and visits: attempts, appointments, referrals."""

from dataclasses import dataclass
from datetime import date


@dataclass(frozen=True)
class Contact:
    """One attempt to reach a person."""

    person: str
    on: date
    at: str
    channel: str
    outcome: str
    call_on: date | None = None
    by: str = "R. Thackray"
    note: str = ""


@dataclass(frozen=True)
class Booking:
    """One appointment in the book."""

    ref: str
    person: str
    on: date
    at: str
    status: str
    seen_by: str = ""
    note: str = ""


@dataclass(frozen=True)
class Fate:
    """One row of referrals.csv."""

    ref: str
    person: str
    service: str
    ear: str
    sent: date
    accepted: date | None = None
    seen: date | None = None
    result: str = ""
    result_on: date | None = None
