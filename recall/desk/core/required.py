"""Words that somebody has to give, such as the reason for what they do."""

from __future__ import annotations

from recall.errors import InputError


def required(text: str, says: str, *, hint: str = "") -> None:
    """Refuse nothing but blanks, saying what is missing."""
    if not text.strip():
        raise InputError(says, hint=hint)
