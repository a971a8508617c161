"""The number of a row, as people type it."""

from __future__ import annotations


def row_number(text: str) -> int | None:
    """Return the number that a text is; nothing where it is none, or larger than rows can have.

    >>> row_number("17"), row_number("#17"), row_number("\u00b2"), row_number("9" * 30)
    (17, None, None, None)
    """
    able = text.isascii() and text.isdecimal() and len(text) <= 18
    return int(text) if able else None
