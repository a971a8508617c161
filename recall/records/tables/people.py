"""Tables of people: staff, the register, how to reach somebody, who answers for them."""

from datetime import date
from typing import get_args

from sqlalchemy import CheckConstraint, Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from recall.care.case import RiskWord
from recall.care.ear import SIDES, Side
from recall.loop.addressee import Role, Safe
from recall.records.tables.base import (
    Base,
    ContactPointKind,
    Fact,
    Versioned,
    key,
    link,
    one_of,
    whole_void,
)

CONTACT_POINT_KINDS: tuple[str, ...] = get_args(ContactPointKind)
ROLES: tuple[str, ...] = ("responsible_adult", "attorney", "carer", "care_home")
STAFF_ROLES: tuple[str, ...] = ("reception", "practitioner", "clinical_lead", "manager", "jobs")
SAFE: tuple[str, ...] = get_args(Safe)


class Staff(Base):
    """Somebody, or some job, who acts; what they may do follows from the role."""

    __tablename__ = "staff"
    __table_args__ = (UniqueConstraint("handle"), one_of("role", STAFF_ROLES))

    id: Mapped[int] = key()
    handle: Mapped[str]
    """The short word they type to say who they are, in lower case."""
    name: Mapped[str]
    role: Mapped[str]
    title: Mapped[str] = mapped_column(default="")
    """What they sign with, such as their profession."""
    registration: Mapped[str] = mapped_column(default="")
    """With whom and under which number they are registered."""
    site: Mapped[str] = mapped_column(default="")
    sites: Mapped[str] = mapped_column(default="")
    """The sites they work for, with commas between, or `all`; empty: their own."""
    is_job: Mapped[bool] = mapped_column(default=False)
    left_on: Mapped[date | None]


class Person(Base, Fact, Versioned):
    """Somebody in the register, by the practice's own reference."""

    __tablename__ = "person"
    __table_args__ = (
        UniqueConstraint("ref"),
        Index("ix_person_twins", "family_name", "born"),
        whole_void(),
    )

    id: Mapped[int] = key()
    ref: Mapped[str]
    title: Mapped[str] = mapped_column(default="")
    given_names: Mapped[str] = mapped_column(default="")
    family_name: Mapped[str]
    known_as: Mapped[str] = mapped_column(default="")
    born: Mapped[date]
    sex: Mapped[str | None]
    nhs_number: Mapped[str | None]
    nhs_number_raw: Mapped[str | None]
    """As it was given, where it is not a valid number."""
    nhs_number_problem: Mapped[str | None]
    gp: Mapped[str] = mapped_column(default="")
    gp_may_be_told: Mapped[bool | None]
    referrer: Mapped[str] = mapped_column(default="")
    site: Mapped[str] = mapped_column(default="")
    """Which of the practice's sites they belong to; empty where there is one."""
    deceased_on: Mapped[date | None]
    objected_on: Mapped[date | None]
    """Asked not to be contacted."""
    unsafe_on: Mapped[date | None]
    """Found not to be safe to contact at all."""
    moved_on: Mapped[date | None]
    """Known, or said, to have left the last address, no new one yet."""
    dependent: Mapped[bool] = mapped_column(default=False)
    """An adult whom others bring."""
    language: Mapped[str] = mapped_column(default="en")
    format: Mapped[str] = mapped_column(default="standard")
    """Standard, large print, e-mail, spoken: words of the letters room."""
    needs: Mapped[tuple[str, ...]] = mapped_column(default=())
    """Interpreter, relay call, hearing loop, step-free room and the like."""
    caller_note: Mapped[str] = mapped_column(default="")


class PersonRisk(Base, Fact):
    """Something about a person, or one ear of theirs, that changes the follow-up."""

    __tablename__ = "person_risk"
    __table_args__ = (Index(None, "person_id"), one_of("ear", SIDES), whole_void())

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    what: Mapped[RiskWord]
    ear: Mapped[Side | None]
    since: Mapped[str | None]
    """A day or a month."""
    until: Mapped[str | None]


class AdultFor(Base, Fact):
    """Who answers for a person: parent, carer, attorney, care home."""

    __tablename__ = "adult_for"
    __table_args__ = (Index(None, "person_id"), one_of("role", ROLES), whole_void())

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    name: Mapped[str]
    role: Mapped[Role]
    relation: Mapped[str] = mapped_column(default="")
    """Mother, son, home manager: in the practice's own words."""
    instead: Mapped[bool] = mapped_column(default=False)
    """Written to in the place of an adult person, not beside them."""
    language: Mapped[str] = mapped_column(default="en")
    format: Mapped[str] = mapped_column(default="standard")
    since: Mapped[date | None]
    until: Mapped[date | None]
    note: Mapped[str] = mapped_column(default="")


class ContactPoint(Base, Fact):
    """One way to reach a person or their adult: as given, and as understood."""

    __tablename__ = "contact_point"
    __table_args__ = (
        Index(None, "person_id"),
        Index(None, "value"),
        one_of("kind", CONTACT_POINT_KINDS),
        one_of("safe", SAFE),
        CheckConstraint("value IS NOT NULL OR problem IS NOT NULL", name="value_or_problem"),
        whole_void(),
    )

    id: Mapped[int] = key()
    person_id: Mapped[int] = link("person")
    adult_id: Mapped[int | None] = link("adult_for")
    """Whose it is, where it is not the person's own."""
    kind: Mapped[ContactPointKind]
    label: Mapped[str] = mapped_column(default="")
    rank: Mapped[int] = mapped_column(default=1)
    """1 is tried first."""
    raw: Mapped[str]
    value: Mapped[str | None]
    """Normalised; an address has one line per line."""
    postcode: Mapped[str | None]
    problem: Mapped[str | None]
    safe: Mapped[Safe] = mapped_column(default="yes")
    """Freely, as the only safe one, or never."""
    checked_on: Mapped[date | None]
    """The day somebody confirmed that it is still right."""
    best_time: Mapped[str] = mapped_column(default="")
    """When somebody answers there, in the words of whoever said so."""
    until: Mapped[date | None]
    note: Mapped[str] = mapped_column(default="")


class PersonKey(Base):
    """What a person is found by; rebuilt from the person, so rows here may go."""

    __tablename__ = "person_key"
    __table_args__ = (
        Index("ix_person_key_person_id", "person_id"),
        {"sqlite_with_rowid": False},
    )

    kind: Mapped[str] = mapped_column(primary_key=True)
    key: Mapped[str] = mapped_column(primary_key=True)
    person_id: Mapped[int] = link("person", primary_key=True)


class ImportSeen(Base):
    """The field digests of a file's row when it was last imported.

    A file overwrites only what the file itself changed.
    """

    __tablename__ = "import_seen"
    __table_args__ = (UniqueConstraint("kind", "ref"),)

    id: Mapped[int] = key()
    kind: Mapped[str]
    """People, visits, contacts, bookings."""
    ref: Mapped[str]
    row_digest: Mapped[str]
    fields: Mapped[str]
    """A JSON object: field to digest."""
    import_run_id: Mapped[int] = link("import_run")


class ImportRun(Base, Fact):
    """One file taken in, with its counts."""

    __tablename__ = "import_run"
    __table_args__ = (whole_void(),)

    id: Mapped[int] = key()
    kind: Mapped[str]
    file_name: Mapped[str]
    file_digest: Mapped[str]
    counts: Mapped[str]
    """A JSON object: added, changed, unchanged, rejected."""
