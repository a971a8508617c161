"""What changed from one protocol to another, in words; and what must not change in place."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from typing import Any

import msgspec

from recall.protocol.loading import Protocol
from recall.protocol.own_days import READINGS
from recall.protocol.rules import ProtocolFile, Rule

_WORDS = {
    "when": "its conditions",
    "unless": "what blocks it",
    "ask": "what it asks",
    "says": "what it says to the practitioner",
    "says_aloud": "what reception says",
    "since": "its first day",
    "until": "its last day",
}


def compare(old: Protocol, new: Protocol) -> tuple[str, ...]:
    """Return every difference between two protocols as a sentence, in the order of the file."""
    before, after = _by_identity(old.file), _by_identity(new.file)
    said = [f"{_name(r)} is new: {r.says}" for key, r in after.items() if key not in before]
    said += [f"{_name(r)} is gone: {r.says}" for key, r in before.items() if key not in after]
    for key, rule in after.items():
        if key in before:
            said += _changes(before[key], rule)
    return (*said, *_beside(old, new))


def _by_identity(file: ProtocolFile) -> dict[tuple[str, int], Rule]:
    return {(r.id, r.version): r for r in file.rule}


def _name(rule: Rule) -> str:
    return f"Rule {rule.id} (version {rule.version})"


def _changes(before: Rule, after: Rule) -> Iterator[str]:
    for name in Rule.__struct_fields__:
        was, is_now = getattr(before, name), getattr(after, name)
        if was == is_now:
            continue
        what = _WORDS.get(name, name.replace("_", " "))
        yield f"{_name(after)} changes {what}: from {say(was)} to {say(is_now)}."


def say(value: Any) -> str:
    """Return a value of a protocol in words.

    >>> say({"ear": {"tensa_grade": "2 or worse"}})
    'ear tensa grade 2 or worse'
    """
    if isinstance(value, msgspec.Struct):
        value = {
            name: part
            for name in value.__struct_fields__
            if (part := getattr(value, name)) not in (None, (), "")
        }
    if isinstance(value, dict):
        inner = [f"{key} {say(part)}" for key, part in value.items()]
        return ", ".join(inner).replace("_", " ") or "nothing"
    if isinstance(value, list | tuple):
        return " or ".join(say(part) for part in value) or "nothing"
    if value is None or value == "":
        return "nothing"
    return str(value).replace("_", " ") if not isinstance(value, bool) else "recorded"


SECTIONS = (
    *("name", "version", "now_latest", *READINGS),
    *("retry", "loop", "untested", "stages", "category"),
)
"""What stands beside the rules, as the file names it."""


def _beside(old: Protocol, new: Protocol) -> Iterator[str]:
    """Yield what changed beside the rules."""
    for name in SECTIONS:
        was, is_now = getattr(old.file, name), getattr(new.file, name)
        if was != is_now:
            yield f"[{name}] changes: from {say(was)} to {say(is_now)}."
    if old.written != new.written:
        yield "The contact steps change."


def edited_in_place(adopted: Protocol, new: Protocol) -> tuple[str, ...]:
    """Return what would change dues already asked: a rule with its version must stay as it is.

    Only its last day may be set, since a visit before that day is judged as before.
    """
    before = _by_identity(adopted.file)
    after = _by_identity(new.file)
    found = []
    for key, rule in before.items():
        now = after.get(key)
        if now is None:
            found.append(f"{_name(rule)} is gone; give it a last day (`until`) instead.")
        elif msgspec.structs.replace(now, until=rule.until) != rule:
            found.append(f"{_name(rule)} was changed; add it as a new version instead.")
    return tuple(found)


_FREE = ("name", "version", "rule", "left_out")
"""What dates nothing, and the rules, which have their versions."""


def sections_changed(adopted: Protocol, new: Protocol, on: date) -> tuple[str, ...]:
    """Return the sections beside the rules that would move what already stands.

    They have no versions: a changed one would be read for every visit at the next planning. One
    that has a first day may come newly, from the day of adoption on.
    """
    found = []
    for name in (n for n in ProtocolFile.__struct_fields__ if n not in _FREE):
        was, is_now = getattr(adopted.file, name), getattr(new.file, name)
        since = is_now if isinstance(is_now, date) else getattr(is_now, "since", None)
        if was == is_now or (was is None and since is not None and since >= on):
            continue
        if was is None and since is not None:
            found.append(f"[{name}] starts on {since}, before today; set its day to {on} or later.")
        else:
            found.append(
                f"[{name}] cannot change for what already stands; write it as it was adopted."
            )
    return tuple(found)


def ends_before(adopted: Protocol, new: Protocol, on: date) -> tuple[str, ...]:
    """Return the rules whose last day would change what judges visits before the adoption."""
    after = _by_identity(new.file)
    changed = [
        (rule, after[key])
        for key, rule in _by_identity(adopted.file).items()
        if key in after and after[key].until != rule.until
    ]
    return tuple(
        f"{_name(now)} judges visits before today otherwise; set `until` to {on} or later."
        for was, now in changed
        if any(day is not None and day < on for day in (was.until, now.until))
    )


def in_hindsight(protocol: Protocol) -> Protocol:
    """Return a protocol whose newest rules and readings judge every visit, however old."""
    newest: dict[str, Rule] = {}
    for rule in protocol.file.rule:
        known = newest.get(rule.id)
        if known is None or rule.version > known.version:
            newest[rule.id] = rule
    rules = tuple(
        msgspec.structs.replace(r, since=date.min) for r in newest.values() if r.until is None
    )
    file, untested = protocol.file, protocol.file.untested
    file = msgspec.structs.replace(
        file,
        rule=rules,
        untested=untested and msgspec.structs.replace(untested, since=date.min),
        **{name: getattr(file, name) and date.min for name in READINGS},
    )
    whole = Protocol(file, protocol.written, protocol.digest, protocol.signed_off)
    return whole.used_like(protocol)
