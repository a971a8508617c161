"""Every one-step change of a rule: what a slip of an editor, or a hasty update, could make of it.

A change is a name and the rule as it would then be written. Numbers move by one unit, scales by
one step, lists lose one item, conditions lose one line; marks, tracks, categories and services
become another one.
"""

from __future__ import annotations

import copy
import re
from collections.abc import Iterator
from typing import Any, get_args

from recall.care.case import URGENCIES, Category, To, Track
from recall.protocol.words import ORDERS

Raw = dict[str, Any]
Change = tuple[str, Raw]
SPANS = ("earliest", "target", "latest", "sent", "accepted", "seen", "result")
_NUMBER = re.compile(r"\d+")


def _with(raw: Raw, path: tuple[str, ...], value: Any) -> Raw:
    """Return a copy with the value at a path; None takes it away."""
    made = copy.deepcopy(raw)
    place = made
    for key in path[:-1]:
        place = place[key]
    if value is None:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return made


def moved_numbers(text: str) -> Iterator[str]:
    """Yield a text with each number in it one more, and one less where it may be."""
    for found in _NUMBER.finditer(text):
        for step in (1, -1):
            if int(found[0]) + step >= 0:
                yield text[: found.start()] + str(int(found[0]) + step) + text[found.end() :]


def _neighbours(word: str, text: str) -> Iterator[str]:
    """Yield the milder and the worse neighbour of a value of a scale."""
    order, place = ORDERS[word], ORDERS[word].index(text.removesuffix(" or worse"))
    for near in (place - 1, place + 1):
        if 0 < near < len(order):
            yield order[near] + (" or worse" if near < len(order) - 1 else "")


def _other(value: str, known: tuple[str, ...]) -> str:
    """Return the next one of the known values."""
    return known[(known.index(value) + 1) % len(known)]


def _values(raw: Raw, path: tuple[str, ...], value: Any) -> Iterator[Change]:
    """Yield the changes of what one line of a condition asks for."""
    where = ".".join(path)
    if isinstance(value, list) and len(value) > 1:
        for item in value:
            yield f"{where} without {item}", _with(raw, path, [v for v in value if v != item])
    if not isinstance(value, str):
        return
    moved = _neighbours if path[-1] in ORDERS else lambda _, text: moved_numbers(text)
    for text in moved(path[-1], value):
        yield f"{where} {text}", _with(raw, path, text)
    if value.endswith(" or never"):
        text = value.removesuffix(" or never")
        yield f"{where} {text}", _with(raw, path, text)


def _conditions(raw: Raw) -> Iterator[Change]:
    for part in ("when", "unless"):
        for namespace, words in raw.get(part, {}).items():
            for word, value in words.items():
                path = (part, namespace, word)
                yield f"without {'.'.join(path)}", _with(raw, path, None)
                yield from _values(raw, path, value)
    if raw.get("unless"):
        yield "without unless", {**raw, "unless": {}, "unless_because": ""}


def _spans(raw: Raw, path: tuple[str, ...], names: tuple[str, ...] = SPANS) -> Iterator[Change]:
    """Yield each length of time one unit longer and shorter."""
    place = raw
    for key in path:
        place = place[key]
    for name in names:
        for text in moved_numbers(place[name]) if name in place else ():
            yield f"{'.'.join(path)}.{name} {text}", _with(raw, (*path, name), text)


def _asking(raw: Raw) -> Iterator[Change]:
    ask = raw["ask"]
    yield from _spans(raw, ("ask",))
    if "never" in ask:
        yield "without never", _with(raw, ("ask", "never"), None)
        yield from _spans(raw, ("ask", "never"))
    if "cycle" in ask:
        yield "without cycle", _with(raw, ("ask", "cycle"), None)
        yield from _spans(raw, ("ask", "cycle"), ("no_sooner", "no_later"))
        share = ask["cycle"]["quantile"]
        for other in (round(share - 0.05, 2), round(share + 0.05, 2)):
            yield f"ask.cycle.quantile {other}", _with(raw, ("ask", "cycle", "quantile"), other)
    if ask.get("from", "visit") != "visit":
        yield "from visit", _with(raw, ("ask", "from"), "visit")
    for label, made in _lists(ask, ("do", "needs")):
        yield label, {**raw, "ask": made}
    if "to" in ask:
        yield "to another service", _with(raw, ("ask", "to"), _other(ask["to"], get_args(To)))
    for name in ("sent", "accepted", "seen", "result", "alone", "in_emergency"):
        if name in ask:
            yield f"without {name}", _with(raw, ("ask", name), None)


def _marks(raw: Raw) -> Iterator[Change]:
    mark = {"R": "CP"}.get(raw["known_by"], "R")
    yield f"known_by {mark}", {**raw, "known_by": mark}
    by_age = raw.get("known_by_age", [])
    for place, row in enumerate(by_age):
        yield f"without known_by_age {row['age']}", _with(raw, ("known_by_age",), None)
        for text in moved_numbers(row["age"]):
            rows = [*by_age[:place], {**row, "age": text}, *by_age[place + 1 :]]
            yield f"known_by_age {text}", {**raw, "known_by_age": rows}


def changes(raw: Raw) -> Iterator[Change]:
    """Yield every one-step change of one rule, as its file would then say it."""
    yield from _conditions(raw)
    yield from _asking(raw)
    yield from _marks(raw)
    yield from _belongs(raw)
    yield "another category", {**raw, "category": _other(raw["category"], get_args(Category))}


def _lists(raw: Raw, names: tuple[str, ...]) -> Iterator[Change]:
    """Yield lists with one item left out."""
    for name in names:
        for item in raw.get(name, ()):
            yield f"{name} without {item}", {**raw, name: [v for v in raw[name] if v != item]}


def _belongs(raw: Raw) -> Iterator[Change]:
    """Yield another track, and the urgencies beside its own."""
    yield "another track", {**raw, "track": _other(raw["track"], get_args(Track))}
    if "urgency" in raw:
        for step in (1, -1):
            place = URGENCIES.index(raw["urgency"]) + step
            if 0 <= place < len(URGENCIES):
                yield f"urgency {URGENCIES[place]}", {**raw, "urgency": URGENCIES[place]}


def section_changes(raw: Raw) -> Iterator[Change]:
    """Yield every one-step change of the sections beside the rules, as the file would then be."""
    for text in moved_numbers(raw["now_latest"]):
        yield f"now_latest {text}", {**raw, "now_latest": text}
    yield from _spans(raw, ("loop", "window"))
    for age in ("adult", "child"):
        yield from _spans(raw, ("retry", age))
    for urgency in raw["stages"]:
        yield from _spans(raw, ("stages", urgency))
    for section in ("loop", "retry"):
        for label, made in _marks(raw[section]):
            yield f"{section} {label}", {**raw, section: made}
    for label, made in _lists(raw["untested"], ("by",)):
        yield f"untested {label}", {**raw, "untested": made}
    for category, default in raw["category"].items():
        for label, made in _category(default):
            yield f"{category} {label}", _with(raw, ("category", category), made)
        yield f"without {category}", _with(raw, ("category", category), None)


def _category(raw: Raw) -> Iterator[Change]:
    for age in ("adult", "child"):
        yield from _spans(raw, (age,))
    yield from _lists(raw, ("do",))
    yield from _marks(raw)
    yield from _belongs(raw)
