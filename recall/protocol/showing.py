"""A protocol as a readable table: what asks for what, in how long, why, and how it is known."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from recall.care.services import SERVICES
from recall.protocol.comparing import say
from recall.protocol.loading import Protocol, short_digest
from recall.protocol.rules import Recheck, Refer, Rule

NO_INTERVAL = "practice protocol, no published interval"
_KNOWN = {
    "CP": NO_INTERVAL,
    "R": "read in the source",
    "R2": "as quoted by others",
    "C": "computed",
}


def say_known(known_by: str) -> str:
    """Return how a rule is known, as the reader sees it.

    >>> say_known("CP"), say_known("M-lo")
    ('practice protocol, no published interval', 'from memory, to be checked')
    """
    return _KNOWN.get(known_by, "from memory, to be checked")


@dataclass(frozen=True)
class RuleRow:
    """One rule as a row: for a person to read, for a spreadsheet, for another program."""

    rule: str
    version: int
    since: str
    until: str
    track: str
    category: str
    when: str
    unless: str
    asks: str
    urgency: str
    says: str
    says_aloud: str
    source: str
    known: str


def rows(protocol: Protocol) -> tuple[RuleRow, ...]:
    """Return every rule as a row, in the protocol's order."""
    return tuple(_row(rule) for rule in protocol.rules)


def _row(rule: Rule) -> RuleRow:
    unless = f"{_conditions(rule.unless)} ({rule.unless_because})" if rule.unless else ""
    known = say_known(rule.known_by)
    for ages in rule.known_by_age:
        known += f"; at {ages.age}: {say_known(ages.known_by)}"
    return RuleRow(
        rule=rule.id,
        version=rule.version,
        since=str(rule.since),
        until=str(rule.until or ""),
        track=rule.track.replace("_", " "),
        category=rule.category.replace("_", " "),
        when=_conditions(rule.when),
        unless=unless,
        asks=say_ask(rule),
        urgency=rule.urgency or "",
        says=rule.says,
        says_aloud=rule.says_aloud,
        source=rule.source,
        known=known,
    )


def _conditions(lines: dict[str, dict[str, object]]) -> str:
    said = []
    for namespace, words in lines.items():
        where = "other ear: " if namespace == "other" else ""
        said += [f"{where}{word.replace('_', ' ')} {say(value)}" for word, value in words.items()]
    return "; ".join(said)


def say_ask(rule: Rule) -> str:
    """Return what a rule asks in one line."""
    ask = rule.ask
    if isinstance(ask, Recheck):
        done = ", ".join(d.replace("_", " ") for d in ask.do)
        since = f" from {ask.anchor.replace('_', ' ')}" if ask.anchor != "visit" else ""
        said = f"{done}: {ask.target} ({ask.earliest} to {ask.latest}){since}"
        if ask.never is not None:
            never = ask.never
            said += f"; never yet: {never.target} ({never.earliest} to {never.latest})"
        if ask.cycle is not None:
            said += f"; then the person's own cycle, {ask.cycle.no_sooner} to {ask.cycle.no_later}"
        return said
    if isinstance(ask, Refer):
        stages = [(n, getattr(ask, n)) for n in ("sent", "accepted", "seen", "result")]
        own = ", ".join(f"{n} in {span}" for n, span in stages if span)
        return f"refer to {SERVICES[ask.to].short}" + (f": {own}" if own else "")
    if ask.in_emergency:
        return "tell the person, beside an emergency of that ear"
    return "tell the person" + (", where nothing else is asked" if ask.alone else "")


def text(protocol: Protocol, width: int = 80) -> Iterator[str]:
    """Yield the protocol line by line for a terminal, no wider than `width`."""
    signed = "signed off" if protocol.signed_off else "NOT signed off by this practice"
    yield f"Protocol {protocol.name} {protocol.version}: {len(protocol.rules)} rules, {signed}."
    yield f"Content {short_digest(protocol.digest)}"
    track = ""
    for row in rows(protocol):
        if row.track != track:
            track = row.track
            yield from ("", track.upper())
        yield from _lines_of(row, width)


def _lines_of(row: RuleRow, width: int) -> Iterator[str]:
    from textwrap import wrap

    yield ""
    days = "".join(
        f", {name} {day}" for name, day in (("from", row.since), ("until", row.until)) if day
    )
    told = days if row.until or row.version > 1 else ""
    head = f"{row.rule} (version {row.version}{told}) {row.urgency}".rstrip()
    yield from wrap(head, width, initial_indent="  ", subsequent_indent="    ")
    parts = (
        ("when", row.when),
        ("unless", row.unless),
        ("asks", row.asks),
        ("says", row.says),
        ("aloud", row.says_aloud),
        ("source", f"{row.source} [{row.known}]"),
    )
    for name, value in parts:
        if value:
            hang = " " * 13
            yield from wrap(f"    {name:<9}{value}", width, subsequent_indent=hang)
