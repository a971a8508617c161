"""The table of matters: what somebody has to see to that is no recall, until a named close."""

from datetime import date, datetime

from sqlalchemy import CheckConstraint, Index
from sqlalchemy.orm import Mapped, mapped_column

from recall.loop.matters import CLOSE_IDS, KIND_IDS, OWNERS
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


class Matter(Base, Fact, Versioned):
    """An interpreter, a complaint, a visit to type: whose it is, by when, how it ended."""

    __tablename__ = "matter"
    __table_args__ = (
        Index(None, "person_id"),
        partial_index("ix_matter_open", "due_on", "id", where=OPEN),
        one_of("kind", KIND_IDS),
        one_of("owner_role", OWNERS),
        one_of("closed_how", CLOSE_IDS),
        CheckConstraint("(owner_id IS NULL) <> (owner_role IS NULL)", name="one_owner"),
        CheckConstraint(
            "is_open = (closed_on IS NULL) AND (closed_on IS NULL) = (closed_by_id IS NULL) "
            "AND (closed_on IS NULL) = (closed_how IS NULL)",
            name="close_is_whole",
        ),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int | None] = link("person")
    """About whom; None where it is about nobody in the register."""
    kind: Mapped[str]
    text: Mapped[str]
    owner_id: Mapped[int | None] = link("staff")
    owner_role: Mapped[str | None]
    """Whoever has this role sees to it, where nobody is named."""
    visit_on: Mapped[date | None]
    """The day of the visit that is to be typed."""
    due_on: Mapped[date]
    is_open: Mapped[bool] = mapped_column(default=True)
    closed_on: Mapped[date | None]
    closed_at: Mapped[datetime | None]
    closed_by_id: Mapped[int | None] = link("staff")
    closed_how: Mapped[str | None]
    closed_text: Mapped[str] = mapped_column(default="")
    """The answer, or what was found."""
