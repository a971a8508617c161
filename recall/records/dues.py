"""Tables of what stands: dues, decisions about them, follow-ups that share a contact run."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, ClassVar, get_args

from sqlalchemy import CheckConstraint, Index, text
from sqlalchemy.orm import Mapped, mapped_column

from recall.care.case import URGENCIES, Track
from recall.care.ear import SIDES
from recall.records.base import Base, Fact, Recorded, key, link, one_of, whole_void
from recall.schedule.plan import CloseReason, Kind

KINDS: tuple[str, ...] = get_args(Kind)
REASONS: tuple[str, ...] = get_args(CloseReason)
IS_OPEN = {"sqlite_where": text("is_open = 1"), "postgresql_where": text("is_open")}
"""For queue-like lists only partial indexes: the planner then has no other to prefer."""
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
    ear: Mapped[str]
    track: Mapped[str]
    kind: Mapped[str]
    category: Mapped[str]
    rule: Mapped[str]
    rule_version: Mapped[int]
    earliest: Mapped[date]
    target: Mapped[date]
    latest: Mapped[date]
    urgency: Mapped[str]
    do: Mapped[tuple[str, ...]] = mapped_column(default=())
    says: Mapped[str]
    says_aloud: Mapped[str] = mapped_column(default="")
    source: Mapped[str]
    known_by: Mapped[str]
    beaten: Mapped[tuple[str, ...]] = mapped_column(default=())
    cycle: Mapped[str] = mapped_column(default="")
    visit_id: Mapped[int | None] = link("visit")
    """The visit that asked; `on` is its day."""
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
    reason: Mapped[str | None]
    visit_id: Mapped[int | None] = link("visit")
    """The visit that answered it."""
    decision_id: Mapped[int | None] = link("decision")
    why: Mapped[str] = mapped_column(default="")


class Decision(Base, Fact):
    """What somebody who may decide did to a due, between visits; an input of the fold."""

    __tablename__ = "decision"
    __table_args__ = (
        Index(None, "person_id"),
        one_of("ear", SIDES),
        one_of("track", get_args(Track)),
        one_of("kind", KINDS),
        one_of("action", ("close", "move")),
        one_of("reason", REASONS),
        CheckConstraint(
            f"action <> 'move' OR COALESCE({WINDOW}, false)",
            name="moved_to_a_window",
        ),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    ear: Mapped[str]
    track: Mapped[str]
    kind: Mapped[str]
    asked_on: Mapped[date | None]
    action: Mapped[str]
    reason: Mapped[str]
    earliest: Mapped[date | None]
    target: Mapped[date | None]
    latest: Mapped[date | None]
    why: Mapped[str] = mapped_column(default="")


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


class FollowUp(Base, Fact):
    """A group of dues that share one contact run and one appointment.

    The columns from `is_open` to `claim_until` are for searching: one function works them out
    from the facts, and they are checked again before anything is sent.
    """

    __tablename__ = "follow_up"
    __table_args__ = (
        Index(None, "person_id"),
        Index("ix_follow_up_queue", "next_step_on", "urgency_rank", "latest", "id", **IS_OPEN),
        Index("ix_follow_up_late", "latest", "urgency_rank", "id", **IS_OPEN),
        Index("ix_follow_up_step", "step", "next_step_on", "id", **IS_OPEN),
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
    urgency: Mapped[str]
    urgency_rank: Mapped[int]
    """0 is the most pressing."""
    tracks: Mapped[tuple[str, ...]]
    ears: Mapped[tuple[str, ...]]
    do: Mapped[tuple[str, ...]] = mapped_column(default=())
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
    close_reason: Mapped[str | None]
    version: Mapped[int] = mapped_column(default=1)

    __mapper_args__: ClassVar[dict[str, Any]] = {"version_id_col": version}


class FollowUpDue(Base, Recorded):
    """Which dues a follow-up holds; a due regrouped elsewhere leaves an ended row behind."""

    __tablename__ = "follow_up_due"
    __table_args__ = (
        Index(None, "follow_up_id"),
        Index(
            "ix_follow_up_due_standing",
            "due_id",
            unique=True,
            sqlite_where=text("left_at IS NULL"),
            postgresql_where=text("left_at IS NULL"),
        ),
    )

    id: Mapped[int] = key()
    follow_up_id: Mapped[int] = link("follow_up")
    due_id: Mapped[int] = link("due")
    left_at: Mapped[datetime | None]
