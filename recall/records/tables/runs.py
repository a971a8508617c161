"""Tables of the jobs and the failsafe: what ran for which day, what it found."""

from datetime import date, datetime

from sqlalchemy import Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from recall.records.tables.base import Base, Fact, Recorded, key, link, one_of, whole_void


class JobRun(Base, Recorded):
    """One job for one intended day: there is never a second row for the same day."""

    __tablename__ = "job_run"
    __table_args__ = (
        UniqueConstraint("job", "for_day"),
        one_of("state", ("running", "done", "failed")),
    )

    id: Mapped[int] = key()
    job: Mapped[str]
    for_day: Mapped[date]
    state: Mapped[str]
    started_at: Mapped[datetime]
    alive_at: Mapped[datetime]
    """The runner's last sign of life; an old one lets another runner take over."""
    finished_at: Mapped[datetime | None]
    runner: Mapped[str]
    tries: Mapped[int] = mapped_column(default=1)
    counts: Mapped[str] = mapped_column(default="{}")
    error: Mapped[str] = mapped_column(default="")


class FailsafeRun(Base, Fact):
    """One pass of the failsafe over the whole register."""

    __tablename__ = "failsafe_run"
    __table_args__ = (whole_void(),)

    id: Mapped[int] = key()
    job_run_id: Mapped[int | None] = link("job_run")
    people: Mapped[int]
    found: Mapped[int]


class FailsafeFinding(Base):
    """Something that the failsafe found on one pass."""

    __tablename__ = "failsafe_finding"
    __table_args__ = (Index(None, "run_id"), Index(None, "person_id"))

    id: Mapped[int] = key()
    run_id: Mapped[int] = link("failsafe_run")
    kind: Mapped[str]
    person_id: Mapped[int | None] = link("person")
    entity: Mapped[str]
    entity_id: Mapped[int]
    since_on: Mapped[date | None]
    says: Mapped[str]


class History(Base):
    """One change: who, when, what, to which row; chained by digest to the one before."""

    __tablename__ = "history"
    __table_args__ = (
        Index(None, "entity", "entity_id"),
        Index(None, "person_id"),
    )

    id: Mapped[int] = key()
    """Its number in the chain, from 1 without a gap."""
    at: Mapped[datetime]
    by_id: Mapped[int] = link("staff")
    what: Mapped[str]
    entity: Mapped[str]
    entity_id: Mapped[int]
    person_id: Mapped[int | None] = link("person")
    payload_digest: Mapped[str]
    previous: Mapped[str]
    digest: Mapped[str]


class HistoryPayload(Base):
    """From what, to what; its content may lawfully be erased, the chain stays whole."""

    __tablename__ = "history_payload"

    history_id: Mapped[int] = link("history", primary_key=True)
    salt: Mapped[str | None]
    """Makes the digest useless for guessing what was erased."""
    content: Mapped[str | None]
    erased_at: Mapped[datetime | None]
    erased_by_id: Mapped[int | None] = link("staff")
    erased_why: Mapped[str | None]


class HistoryHead(Base):
    """The single row that says how long the chain is, so that a lost tail is noticed."""

    __tablename__ = "history_head"

    id: Mapped[int] = key()
    seq: Mapped[int]
    digest: Mapped[str]


class Register(Base):
    """The single row that tells one register from another, and from an invented one."""

    __tablename__ = "register"

    id: Mapped[int] = key()
    mark: Mapped[str]
    """Drawn once; a copy keeps it."""
    invented: Mapped[bool] = mapped_column(default=False)
    """Begun with a made-up time: only such a register is opened with one."""


class ToPlan(Base):
    """Somebody whose plan has to be worked out again; the row goes when that is done.

    It is written with what changed them and removed with their new plan, so a run that was
    stopped goes on where it was.
    """

    __tablename__ = "to_plan"

    person_id: Mapped[int] = link("person", primary_key=True)
