"""Tables of the loop: contacts, bookings, referrals, each with what happened to it.

A contact, an appointment or a letter names the follow-up whose step it did; what else it was
about stands in `also_about`.
"""

from datetime import date, datetime
from typing import get_args

from sqlalchemy import CheckConstraint, DateTime, Index
from sqlalchemy.orm import Mapped, mapped_column

from recall.care.case import URGENCIES, To, Urgency
from recall.care.ear import Side
from recall.loop.outcomes import Channel
from recall.loop.referral import Route, Stage
from recall.records.tables.base import (
    OPEN,
    Base,
    Fact,
    Versioned,
    key,
    link,
    one_of,
    partial_index,
    whole_void,
)
from recall.schedule.plan import EndReason


class Contact(Base, Fact):
    """One attempt to reach the person, with channel and outcome."""

    __tablename__ = "contact"
    __table_args__ = (
        Index(None, "person_id"),
        Index(None, "follow_up_id"),
        Index(None, "until_at"),
        Index(None, "referral_id"),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    follow_up_id: Mapped[int | None] = link("follow_up")
    referral_id: Mapped[int | None] = link("referral")
    letter_id: Mapped[int | None] = link("letter")
    ref: Mapped[str | None]
    """The practice's own reference, for imported ones."""
    round: Mapped[int] = mapped_column(default=1)
    step: Mapped[str] = mapped_column(default="")
    step_no: Mapped[int] = mapped_column(default=0)
    channel: Mapped[Channel]
    outcome: Mapped[str]
    adult_id: Mapped[int | None] = link("adult_for")
    contact_point_id: Mapped[int | None] = link("contact_point")
    spoke_with: Mapped[str] = mapped_column(default="")
    until: Mapped[date | None]
    """The day agreed, where the outcome asks for one."""
    until_at: Mapped[str | None]
    """The hour agreed with that day, as HH:MM of the practice's wall time."""
    by_them: Mapped[bool] = mapped_column(default=False)
    """They rang, wrote or walked in."""
    note: Mapped[str] = mapped_column(default="")


class Booking(Base, Fact):
    """An appointment for a follow-up: local wall time and its zone."""

    __tablename__ = "booking"
    __table_args__ = (
        Index(None, "person_id"),
        Index(None, "follow_up_id"),
        Index(None, "starts_local"),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    follow_up_id: Mapped[int | None] = link("follow_up")
    ref: Mapped[str | None]
    starts_local: Mapped[datetime] = mapped_column(DateTime())
    zone: Mapped[str]
    minutes: Mapped[int] = mapped_column(default=20)
    staff_id: Mapped[int | None] = link("staff")
    place: Mapped[str] = mapped_column(default="")
    late_why: Mapped[str] = mapped_column(default="")
    """Why it lies after the follow-up's latest day."""
    note: Mapped[str] = mapped_column(default="")
    earlier: Mapped[str] = mapped_column(default="")
    """When they would come earlier, in their words: any time, mornings; empty is no wish."""


class BookingEvent(Base, Fact):
    """How a booking ended: kept or not, cancelled, or moved, which makes another booking."""

    __tablename__ = "booking_event"
    __table_args__ = (Index(None, "booking_id"), whole_void())

    id: Mapped[int] = key()
    booking_id: Mapped[int] = link("booking")
    what: Mapped[str]
    visit_id: Mapped[int | None] = link("visit")
    why: Mapped[str] = mapped_column(default="")


class DiaryCount(Base, Fact):
    """How many appointments the practice's own diary has for a day, as somebody counted them."""

    __tablename__ = "diary_count"
    __table_args__ = (
        Index(None, "on"),
        CheckConstraint("appointments >= 0", name="not_negative"),
        whole_void(),
    )

    id: Mapped[int] = key()
    appointments: Mapped[int]


_ONE_ACT = " + ".join(
    f"CAST({act}_id IS NOT NULL AS INTEGER)" for act in ("contact", "booking", "letter")
)


class AlsoAbout(Base, Fact):
    """A follow-up that a contact, an appointment or a letter counts for beside the one it names."""

    __tablename__ = "also_about"
    __table_args__ = (
        Index(None, "contact_id"),
        Index(None, "follow_up_id"),
        Index(None, "booking_id"),
        Index(None, "letter_id"),
        CheckConstraint(f"{_ONE_ACT} = 1", name="one_act"),
        whole_void(),
    )

    id: Mapped[int] = key()
    follow_up_id: Mapped[int] = link("follow_up")
    contact_id: Mapped[int | None] = link("contact")
    booking_id: Mapped[int | None] = link("booking")
    letter_id: Mapped[int | None] = link("letter")
    round: Mapped[int] = mapped_column(default=1)
    step: Mapped[str] = mapped_column(default="")
    """The step that it does for this follow-up, in this follow-up's own round."""


class Referral(Base, Fact, Versioned):
    """An onward referral with the days by which its stages must be known."""

    __tablename__ = "referral"
    __table_args__ = (
        Index(None, "person_id"),
        partial_index("ix_referral_chase", "chase_on", "urgency_rank", "id", where=OPEN),
        one_of("to", get_args(To)),
        one_of("urgency", URGENCIES),
        CheckConstraint("NOT is_open OR chase_on IS NOT NULL", name="open_has_chase_day"),
        CheckConstraint("is_open OR end_reason IS NOT NULL", name="ended_has_reason"),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    to: Mapped[To]
    ears: Mapped[tuple[Side, ...]]
    urgency: Mapped[Urgency]
    urgency_rank: Mapped[int]
    within_days: Mapped[int]
    sent_by: Mapped[date]
    accepted_by: Mapped[date]
    seen_by: Mapped[date]
    result_by: Mapped[date]
    reasons: Mapped[str]
    """The plan's reasons as a JSON list."""
    asked_on: Mapped[date]
    visit_id: Mapped[int | None] = link("visit")
    protocol_id: Mapped[int | None] = link("protocol")
    route: Mapped[Route] = mapped_column(default="direct")
    is_open: Mapped[bool] = mapped_column(default=True)
    stage: Mapped[Stage] = mapped_column(default="sent")
    """The earliest one that is not known."""
    chase_on: Mapped[date | None]
    ended_on: Mapped[date | None]
    end_reason: Mapped[EndReason | None]


class ReferralEvent(Base, Fact):
    """A stage of a referral that became known, a chase, or how it ended."""

    __tablename__ = "referral_event"
    __table_args__ = (Index(None, "referral_id"), whole_void())

    id: Mapped[int] = key()
    referral_id: Mapped[int] = link("referral")
    what: Mapped[str]
    day: Mapped[date | None]
    """For an appointment there: its day."""
    spoke_with: Mapped[str] = mapped_column(default="")
    reason: Mapped[str] = mapped_column(default="")
    visit_id: Mapped[int | None] = link("visit")
    note: Mapped[str] = mapped_column(default="")
