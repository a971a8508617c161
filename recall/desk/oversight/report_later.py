"""What parts a month's report from the one that was printed when the month ended.

The figures of a month are those that are known now. Whatever was entered after its end about its
days, or taken back since, is counted here, so that no figure differs without a word.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from recall.desk.oversight.report_lines import Line
from recall.records.tables import (
    BookingEvent,
    Contact,
    Due,
    DueEvent,
    Letter,
    Referral,
    ReferralEvent,
    Visit,
)

PART = "entered after the month, about days up to its end"
_ABOUT: tuple[tuple[str, type, InstrumentedAttribute[date]], ...] = (
    ("visits", Visit, Visit.on),
    ("re-checks asked for", Due, Due.asked_on),
    ("ends of re-checks", DueEvent, DueEvent.on),
    ("referrals asked for", Referral, Referral.asked_on),
    ("what became known of referrals", ReferralEvent, ReferralEvent.on),
    ("what became of appointments", BookingEvent, BookingEvent.on),
    ("calls and other contacts", Contact, Contact.on),
)
"""What the report is counted from, with the day that each row is about."""


def later(session: Session, first: date, last: date, end: datetime) -> Iterator[Line]:
    """Give what was entered or taken back after a month's end and bears on its figures.

    Args:
        session: one that reads.
        first: the first day of the month; letters are counted by the month of their posting.
        last: its last day.
        end: the instant at which that day ended.
    """
    for words, table, day in _ABOUT:
        yield from _line(session, words, table, day <= last, _since(table, end))
    came_back = and_(Letter.returned_on > last, Letter.void_at.is_(None))
    posted = Letter.posted_on.between(first, last)
    yield from _line(session, "letters of the month that came back", Letter, posted, came_back)


def _line(session: Session, words: str, table: type, *held: ColumnElement[bool]) -> Iterator[Line]:
    count = session.scalar(select(func.count()).select_from(table).where(*held))
    if count:
        yield Line(PART, words, "", count)


def _since(table: type, end: datetime) -> ColumnElement[bool]:
    """Return the condition that a row came, or was taken back, after an instant."""
    recorded, void = table.recorded_at, table.void_at  # type: ignore[attr-defined]
    return or_(and_(recorded > end, void.is_(None)), and_(recorded <= end, void > end))
