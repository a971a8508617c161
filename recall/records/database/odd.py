"""A row whose values cannot be read, and how that is said."""

from __future__ import annotations

import msgspec

from recall.errors import StorageError

ODD_VALUES = (ValueError, TypeError, msgspec.MsgspecError)
"""What is raised for a value that is no day, no list or no findings."""


class Unreadable(StorageError):
    """Somebody's row cannot be read; who they are is known by now, and they are left out."""
