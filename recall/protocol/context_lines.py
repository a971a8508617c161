"""The context lines of rules, made ready to be tried on an ear at a visit."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import date
from math import inf
from typing import Any

from recall.care.course import Course
from recall.protocol.context import Circumstance, ContextWord, context_word, start_of
from recall.protocol.lines import Line
from recall.protocol.spans import Range, read_range

Test = Callable[[Circumstance], bool]
_EMPTY = Circumstance(date.min, 0, Course(), Course(), {}, None)


def context_tests(lines: Iterable[Line]) -> tuple[tuple[Test, ...], dict[int, str]]:
    """Return the test of each context line by its place, and the gates of them.

    The gate of a line is what must be there of a circumstance for the line to hold at all: one
    look at it rules out every line that is behind it.
    """
    tests: list[Test] = []
    gates: dict[int, str] = {}
    for place, line in enumerate(lines):
        word, wanted = read_context(line)
        tests.append(_test(word, wanted))
        # a level of 0 dB is there, and is looked at like one that is not
        if word.gate and not tests[place](_EMPTY) and (word.clock or not wanted.holds(0)):
            gates[place] = word.gate
    return tuple(tests), gates


def read_context(line: Line) -> tuple[ContextWord, Range]:
    """Return the word of a context line, and the range that it asks for."""
    word = context_word(line.namespace, line.word)
    assert word is not None
    return word, read_range(line.wanted[0])


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
