"""A decoded value of a file in words, as it was understood."""

from __future__ import annotations

from typing import Any

from msgspec import UNSET

from recall.care.measured import Tympanogram
from recall.exchange.identifiers import Identifier
from recall.exchange.phone_cells import PhoneCell


def in_words(value: Any) -> str:
    """Return a decoded value in words."""
    if isinstance(value, Identifier | PhoneCell):
        return value.raw
    if isinstance(value, Tympanogram):
        return _trace(value)
    if isinstance(value, tuple):
        return "; ".join(map(in_words, value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    return str(getattr(value, "what", value))


def _trace(trace: Tympanogram) -> str:
    """Return a trace as a file writes it."""
    first = "flat" if trace.flat else trace.type or f"{trace.peak_daPa:g}"
    numbers = (n for n in (trace.compliance_ml, trace.volume_ml) if n is not UNSET)
    return "/".join([first, *(f"{n:g}" for n in numbers)])
