"""Which dues may share one appointment, and the fewest groups that come of it.

A group needs enough days on which the practice is open, common to all of its windows, and must
not move the leading target far. The fewest such groups are found exactly where there are few
windows, as there nearly always are; dues with the same dates are one window.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta
from functools import cache
from itertools import chain
from typing import NamedTuple

from recall.schedule.merging import RANK
from recall.schedule.plan import Due

ENOUGH_DAYS = 5
"""Open days that a shared window must have, or the whole of a shorter one: common practice."""
FAR = 4
"""The leading target may move by this part of the days from its anchor, a quarter, no more."""
EXACTLY = 8
"""Windows up to which the fewest groups are searched for; with more they are filled in order."""
_DAY = timedelta(days=1)
IsOpen = Callable[[date], bool]


class Window(NamedTuple):
    """What counts of a due when it is grouped: dues that agree in it stay together."""

    latest: date
    earliest: date
    rank: int
    target: date
    anchor: date


class Cost(NamedTuple):
    """How good a way of grouping is: fewer groups first, then leading targets moved less."""

    groups: int
    moved: int


def on_weekdays(day: date) -> bool:
    """Return whether a day is from Monday to Friday: open, where no calendar is given."""
    return day.weekday() < 5


def window_of(due: Due) -> Window:
    """Return what counts of a due when it is grouped."""
    return Window(due.latest, due.earliest, RANK[due.urgency], due.target, due.counted_from)


def enough(windows: Iterable[Window], is_open: IsOpen) -> bool:
    """Return whether the days common to some windows leave a choice of open ones."""
    several = tuple(windows)
    earliest, latest = max([w.earliest for w in several]), min([w.latest for w in several])
    if earliest > latest:
        return False
    for window in several:
        if window.earliest == earliest and window.latest == latest:
            return True
    common = _open_days(earliest, latest, is_open)
    if common in (0, ENOUGH_DAYS):
        return common > 0
    return any(common >= _open_days(w.earliest, w.latest, is_open) for w in several)


def moved(windows: Iterable[Window]) -> int | None:
    """Return by how many days a group moves its leading target; None where that is too far."""
    several = tuple(windows)
    lead = min(several, key=lambda w: (w.rank, w.target, w.anchor))
    earliest, latest = max([w.earliest for w in several]), min([w.latest for w in several])
    days = abs((min(max(lead.target, earliest), latest) - lead.target).days)
    return days if days * FAR <= (lead.target - lead.anchor).days or days == 0 else None


def fewest(dues: Sequence[Due], is_open: IsOpen) -> list[list[Due]]:
    """Split dues into the fewest groups that may share an appointment."""
    if len(dues) < 2:
        return [[due] for due in dues]
    alike: dict[Window, list[Due]] = {}
    for due in dues:
        alike.setdefault(window_of(due), []).append(due)
    windows = sorted(alike)
    parts = _split(windows, is_open) if len(windows) <= EXACTLY else _filled(windows, is_open)
    return [[due for window in part for due in alike[window]] for part in parts]


def _split(windows: list[Window], is_open: IsOpen) -> list[list[Window]]:
    """Return the best way of splitting windows; mostly there is little to choose."""
    if len(windows) == 1 or _may(windows, is_open) is not None:
        return [windows]
    if len(windows) == 2:
        return [[window] for window in windows]
    several = _apart(windows)
    if len(several) > 1:
        return sorted(part for some in several for part in _split(some, is_open))
    return _searched(windows, is_open)


def _apart(windows: Sequence[Window]) -> list[list[Window]]:
    """Split windows, in order, where none of one part has a day in common with any of another."""
    parts: list[list[Window]] = []
    for window in windows:
        near = [part for part in parts if any(_meet(window, one) for one in part)]
        parts = [part for part in parts if part not in near]
        parts.append(sorted([window, *chain(*near)]))
    return parts


def _may(windows: Sequence[Window], is_open: IsOpen) -> int | None:
    """Return what a group of windows costs, or None where they may not share."""
    if len(windows) == 1:
        return 0
    return moved(windows) if enough(windows, is_open) else None


def _searched(windows: Sequence[Window], is_open: IsOpen) -> list[list[Window]]:
    """Return the best way of splitting windows, from all of them."""
    whole = (1 << len(windows)) - 1
    meeting = [sum(1 << n for n, w in enumerate(windows) if _meet(w, one)) for one in windows]

    def members(mask: int) -> list[Window]:
        return [w for n, w in enumerate(windows) if mask >> n & 1]

    @cache
    def may(mask: int) -> int | None:
        return _may(members(mask), is_open)

    @cache
    def best(mask: int) -> tuple[Cost, tuple[int, ...]]:
        if not mask:
            return Cost(0, 0), ()
        first = mask & -mask
        rest, found = mask ^ first, None
        with_it = part = rest & meeting[first.bit_length() - 1]
        while True:
            days = may(part | first)
            if days is not None:
                cost, others = best(rest ^ part)
                tried = Cost(cost.groups + 1, cost.moved + days), (part | first, *others)
                found = tried if found is None else min(found, tried)
            if not part:
                break
            part = (part - 1) & with_it
        assert found is not None, "a window alone may always stand"
        return found

    return [members(mask) for mask in best(whole)[1]]


def _meet(one: Window, other: Window) -> bool:
    """Return whether two windows have a day in common: without one they never share."""
    return one.earliest <= other.latest and other.earliest <= one.latest


def _filled(windows: Sequence[Window], is_open: IsOpen) -> list[list[Window]]:
    """Return groups filled one after another, where there are too many windows to search."""
    groups: list[list[Window]] = []
    for window in windows:
        for group in groups:
            if _may([*group, window], is_open) is not None:
                group.append(window)
                break
        else:
            groups.append([window])
    return groups


def _open_days(earliest: date, latest: date, is_open: IsOpen) -> int:
    """Return how many days of a window are open, as far as they count."""
    count, day = 0, earliest
    while day <= latest and count < ENOUGH_DAYS:
        count += is_open(day)
        day += _DAY
    return count
