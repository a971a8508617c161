"""The days from which a register's own rules count: that of adoption, for what is new in a file.

The file that comes with the program is older than the day on which a practice adopts it. What is
new in it judges visits from the day of adoption on; what was adopted before keeps its own days.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

import msgspec

from recall.protocol.loading import Protocol
from recall.protocol.rules import ProtocolFile, Rule


def from_adoption(adopted: Protocol, new: Protocol, on: date) -> Protocol:
    """Return a protocol as a register that adopted another one takes it up on a day.

    A day ahead stays as it is written. A version that the file has ended already, and that was
    never adopted, is left out: it judged no visit here, and never will.
    """
    was = {(r.id, r.version): r for r in adopted.file.rule}
    dated = (_dated(was.get((r.id, r.version)), r, on) for r in new.file.rule)
    rules = tuple(r for r in dated if r.until is None or r.until > r.since)
    sections = dict(_sections(adopted.file, new.file, on))
    file = msgspec.structs.replace(new.file, rule=rules, **sections)
    whole = Protocol(file, new.written, new.digest, new.signed_off)
    return whole.used_like(new)


def _dated(was: Rule | None, rule: Rule, on: date) -> Rule:
    since = max(rule.since, was.since) if was is not None else max(rule.since, on)
    until = rule.until
    if until is not None and until < on:
        until = was.until if was is not None and _is_over(was, on) else on
    return msgspec.structs.replace(rule, since=since, until=until)


def _is_over(rule: Rule, on: date) -> bool:
    return rule.until is not None and rule.until < on


def _sections(was: ProtocolFile, new: ProtocolFile, on: date) -> Iterator[tuple[str, object]]:
    """Yield what has a first day beside the rules, with the day from which it counts here."""
    for name in ("restrained_from", "gives_way_from", "one_place_from", "sure_from"):
        if (since := getattr(new, name)) is not None:
            yield name, max(since, getattr(was, name) or on)
    if new.untested is not None:
        first = max(new.untested.since, was.untested.since if was.untested else on)
        yield "untested", msgspec.structs.replace(new.untested, since=first)
