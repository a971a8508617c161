"""The context lines of rules, made ready to be tried on an ear at a visit."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from math import inf
from typing import Any

from recall.protocol.context import Circumstance, ContextWord, context_word, start_of
from recall.protocol.lines import Line
from recall.protocol.spans import Range, read_range

Test = Callable[[Circumstance], bool]


def context_tests(lines: Iterable[Line]) -> tuple[tuple[Test, ...], dict[int, int]]:
    """Return the test of each context line by its place, and the gates of them.

    The gate of a line that counts from something is the place of a test whether that has happened
    at all: one look at it rules out every line that counts from it.
    """
    lines = tuple(lines)
    tests = [_test(*read_context(line)) for line in lines]
    by_word: dict[str, int] = {}
    gates: dict[int, int] = {}
    for place, line in enumerate(lines):
        word, wanted = read_context(line)
        start = start_of(word)
        if start is None or wanted.never:
            continue
        if line.word not in by_word:
            by_word[line.word] = len(tests)
            tests.append(_happened(start))
        gates[place] = by_word[line.word]
    return tuple(tests), gates


def read_context(line: Line) -> tuple[ContextWord, Range]:
    """Return the word of a context line, and the range that it asks for."""
    word = context_word(line.namespace, line.word)
    assert word is not None
    return word, read_range(line.wanted[0])


def _happened(start: Callable[[Circumstance], date | None]) -> Test:
    return lambda c: start(c) is not None


def _test(word: ContextWord, wanted: Range) -> Test:
    """Return the test of one context line, made for its kind: it runs for every ear."""
    get, start, never, holds = word.get, start_of(word), wanted.never, wanted.holds_between
    low = -inf if wanted.low is None else wanted.low
    high = inf if wanted.high is None else wanted.high

    def on_number(c: Circumstance) -> bool:
        value: Any = get(c)
        return never if value is None else low <= value < high

    def on_days(c: Circumstance) -> bool:
        value: Any = get(c)
        return never if value is None else low <= (value[1] - value[0]).days < high

    def on_calendar(c: Circumstance) -> bool:
        value: Any = get(c)
        return never if value is None else holds(*value)

    def since(c: Circumstance) -> bool:
        assert start is not None
        begun = start(c)
        return never if begun is None else low <= (c.on - begun).days < high

    if not word.clock:
        return on_number
    if wanted.unit != "days":
        return on_calendar
    return since if start else on_days
