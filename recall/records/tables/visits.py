"""Tables of what was seen and told: visits, findings, care elsewhere, the protocols used."""

from datetime import date, datetime
from typing import get_args

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from recall.care.case import Category
from recall.care.ear import SIDES, Side
from recall.records.tables.base import (
    Base,
    Fact,
    Versioned,
    key,
    link,
    one_of,
    partial_index,
    whole_void,
)

SOURCES = ("entered", "imported")


class Visit(Base, Fact, Versioned):
    """One attendance, closed by a practitioner; a correction is a new row that cites the old."""

    __tablename__ = "visit"
    __table_args__ = (
        Index("ix_visit_person_id_on", "person_id", "on"),
        partial_index(
            "ix_visit_ref_standing", "ref", unique=True, where="void_at IS NULL AND ref IS NOT NULL"
        ),
        partial_index("ix_visit_on_standing", "on", where="void_at IS NULL"),
        partial_index(
            *("ix_visit_unconfirmed", "confirmed_at", "on", "id"),
            where="confirmed_at IS NULL AND void_at IS NULL",
        ),
        one_of("source", SOURCES),
        one_of("category", get_args(Category)),
        CheckConstraint("(confirmed_at IS NULL) = (confirmed_by_id IS NULL)", name="confirmed"),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    ref: Mapped[str | None]
    """The practice's own reference of the visit."""
    examiner_id: Mapped[int | None] = link("staff")
    examiner: Mapped[str | None]
    """As the file names them, where they are not on the staff table."""
    source: Mapped[str]
    category: Mapped[Category | None]
    """What the practitioner set; it may stand alone, without findings."""
    category_ears: Mapped[tuple[Side, ...]] = mapped_column(default=())
    category_why: Mapped[str] = mapped_column(default="")
    reported: Mapped[str] = mapped_column(default="[]")
    """What was said, as the case file's JSON list."""
    note: Mapped[str] = mapped_column(default="")
    confirmed_at: Mapped[datetime | None]
    confirmed_by_id: Mapped[int | None] = link("staff")
    corrects_id: Mapped[int | None] = link("visit")
    protocol_id: Mapped[int | None] = link("protocol")


class Findings(Base):
    """What was seen in one ear at one visit, as the case file's JSON; never edited."""

    __tablename__ = "findings"
    __table_args__ = (UniqueConstraint("visit_id", "ear"), one_of("ear", SIDES))

    id: Mapped[int] = key()
    visit_id: Mapped[int] = link("visit")
    ear: Mapped[Side]
    content: Mapped[str]


class UnderCare(Base, Fact):
    """A known thing that is assessed or followed elsewhere, as the case file's JSON."""

    __tablename__ = "under_care"
    __table_args__ = (Index(None, "person_id"), whole_void())

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    content: Mapped[str]


class ToldByOthers(Base, Fact):
    """A finding documented elsewhere, as the case file's JSON."""

    __tablename__ = "told_by_others"
    __table_args__ = (Index(None, "person_id"), whole_void())

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    content: Mapped[str]


class LossTreated(Base, Fact):
    """The end of treatment of a sudden hearing loss."""

    __tablename__ = "loss_treated"
    __table_args__ = (Index(None, "person_id"), whole_void())

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    treated_on: Mapped[str]
    """A day or a month."""


class Protocol(Base, Fact):
    """One protocol that the practice adopted or planned by, whole, with its digest."""

    __tablename__ = "protocol"
    __table_args__ = (UniqueConstraint("digest"), whole_void())

    id: Mapped[int] = key()
    name: Mapped[str]
    version: Mapped[str]
    digest: Mapped[str]
    content: Mapped[str]
    signed_by: Mapped[str | None]
    signed_on: Mapped[date | None]
    adopted_on: Mapped[date | None]
    adopted_by_id: Mapped[int | None] = link("staff")


class Population(Base, Fact):
    """The practice's wax cycle parameters as they were fitted on a day."""

    __tablename__ = "population"
    __table_args__ = (whole_void(),)

    id: Mapped[int] = key()
    content: Mapped[str]
