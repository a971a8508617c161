"""Protocols of a few rules made for one test."""

from __future__ import annotations

from datetime import date
from typing import Any

from msgspec import convert
from msgspec.structs import replace

from recall.protocol.loading import Protocol, load
from recall.protocol.rules import Rule


def protocol_of(*rules: dict[str, Any]) -> Protocol:
    """Return the protocol with these rules only."""
    more = {"version": 1, "since": date(2020, 1, 1), "says": "-", "says_aloud": "-"}
    known = {"source": "common practice", "known_by": "CP", "category": "fluid_recheck"}
    made = tuple(convert({**more, **known, **rule}, Rule) for rule in rules)
    whole = load()
    return Protocol(replace(whole.file, rule=made), whole.contact, "-", False)


def asks(earliest: str, target: str, latest: str, *do: str) -> dict[str, Any]:
    """Return what a rule asks in a window."""
    window = {"earliest": earliest, "target": target, "latest": latest}
    return {"kind": "recheck", "do": do, **window}
