"""A protocol as it was before any of its rules changed, and one in which a rule then changes."""

from __future__ import annotations

from datetime import date
from typing import Any

from msgspec.structs import replace

from recall.protocol.loading import Protocol, load
from recall.protocol.rules import Recheck, Rule


def at_first() -> Protocol:
    """Return the shipped protocol with each rule's first version alone, for good.

    A test of what a new version does stands on this: it must not fail when one ships.
    """
    return with_rules(*(replace(r, until=None) for r in load().rules if r.version == 1))


def with_rules(*rules: Rule) -> Protocol:
    """Return the shipped protocol with other rules."""
    whole = load()
    return Protocol(replace(whole.file, rule=rules), whole.contact, "another", False)


def first(name: str) -> Rule:
    """Return a rule as it was at first."""
    return next(r for r in at_first().rules if r.id == name)


def next_version(old: Rule, since: date, **window: Any) -> Rule:
    """Return a rule's next version, with a changed window from a day on."""
    assert isinstance(old.ask, Recheck)
    return replace(old, version=old.version + 1, since=since, ask=replace(old.ask, **window))
