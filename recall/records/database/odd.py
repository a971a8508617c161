"""A row whose values cannot be read, and how that is said."""

from __future__ import annotations

from dataclasses import dataclass

import msgspec

from recall.errors import StorageError

ODD_VALUES = (ValueError, TypeError, KeyError, msgspec.MsgspecError)
"""What is raised for a value that is no day, no list, no word that we know or no findings."""
_SAID_OF_A_VALUE = ("Could not decode to UTF-8", "malformed JSON")
"""What the database says of a value that it was to take apart itself."""


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
    said = str(getattr(error, "orig", ""))
    return isinstance(error, ODD_VALUES) or any(each in said for each in _SAID_OF_A_VALUE)
