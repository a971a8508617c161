"""The days from which a register's own rules count: that of adoption, for what is new in a file.

The file that comes with the program is older than the day on which a practice adopts it. What is
new in it judges visits from the day of adoption on; what was adopted before keeps its own days.
Before the first adoption a practice had none of these rules: what is in force on that day judges
whatever lies before it, and versions that had ended by then judge nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

import msgspec

from recall.protocol.loading import Protocol
from recall.protocol.rules import ProtocolFile, Rule

SOON = timedelta(days=7)
READINGS = (
    *("restrained_from", "gives_way_from", "one_place_from", "sure_from"),
    "own_place_from",
)
"""What of a file counts from a day, and is no rule."""


def taken_up_first(new: Protocol, on: date) -> Protocol:
    """Return a protocol as a register takes it up that never had one, on a day.

    What begins within a week counts at once, in place of what would end with that: nobody plans
    a practice's years by rules that are about to go. A day further ahead stays as it is written.
    """
    on += SOON
    first = min((r.since for r in new.file.rule), default=on)
    rules = tuple(
        msgspec.structs.replace(r, since=first) if r.since <= on else r
        for r in new.file.rule
        if r.until is None or r.until > on
    )
    sections = dict(_from_the_first(new.file, on, first))
    if rules == new.file.rule and not sections:
        return new
    file = msgspec.structs.replace(new.file, rule=rules, **sections)
    return Protocol(file, new.written, new.digest, new.signed_off).used_like(new)


def _from_the_first(file: ProtocolFile, on: date, first: date) -> Iterator[tuple[str, object]]:
    """Yield what has a first day beside the rules, where that day has come."""
    for name in READINGS:
        if (since := getattr(file, name)) is not None and since <= on:
            yield name, first
    if file.untested is not None and file.untested.since <= on:
        yield "untested", msgspec.structs.replace(file.untested, since=first)


def from_adoption(adopted: Protocol, new: Protocol, on: date) -> Protocol:
    """Return a protocol as a register that adopted another one takes it up on a day.

    A day ahead stays as it is written. A version that the file has ended already, or that a later
    one took the place of at the first adoption, and that was never adopted, is left out: it judged
    no visit here, and never will.
    """
    was = {(r.id, r.version): r for r in adopted.file.rule}
    begun = {r.id: r.version for r in adopted.file.rule if r.since <= on}
    dated = (
        _dated(was.get((r.id, r.version)), r, on)
        for r in new.file.rule
        if (r.id, r.version) in was or r.version > begun.get(r.id, 0)
    )
    rules = tuple(r for r in dated if r.until is None or r.until > r.since)
    sections = dict(_sections(adopted.file, new.file, on))
    file = msgspec.structs.replace(new.file, rule=rules, **sections)
    whole = Protocol(file, new.written, new.digest, new.signed_off)
    return whole.used_like(new)


def _dated(was: Rule | None, rule: Rule, on: date) -> Rule:
    since = _first_day(rule.since, was.since if was else None, on)
    until = rule.until
    if until is not None and until < on:
        until = was.until if was is not None and _is_over(was, on) else on
    return msgspec.structs.replace(rule, since=since, until=until)


def _first_day(written: date, was: date | None, on: date) -> date:
    """Return from which day something counts: what has begun here keeps the day it began."""
    if was is not None and was <= on:
        return was
    return max(written, was or on)


def _is_over(rule: Rule, on: date) -> bool:
    return rule.until is not None and rule.until < on


def _sections(was: ProtocolFile, new: ProtocolFile, on: date) -> Iterator[tuple[str, object]]:
    """Yield what has a first day beside the rules, with the day from which it counts here."""
    for name in READINGS:
        if (since := getattr(new, name)) is not None:
            yield name, _first_day(since, getattr(was, name), on)
    if new.untested is not None:
        first = _first_day(new.untested.since, was.untested.since if was.untested else None, on)
        yield "untested", msgspec.structs.replace(new.untested, since=first)
