"""Whether an ear shows something worse or new, beside what was known of it on an earlier day.

What was not recorded is neither. Wax and what it hides of the view are about the day, not about
the ear: they count only where somebody asks about them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from recall.care.catalogue import CATALOGUE
from recall.care.findings.entry import Finding
from recall.care.hearing import NO_RESPONSE
from recall.care.tympanogram import classify

WORSE_BY_DB = 10
"""Step by which a measured level counts as worse: beyond the 5 dB that two tests of one ear differ
by in routine; common practice, no source."""
HEARS_BELOW_DB = 25
"""A level that was never measured counts as new from here on: common practice, no source."""
TRACES = ("A", "C1", "C2", "B")
"""Letters of a trace, the normal one first."""
OF_THE_DAY = frozenset(name for name, finding in CATALOGUE.items() if finding.of_day)
OF_HISTORY = frozenset({"treated", "clearance_by", "perforation_cause", "grommet_long_term"})
"""What is known about a finding or a treatment, and is none."""


def worse_or_new(known: Mapping[str, Any], now: Mapping[str, Any], *, of_day: bool = False) -> bool:
    """Return whether anything recorded now is worse than what was known, or new.

    Args:
        known: by the name of the finding, what was last recorded.
        now: what is recorded now.
        of_day: wax and the view count, too.

    >>> worse_or_new({"effusion": "suspected"}, {"effusion": "present"})
    True
    >>> worse_or_new({"effusion": "present", "red": False}, {"effusion": "present"})
    False
    """
    return any(
        _worse(CATALOGUE[name], known.get(name), value)
        for name, value in now.items()
        if name not in OF_HISTORY and (of_day or name not in OF_THE_DAY)
    )


def _worse(finding: Finding, known: Any, now: Any) -> bool:
    measured = _MEASURED.get(finding.holds)
    if measured is not None:
        return measured(known, now)
    if known == now or finding.is_normal(now) or now in finding.clear:
        return False
    return finding.kind != "scale" or _step(finding, now) > _step(finding, known)


def _step(finding: Finding, value: Any) -> int:
    steps: tuple[Any, ...] = finding.steps or finding.values
    return steps.index(value) if value in steps else 0


def _levels_worse(known: Mapping[str, Any] | None, now: Mapping[str, Any]) -> bool:
    known = known or {}
    return any(
        _dB(level) >= (_dB(known[f]) + WORSE_BY_DB if f in known else HEARS_BELOW_DB)
        for f, level in now.items()
    )


def _dB(level: float | str) -> float:  # noqa: N802
    return NO_RESPONSE if isinstance(level, str) else level


def _trace_worse(known: Any, now: Any) -> bool:
    return _flatter(now) > (0 if known is None else _flatter(known))


def _flatter(trace: Any) -> int:
    """Return how far a trace is from a normal one; a letter outside the scheme is beyond all."""
    letter = classify(trace, child=False).letter
    return len(TRACES) if letter is None else TRACES.index(letter)


_MEASURED: Mapping[str, Callable[[Any, Any], bool]] = {
    "levels": _levels_worse,
    "trace": _trace_worse,
    "when": lambda _known, _now: False,
    "count": lambda known, now: bool(now > (known or 0)),
}
