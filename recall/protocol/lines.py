"""One line of a rule's condition: read as it was written, and checked against the words."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import msgspec

from recall.errors import ProtocolError
from recall.protocol.spans import read_range
from recall.protocol.words import MEASURED, NAMES, ORDERS, REPORTS, RISKS, SPOKEN, kind_of

_OR_WORSE = " or worse"


class Line(msgspec.Struct, frozen=True):
    """One line of a condition as it was written."""

    namespace: str
    word: str
    kind: str
    wanted: tuple[str, ...]
    """Scale: the mildest value that counts. Flags and names: any of these. Range: its text."""
    low: float | None = None
    """Scale: the place or the dB from which it counts."""

    def __str__(self) -> str:
        wanted = " or ".join(self.wanted)
        return f"{self.namespace}.{self.word} = {wanted}"


def _wanted(value: Any, where: str) -> tuple[str, ...]:
    if isinstance(value, bool):
        return ("true",) if value else refuse(where, "only `true` can be asked for")
    if isinstance(value, list):
        return tuple(str(v) for v in value)
    return (str(value),)


def refuse(where: str, why: str) -> Any:
    """Refuse a rule, saying where and why."""
    raise ProtocolError(f"{where}: {why}.", hint="Run `recall protocol check` after mending it.")


def read_line(rule_id: str, namespace: str, word: str, value: Any) -> Line:
    """Return a condition line, checked against the declared words."""
    where = f"Rule {rule_id}, {namespace}.{word}"
    kind = kind_of(namespace, word)
    if kind is None:
        refuse(where, "there is no such word")
    wanted = _wanted(value, where)
    if kind == "scale":
        return Line(namespace, word, "scale", wanted, _scale_low(where, word, wanted))
    if kind == "range":
        read_range(wanted[0])
        return Line(namespace, word, "range", wanted)
    if (namespace, word) in SPOKEN:
        known: Iterable[str] = RISKS if namespace == "person" else REPORTS
    else:
        known = NAMES.get(word, ("true",))
    unknown = [w for w in wanted if w not in known]
    if unknown:
        refuse(where, f"{unknown[0]!r} is not one of {', '.join(known)}")
    return Line(namespace, word, str(kind), wanted)


def _scale_low(where: str, word: str, wanted: tuple[str, ...]) -> float:
    text = wanted[0]
    if len(wanted) != 1:
        refuse(where, "a scale takes one value, the mildest that counts")
    if word in MEASURED:
        found = read_range(text)
        if found.unit != "dB" or found.low is None or found.high is not None:
            refuse(where, 'write it like "25 dB or worse"')
        return float(found.low or 0)
    order = ORDERS[word]
    value = text.removesuffix(_OR_WORSE)
    if value not in order:
        refuse(where, f"{value!r} is not one of {', '.join(order)}")
    place = order.index(value)
    if place == 0:
        refuse(where, "nothing can be conditioned on the normal value")
    if place < len(order) - 1 and not text.endswith(_OR_WORSE):
        refuse(where, f'a scale can only say "or worse": write "{value} or worse"')
    return place
