"""A row whose values cannot be read, and how that is said."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import msgspec
from sqlalchemy import ColumnElement
from sqlalchemy.exc import DBAPIError
from sqlalchemy.orm import InstrumentedAttribute, Session

from recall.errors import StorageError

ODD_VALUES = (ValueError, TypeError, KeyError, msgspec.MsgspecError)
"""What is raised for a value that is no day, no list, no word that we know or no findings."""
_NO_TEXT = "Could not decode to UTF-8"
_ASIDE = "aside"


class Unreadable(StorageError):
    """Somebody's row cannot be read; who they are is known by now, and they are left out."""


@dataclass(frozen=True)
class OddRow:
    """A row that cannot be read, of somebody who is left out for it."""

    reference: str
    table: str
    number: int

    def __str__(self) -> str:
        """Return whose row it is, and which."""
        return f"{self.reference}: row {self.number} of {self.table}"


def is_odd(error: Exception) -> bool:
    """Return whether an error may come of a row whose values cannot be read."""
    if isinstance(error, DBAPIError):
        return _NO_TEXT in str(error.orig)
    return isinstance(error, ODD_VALUES)


def note_aside(session: Session, people: Collection[int]) -> None:
    """Let a session that writes know whose rows it must not read."""
    session.info[_ASIDE] = sorted(people)


def readable(
    session: Session, person: InstrumentedAttribute[int] | InstrumentedAttribute[int | None]
) -> tuple[ColumnElement[bool], ...]:
    """Return the condition that a person, by the column of their number, is not left out."""
    aside = session.info.get(_ASIDE)
    return (person.not_in(aside),) if aside else ()
