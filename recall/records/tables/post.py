"""Tables of the weekly post: batches and letters. The text is committed before any page."""

from datetime import date, datetime

from sqlalchemy import Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from recall.records.tables.base import (
    Base,
    Fact,
    key,
    link,
    partial_index,
    whole_void,
)


class Batch(Base, Fact):
    """A numbered run of letters: previewed, printed, posted."""

    __tablename__ = "batch"
    __table_args__ = (UniqueConstraint("number"), whole_void())

    id: Mapped[int] = key()
    number: Mapped[int]
    week_on: Mapped[date]
    """The Monday of the week it is for."""
    printed_at: Mapped[datetime | None]
    posted_on: Mapped[date | None]
    posted_by_id: Mapped[int | None] = link("staff")
    text_digest: Mapped[str | None]
    """Over the text of its letters, so that a reprint can be checked."""
    file_name: Mapped[str] = mapped_column(default="")
    note: Mapped[str] = mapped_column(default="")


class Letter(Base, Fact):
    """One letter with its text; a follow-up gets each step once per round and per home."""

    __tablename__ = "letter"
    __table_args__ = (
        UniqueConstraint("follow_up_id", "round", "step", "home"),
        Index(None, "person_id"),
        Index(None, "batch_id"),
        partial_index(
            "ix_letter_waiting", "on", "id", where="batch_id IS NULL AND void_at IS NULL"
        ),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    follow_up_id: Mapped[int | None] = link("follow_up")
    referral_id: Mapped[int | None] = link("referral")
    batch_id: Mapped[int | None] = link("batch")
    round: Mapped[int] = mapped_column(default=1)
    step: Mapped[str]
    home: Mapped[int] = mapped_column(default=1)
    """2 for the second home of a child with two."""
    kind: Mapped[str]
    language: Mapped[str]
    format: Mapped[str]
    adult_id: Mapped[int | None] = link("adult_for")
    contact_point_id: Mapped[int | None] = link("contact_point")
    to_name: Mapped[str]
    to_lines: Mapped[tuple[str, ...]]
    body: Mapped[str]
    fields: Mapped[str] = mapped_column(default="{}")
    """What the page needs beside the text, as JSON."""
    held_why: Mapped[str | None]
    printed_at: Mapped[datetime | None]
    posted_on: Mapped[date | None]
    pulled_why: Mapped[str | None]
    """Why it was taken from the pile between printing and posting."""
    returned_on: Mapped[date | None]
