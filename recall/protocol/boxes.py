"""What can be proved of rules because each is a box: one range or list a line, all ANDed.

A box lies inside another when each line of the other follows from one of its own. So a
machine can show which rules can never match, which can never win, and which findings no
rule answers.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from recall.care.case import URGENCIES
from recall.protocol.candidates import Compiled
from recall.protocol.lines import Line, read_line
from recall.protocol.loading import Asks, Window
from recall.protocol.rules import Recheck, Refer, Rule
from recall.protocol.spans import Range, Span, read_range
from recall.protocol.words import ORDERS, SIGNS, kind_of

STARTS = tuple(date(2023, 1, 1) + timedelta(days=n) for n in range(0, 1461, 13))
"""Days from which windows are compared: four years, month ends and a leap day among them."""
_RANK = {u: n for n, u in enumerate(URGENCIES)}


def unless_lines(rule: Rule) -> tuple[Line, ...]:
    """Return what blocks a rule."""
    return tuple(
        read_line(rule.id, namespace, word, value)
        for namespace, words in rule.unless.items()
        for word, value in words.items()
    )


def follows(line: Line, from_line: Line) -> bool:
    """Return whether a line holds wherever another one does.

    >>> grade = lambda n: read_line("r", "ear", "tensa_grade", f"{n} or worse")
    >>> follows(grade(2), grade(3)), follows(grade(3), grade(2))
    (True, False)
    """
    if (line.namespace, line.word) != (from_line.namespace, from_line.word):
        return False
    if line.kind == "scale":
        return (line.low or 0) <= (from_line.low or 0)
    if line.kind == "range":
        return inside(read_range(from_line.wanted[0]), read_range(line.wanted[0]))
    return set(from_line.wanted) <= set(line.wanted)


def inside(small: Range, large: Range) -> bool:
    """Return whether every value of one range lies in another of the same unit."""
    if small.unit != large.unit or (small.never and not large.never):
        return False
    low_fits = large.low is None or (small.low is not None and small.low >= large.low)
    high_fits = large.high is None or (small.high is not None and small.high <= large.high)
    return low_fits and high_fits


def is_empty(found: Range) -> bool:
    """Return whether nothing lies in a range."""
    return found.low is not None and found.high is not None and found.low >= found.high


def holds_wherever(wide: Compiled, narrow: Compiled) -> bool:
    """Return whether one rule matches wherever, and whenever, another does."""
    if wide.since > narrow.since:
        return False
    if wide.until is not None and (narrow.until is None or wide.until < narrow.until):
        return False
    if not all(any(follows(mine, theirs) for theirs in narrow.lines) for mine in wide.lines):
        return False
    blocked = unless_lines(narrow.rule)
    return all(any(follows(b, mine) for b in blocked) for mine in unless_lines(wide.rule))


def never_matches(compiled: Compiled) -> str:
    """Return why a rule can never match, or nothing."""
    for line, found in compiled.range_lines:
        if is_empty(found):
            return f"nothing lies in {line}"
    for blocked in unless_lines(compiled.rule):
        if any(follows(blocked, line) for line in compiled.lines):
            return f"it needs what blocks it: {blocked}"
    return ""


def never_wins(mine: Asks, other: Asks) -> bool:
    """Return whether a rule, where both match, adds nothing to another's ask."""
    first, second = mine.rule, other.rule
    if _RANK[first.urgency or "low"] < _RANK[second.urgency or "low"]:
        return False
    if isinstance(first.ask, Recheck) and isinstance(second.ask, Recheck):
        return (
            first.track == second.track
            and first.ask.anchor == second.ask.anchor
            and first.ask.cycle is None
            and set(first.ask.do) <= set(second.ask.do)
            and set(first.ask.needs) <= set(second.ask.needs)
            and _never_earlier(mine.window, other.window)
            and _never_earlier(mine.never, other.never)
        )
    if isinstance(first.ask, Refer) and isinstance(second.ask, Refer):
        assert mine.stages is not None and other.stages is not None
        if first.ask.to != second.ask.to or first.track != second.track:
            return False
        names = ("sent", "accepted", "seen", "result")
        return all(_not_before(getattr(mine.stages, n), getattr(other.stages, n)) for n in names)
    return False


def _never_earlier(mine: Window | None, other: Window | None) -> bool:
    if mine is None or other is None:
        return mine is None and other is None
    return _not_before(mine.latest, other.latest)


def _not_before(mine: Span, other: Span) -> bool:
    return all(mine.after(day) >= other.after(day) for day in STARTS)


def answered(values: Iterable[Line], rules: Sequence[Compiled]) -> set[Line]:
    """Return which of some single values at least one rule needs, or is blocked by."""
    asked = [line for c in rules for line in (*c.lines, *unless_lines(c.rule))]
    asked += [source for line in asked for source in _sources(line)]
    return {v for v in values if any(follows(line, v) for line in asked)}


def _sources(line: Line) -> Iterable[Line]:
    """Return the recorded values that a flag is read off."""
    for field, value in SIGNS.get(line.word, ()):
        kind = kind_of("ear", field)
        if kind == "scale":
            if str(value) == ORDERS[field][0]:
                continue
            yield read_line("-", "ear", field, f"{value} or worse")
        elif kind is not None:
            yield read_line("-", "ear", field, value if isinstance(value, bool) else [value])
