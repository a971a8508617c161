"""Check a protocol: what the boxes prove, said in sentences."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import msgspec

from recall.protocol.boxes import answered, holds_wherever, never_matches, never_wins
from recall.protocol.candidates import Compiled
from recall.protocol.lines import Line, read_line
from recall.protocol.loading import Protocol, versions
from recall.protocol.rules import Advise
from recall.protocol.words import FLAGS, MEASURED, NAMES, ORDERS, REPORTS, RISKS, SIGNS_ALONE


class Remark(msgspec.Struct, frozen=True):
    """Something about a protocol that its clinical lead should know."""

    kind: str
    """`unreachable`, `never wins`, `gap`, `unanswered`, `unless` or `left out`."""
    rule: str
    says: str

    @property
    def is_fault(self) -> bool:
        """Return whether it should be mended before the protocol is signed off."""
        return self.kind in ("unreachable", "never wins", "gap", "unanswered")


def check(protocol: Protocol) -> tuple[Remark, ...]:
    """Return all remarks, each once, faults last: above the count, whoever reads on a terminal.

    Loading has refused unknown words and bad windows.
    """
    found = [
        *_unreachable(protocol),
        *_never_winning(protocol),
        *_gaps(protocol),
        *_unanswered(protocol),
        *_exceptions(protocol),
        *_left_out(protocol),
    ]
    return tuple(dict.fromkeys(sorted(found, key=lambda r: r.is_fault)))


def _unreachable(protocol: Protocol) -> Iterator[Remark]:
    for compiled in protocol.matcher.compiled:
        if why := never_matches(compiled):
            yield Remark("unreachable", compiled.rule.id, f"It can never match: {why}.")


def _never_winning(protocol: Protocol) -> Iterator[Remark]:
    for compiled in protocol.matcher.compiled:
        if isinstance(compiled.rule.ask, Advise):
            continue
        if stronger := _stronger(compiled, protocol):
            yield Remark(
                "never wins",
                compiled.rule.id,
                f"Wherever it matches, {stronger} matches too and asks for at least as much.",
            )


def _stronger(compiled: Compiled, protocol: Protocol) -> str:
    mine = protocol.asks[compiled.rule.id, compiled.rule.version]
    for other in protocol.matcher.compiled:
        if other is compiled or not holds_wherever(other, compiled):
            continue
        theirs = protocol.asks[other.rule.id, other.rule.version]
        if not never_wins(mine, theirs):
            continue
        twins = holds_wherever(compiled, other) and never_wins(theirs, mine)
        if twins and compiled.rule.id < other.rule.id:
            continue  # of twins, the second in the alphabet is named
        return other.rule.id
    return ""


def _gaps(protocol: Protocol) -> Iterator[Remark]:
    """Name the days between two versions of a rule on which neither judges a visit."""
    for before, after in pairwise(versions(protocol.rules)):
        if before.id == after.id and before.until is not None and before.until < after.since:
            says = f"No version of it judges visits from {before.until} until {after.since}."
            yield Remark("gap", after.id, says)


def values() -> Iterator[Line]:
    """Yield every abnormal value that can be recorded, as the line that would ask for it."""
    for word, order in ORDERS.items():
        for value in order[1:]:
            yield read_line("-", "ear", word, f"{value} or worse")
    for word in MEASURED:
        yield read_line("-", "ear", word, "200 dB or worse")
    for word, names in NAMES.items():
        for name in names:
            yield read_line("-", "ear", word, [name])
    for word in (*FLAGS, *SIGNS_ALONE):
        yield read_line("-", "ear", word, True)
    for word in RISKS:
        yield read_line("-", "person", "risk", [word])
    for word in REPORTS:
        yield read_line("-", "report", "said", [word])


def _unanswered(protocol: Protocol) -> Iterator[Remark]:
    """Name each value that no rule asks for, blocks on, or leaves out with its reason."""
    found = list(values())
    known = answered(found, protocol.matcher.compiled)
    left_out = {w for row in protocol.file.left_out for w in row.words}
    for line in found:
        name = f"{line.namespace}.{line.word} = {line.wanted[0].removesuffix(' or worse')}"
        if line not in known and name not in left_out:
            yield Remark("unanswered", "", f"No rule answers {name}, and it is not left out.")


def _exceptions(protocol: Protocol) -> Iterator[Remark]:
    for rule in protocol.rules:
        for namespace, words in rule.unless.items():
            for word, value in words.items():
                wanted = " or ".join(value) if isinstance(value, list) else str(value).lower()
                says = f"Recording {namespace}.{word} = {wanted} loosens it: {rule.unless_because}"
                yield Remark("unless", rule.id, says)


def _left_out(protocol: Protocol) -> Iterator[Remark]:
    for row in protocol.file.left_out:
        yield Remark("left out", "", f"{row.what}: {row.because}")
