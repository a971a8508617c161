"""Every one-step change of the contact steps is refused on loading or noticed by a story.

The stories are the tests of this folder that say, day by day, what is next; each number of
`contact.toml` is moved by one unit, each step and each word of a list left out, and each day
counted from the next anchor. All numbers are common practice, no source.
"""

from __future__ import annotations

import copy
import inspect
import re
import tomllib
from collections.abc import Callable, Iterator
from importlib.resources import files
from types import ModuleType
from typing import Any, get_args

import msgspec
import pytest

from recall.protocol.contact import Anchor, ContactProtocol
from tests.loop import (
    tell,
    test_addressee,
    test_reach,
    test_referral,
    test_runs,
    test_stories,
    test_what_holds,
)

RAW: dict[str, Any] = tomllib.loads((files("recall.protocol") / "contact.toml").read_text("utf-8"))
STORIES: tuple[ModuleType, ...] = (
    test_runs,
    test_stories,
    test_what_holds,
    test_referral,
    test_addressee,
    test_reach,
)
UNNOTICED = {"chase.emergency.gp_acted: 1 days"}
"""An emergency is arranged by phone, and nobody waits for a GP to act; the number stands unused."""
_NUMBER = re.compile(r"\d+")


def _places(part: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], Any]]:
    """Yield every value with its path; the words and the sources say nothing by number."""
    for key, value in part.items() if isinstance(part, dict) else enumerate(part):
        if key in ("source", "known_by", "words", "name", "round", "kind"):
            continue
        yield (*path, key), value
        if isinstance(value, dict | list):
            yield from _places(value, (*path, key))


def _changed(path: tuple[Any, ...], value: Any) -> Any:
    """Return the data with the value at a path; None takes it away."""
    made = copy.deepcopy(RAW)
    place = made
    for key in path[:-1]:
        place = place[key]
    if value is None:
        del place[path[-1]]
    else:
        place[path[-1]] = value
    return made


def _values(path: tuple[Any, ...], value: Any) -> Iterator[Any]:
    if isinstance(value, int):
        yield from (value + step for step in (1, -1))
    elif path[-1] == "from":
        known = get_args(Anchor)
        yield known[(known.index(value) + 1) % len(known)]
    elif isinstance(value, str):
        for found in _NUMBER.finditer(value):
            for step in (1, -1) if int(found[0]) else (1,):
                yield f"{int(found[0]) + step}{value[found.end() :]}"
    if path[-2:-1] in (("steps",), ("urgency",)) or path[-1] in ("wait", "not_before"):
        yield None


def _said(path: tuple[Any, ...], value: Any) -> str:
    names = [RAW["run"][p]["name"] if p != path[0] and path[n - 1] == "run" else str(p)
             for n, p in enumerate(path)]  # fmt: skip
    return f"{'.'.join(names)}: {'left out' if value is None else value}"


def changes() -> Iterator[tuple[str, Any]]:
    for path, value in _places(RAW):
        for other in _values(path, value):
            yield _said(path, other), _changed(path, other)


def stories() -> Iterator[Callable[[], None]]:
    for module in STORIES:
        for name, test in inspect.getmembers(module, inspect.isfunction):
            if name.startswith("test_") and not inspect.signature(test).parameters:
                yield test


def _holds(test: Callable[[], None]) -> bool:
    try:
        test()
    except AssertionError:
        return False
    return True


def test_every_one_step_change_of_the_contact_steps_is_noticed(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told, left = list(stories()), set()
    for said, raw in changes():
        try:
            rules = msgspec.convert(raw, ContactProtocol)
        except (msgspec.ValidationError, ValueError):
            continue
        for module in (tell, *STORIES):
            monkeypatch.setattr(module, "RULES", rules, raising=False)
        if all(_holds(test) for test in told):
            left.add(said)
    assert left == UNNOTICED
