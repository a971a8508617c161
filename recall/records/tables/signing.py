"""Tables of signing in: passwords, accounts of the operating system, sessions, who looked."""

from datetime import datetime

from sqlalchemy import Index, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from recall.records.tables.base import Base, key, link


class StaffPassword(Base):
    """How somebody proves who they are, and how often that failed in a row; one row each."""

    __tablename__ = "staff_password"

    staff_id: Mapped[int] = link("staff", primary_key=True)
    hash: Mapped[str | None]
    """None until a first password is set."""
    set_at: Mapped[datetime | None]
    set_by_id: Mapped[int | None] = link("staff")
    """Who gave the code with which it was set; they themselves where they changed it."""
    tries: Mapped[int] = mapped_column(default=0)
    """Wrong ones in a row."""
    wait_until: Mapped[datetime | None]
    """Nothing is tried before; it outlives the program."""
    asked_at: Mapped[datetime | None]
    asked_by_id: Mapped[int | None] = link("staff")
    """Who first asked for a code, where a second has to agree."""
    code_digest: Mapped[str | None]
    """Of a code that sets a new password, once."""
    code_until: Mapped[datetime | None]
    code_by_id: Mapped[int | None] = link("staff")


class StaffAccount(Base):
    """The account of the operating system that is somebody's, or the jobs'."""

    __tablename__ = "staff_account"

    staff_id: Mapped[int] = link("staff", primary_key=True)
    account: Mapped[str]
    bound_at: Mapped[datetime]
    bound_by_id: Mapped[int] = link("staff")


class SignedIn(Base):
    """One session of the plain commands; only a digest of its token is kept."""

    __tablename__ = "signed_in"
    __table_args__ = (UniqueConstraint("token_digest"),)

    id: Mapped[int] = key()
    staff_id: Mapped[int] = link("staff")
    token_digest: Mapped[str]
    began_at: Mapped[datetime]
    seen_at: Mapped[datetime]
    ended_at: Mapped[datetime | None]


class Looked(Base):
    """Somebody opened the record of a person."""

    __tablename__ = "looked"
    __table_args__ = (Index(None, "person_id", "at"),)

    id: Mapped[int] = key()
    at: Mapped[datetime]
    by_id: Mapped[int] = link("staff")
    person_id: Mapped[int] = link("person")
    place: Mapped[str]
    """Screen, command or job."""
