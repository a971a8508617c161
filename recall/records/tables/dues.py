"""Tables of what stands: dues, decisions about them, follow-ups that share a contact run."""

from datetime import date, datetime
from typing import get_args

from sqlalchemy import CheckConstraint, Index
from sqlalchemy.orm import Mapped, mapped_column

from recall.care.case import URGENCIES, Category, Do, To, Track, Urgency
from recall.care.ear import SIDES, Side
from recall.records.tables.base import (
    OPEN,
    Base,
    DoneWord,
    Fact,
    Recorded,
    Versioned,
    key,
    link,
    one_of,
    partial_index,
    whole_void,
)
from recall.schedule.plan import Action, Because, CloseReason, Kind

KINDS: tuple[str, ...] = get_args(Kind)
ACTIONS: tuple[str, ...] = get_args(Action)
EVENTS: tuple[str, ...] = get_args(DoneWord)
REASONS: tuple[str, ...] = get_args(CloseReason)
WINDOW = "earliest <= target AND target <= latest"


class Due(Base, Fact):
    """One ask that stands for one (ear, track, kind); its dates are never edited."""

    __tablename__ = "due"
    __table_args__ = (
        Index(None, "person_id"),
        one_of("ear", SIDES),
        one_of("track", get_args(Track)),
        one_of("kind", KINDS),
        one_of("urgency", URGENCIES),
        CheckConstraint(WINDOW, name="window"),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    ear: Mapped[Side]
    track: Mapped[Track]
    kind: Mapped[Kind]
    category: Mapped[Category]
    rule: Mapped[str]
    rule_version: Mapped[int]
    earliest: Mapped[date]
    target: Mapped[date]
    latest: Mapped[date]
    urgency: Mapped[Urgency]
    do: Mapped[tuple[Do, ...]] = mapped_column(default=())
    says: Mapped[str]
    says_aloud: Mapped[str] = mapped_column(default="")
    source: Mapped[str]
    known_by: Mapped[str]
    needs: Mapped[tuple[str, ...]] = mapped_column(default=())
    beaten: Mapped[tuple[str, ...]] = mapped_column(default=())
    cycle: Mapped[str] = mapped_column(default="")
    asked_on: Mapped[date]
    visit_id: Mapped[int | None] = link("visit")
    """The visit that asked."""
    protocol_id: Mapped[int | None] = link("protocol")
    is_open: Mapped[bool] = mapped_column(default=True)


class DueEvent(Base, Fact):
    """How a due ended, or stood up again: by the fold, or by a decision."""

    __tablename__ = "due_event"
    __table_args__ = (
        Index(None, "due_id"),
        one_of("what", ("closed", "reopened")),
        one_of("reason", REASONS),
        CheckConstraint("what <> 'closed' OR reason IS NOT NULL", name="closed_has_reason"),
        whole_void(),
    )

    id: Mapped[int] = key()
    due_id: Mapped[int] = link("due")
    what: Mapped[str]
    reason: Mapped[CloseReason | None]
    visit_id: Mapped[int | None] = link("visit")
    """The visit that answered it."""
    decision_id: Mapped[int | None] = link("decision")
    why: Mapped[str] = mapped_column(default="")


class Decision(Base, Fact):
    """What somebody who may decide did to a due or a referral; an input of the fold."""

    __tablename__ = "decision"
    __table_args__ = (
        Index(None, "person_id"),
        one_of("ear", SIDES),
        one_of("track", get_args(Track)),
        one_of("to", get_args(To)),
        one_of("kind", KINDS),
        one_of("action", ACTIONS),
        one_of("urgency", URGENCIES),
        one_of("reason", REASONS),
        one_of("because", get_args(Because)),
        CheckConstraint(
            "action <> 'strike' OR (because IS NOT NULL AND rule <> '')", name="struck_for_a_reason"
        ),
        CheckConstraint(f"action <> 'move' OR COALESCE({WINDOW}, false)", name="moved_to_a_window"),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    ear: Mapped[Side]
    track: Mapped[Track | None]
    to: Mapped[To | None]
    kind: Mapped[Kind]
    asked_on: Mapped[date | None]
    action: Mapped[Action]
    category: Mapped[Category | None]
    urgency: Mapped[Urgency | None]
    reason: Mapped[CloseReason]
    earliest: Mapped[date | None]
    target: Mapped[date | None]
    latest: Mapped[date | None]
    why: Mapped[str] = mapped_column(default="")
    rule: Mapped[str] = mapped_column(default="")
    until: Mapped[date | None]
    because: Mapped[Because | None]


class MilderLine(Base, Fact):
    """Something that pressed and that a correction dropped or lowered: seen by a second person."""

    __tablename__ = "milder_line"
    __table_args__ = (
        Index(None, "person_id"),
        partial_index(
            "ix_milder_line_waiting", "on", "id", where="seen_at IS NULL AND void_at IS NULL"
        ),
        one_of("ear", SIDES),
        one_of("was", URGENCIES),
        one_of("now", URGENCIES),
        CheckConstraint("(seen_at IS NULL) = (seen_by_id IS NULL)", name="seen_is_whole"),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    visit_id: Mapped[int] = link("visit")
    """The visit that was put right or voided."""
    ear: Mapped[Side]
    about: Mapped[str]
    """The track, or the service of a referral."""
    was: Mapped[Urgency]
    now: Mapped[Urgency | None]
    """None: it is no longer asked for."""
    why: Mapped[str]
    seen_at: Mapped[datetime | None]
    seen_by_id: Mapped[int | None] = link("staff")


class Proposal(Base, Fact):
    """A date that a newly adopted protocol would bring forward, for a named clinician."""

    __tablename__ = "proposal"
    __table_args__ = (
        Index(None, "person_id"),
        CheckConstraint(WINDOW, name="window"),
        one_of("answer", ("brought_forward", "left")),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    due_id: Mapped[int] = link("due")
    protocol_id: Mapped[int] = link("protocol")
    earliest: Mapped[date]
    target: Mapped[date]
    latest: Mapped[date]
    answer: Mapped[str | None]
    answered_at: Mapped[datetime | None]
    answered_by_id: Mapped[int | None] = link("staff")
    why: Mapped[str] = mapped_column(default="")


class LoosenedLine(Base, Fact):
    """A line that a newly adopted protocol no longer makes, or makes later, for the lead."""

    __tablename__ = "loosened_line"
    __table_args__ = (
        Index(None, "person_id"),
        CheckConstraint("(due_id IS NULL) <> (referral_id IS NULL)", name="one_line"),
        CheckConstraint(WINDOW, name="window"),
        one_of("answer", ("taken", "left")),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    protocol_id: Mapped[int] = link("protocol")
    due_id: Mapped[int | None] = link("due")
    referral_id: Mapped[int | None] = link("referral")
    rule: Mapped[str]
    earliest: Mapped[date | None]
    """None: it is no longer made."""
    target: Mapped[date | None]
    latest: Mapped[date | None]
    answer: Mapped[str | None]
    answered_at: Mapped[datetime | None]
    answered_by_id: Mapped[int | None] = link("staff")
    why: Mapped[str] = mapped_column(default="")


_KNOWN = ("person_id", "void_at", "is_open")


class FollowUp(Base, Fact, Versioned):
    """A group of dues that share one contact run and one appointment.

    The columns from `is_open` to `claim_until` are for searching: one function works them out
    from the facts, and they are checked again before anything is sent.
    """

    __tablename__ = "follow_up"
    __table_args__ = (
        Index(None, "person_id"),
        # The order of the calls and what else is open for each is read from these alone.
        partial_index(
            "ix_follow_up_queue", "next_step_on", "urgency_rank", "latest", *_KNOWN, where=OPEN
        ),
        partial_index("ix_follow_up_late", "latest", "urgency_rank", "id", where=OPEN),
        partial_index(
            "ix_follow_up_step",
            *("step", "next_step_on", "latest", "urgency_rank", *_KNOWN),
            where=OPEN,
        ),
        partial_index(
            "ix_follow_up_of_one",
            *("person_id", "latest", "step", "void_at", "is_open"),
            where=OPEN,
        ),
        one_of("urgency", URGENCIES),
        one_of("close_reason", REASONS),
        CheckConstraint(WINDOW, name="window"),
        CheckConstraint("NOT is_open OR next_step_on IS NOT NULL", name="open_has_next_step"),
        CheckConstraint("is_open OR close_reason IS NOT NULL", name="closed_has_reason"),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    earliest: Mapped[date]
    target: Mapped[date]
    latest: Mapped[date]
    urgency: Mapped[Urgency]
    urgency_rank: Mapped[int]
    """0 is the most pressing."""
    tracks: Mapped[tuple[Track, ...]]
    ears: Mapped[tuple[Side, ...]]
    do: Mapped[tuple[Do, ...]] = mapped_column(default=())
    reasons: Mapped[tuple[str, ...]] = mapped_column(default=())
    is_open: Mapped[bool] = mapped_column(default=True)
    step: Mapped[str]
    step_no: Mapped[int] = mapped_column(default=0)
    round: Mapped[int] = mapped_column(default=1)
    next_step_on: Mapped[date | None]
    offer_on: Mapped[date | None]
    claim_by_id: Mapped[int | None] = link("staff")
    claim_until: Mapped[datetime | None]
    closed_on: Mapped[date | None]
    close_reason: Mapped[CloseReason | None]


class FollowUpDue(Base, Recorded):
    """Which dues a follow-up holds; a due regrouped elsewhere leaves an ended row behind."""

    __tablename__ = "follow_up_due"
    __table_args__ = (
        Index(None, "follow_up_id"),
        partial_index("ix_follow_up_due_standing", "due_id", unique=True, where="left_at IS NULL"),
    )

    id: Mapped[int] = key()
    follow_up_id: Mapped[int] = link("follow_up")
    due_id: Mapped[int] = link("due")
    left_at: Mapped[datetime | None]


class FollowUpEvent(Base, Fact):
    """Something done about a follow-up beside contacts, letters and bookings.

    A clinician looked at the list, the address was checked, the GP was told, contact was held
    back, a clinician decided to carry on.
    """

    __tablename__ = "follow_up_event"
    __table_args__ = (
        Index(None, "follow_up_id"),
        one_of("what", EVENTS),
        CheckConstraint("what <> 'held' OR until IS NOT NULL", name="held_until_a_day"),
        whole_void(),
    )

    id: Mapped[int] = key()
    follow_up_id: Mapped[int] = link("follow_up")
    what: Mapped[DoneWord]
    until: Mapped[date | None]
    why: Mapped[str] = mapped_column(default="")
