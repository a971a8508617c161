"""Combining: the fewest appointments that touch the window of everything due.

Grouping only groups. No due's dates change, none is met after its latest, and what is
urgent is combined with nothing but other urgent things, so that it never waits for a
routine visit. Sweeping the windows by their last day and putting each appointment on the
last day that the first one allows is the classical least piercing of intervals.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from datetime import date
from typing import Any, TypeVar, get_args

from recall.care.case import Do, Track, Urgency
from recall.care.ear import SIDES, Side
from recall.schedule.calendar import say_day
from recall.schedule.merging import RANK
from recall.schedule.plan import Due, FollowUp

T = TypeVar("T")
PRESSING: frozenset[Urgency] = frozenset({"emergency", "urgent"})
"""Urgencies that are combined only among themselves."""
_TRACKS: tuple[Track, ...] = get_args(Track)
_DOS: tuple[Do, ...] = get_args(Do)

_ORDER: dict[str, int] = {w: n for words in (_TRACKS, SIDES, _DOS) for n, w in enumerate(words)}


def group(dues: Sequence[Due]) -> tuple[FollowUp, ...]:
    """Return the fewest follow-ups that touch every due's window, by their latest day."""
    pressing = [due for due in dues if due.urgency in PRESSING]
    routine = [due for due in dues if due.urgency not in PRESSING]
    apart = bool(pressing and routine)
    found = [_follow_up(members, apart) for members in _sweep(pressing)]
    found += [_follow_up(members, False) for members in _sweep(routine)]
    return tuple(sorted(found, key=_by_latest))


def _sweep(dues: Iterable[Due]) -> list[list[Due]]:
    """Split dues into the fewest groups that share a day."""
    groups: list[list[Due]] = []
    last_day = date.min
    for due in sorted(dues, key=_by_window):
        if not groups or due.earliest > last_day:
            groups.append([])
            last_day = due.latest
        groups[-1].append(due)
    return groups


def _by_window(due: Due) -> tuple[Any, ...]:
    """Order dues by window, then by what they are: never by how they were given."""
    what = (_ORDER[due.track], _ORDER[due.ear], due.kind, due.asked_on, due.rule, due.do)
    return due.latest, due.earliest, RANK[due.urgency], due.target, *what


def _by_latest(follow_up: FollowUp) -> tuple[Any, ...]:
    """Order follow-ups by the last day that they allow; the more pressing first on the same day."""
    return follow_up.latest, RANK[follow_up.urgency], follow_up.earliest


def _follow_up(members: list[Due], apart: bool) -> FollowUp:
    """Make one follow-up of dues that share a day."""
    if len(members) == 1:
        return _alone(members[0], apart)
    lead = min(members, key=lambda due: (RANK[due.urgency], due.target))
    earliest = max(due.earliest for due in members)
    latest = min(due.latest for due in members)
    target = min(max(lead.target, earliest), latest)
    return FollowUp(
        earliest=earliest,
        target=target,
        latest=latest,
        offer_on=None,
        urgency=lead.urgency,
        tracks=_union(members, lambda due: (due.track,)),
        ears=_union(members, lambda due: (due.ear,)),
        do=_union(members, lambda due: due.do),
        dues=tuple(members),
        reasons=_reasons(members, lead, target, apart),
    )


def _alone(due: Due, apart: bool) -> FollowUp:
    """Make a follow-up of one due."""
    return FollowUp(
        earliest=due.earliest,
        target=due.target,
        latest=due.latest,
        offer_on=None,
        urgency=due.urgency,
        tracks=(due.track,),
        ears=(due.ear,),
        do=due.do if len(due.do) < 2 else _union([due], lambda d: d.do),
        dues=(due,),
        reasons=_reasons([due], due, due.target, apart),
    )


def _union(members: list[Due], pick: Callable[[Due], tuple[T, ...]]) -> tuple[T, ...]:
    """Return every word that the members use, once, in the order of the trade's word list."""
    words = {word for due in members for word in pick(due)}
    return tuple(sorted(words, key=lambda word: _ORDER[str(word)]))


def _reasons(members: list[Due], lead: Due, target: date, apart: bool) -> tuple[str, ...]:
    """Say what was combined and why this date; nothing where there was nothing to weigh."""
    said = []
    if apart:
        said.append(f"Kept apart from what is not urgent: {lead.urgency} never waits for it.")
    if len(members) > 1:
        said += [_what(members), _when(members, lead, target)]
    return tuple(said)


def _what(members: list[Due]) -> str:
    """Name the things that share the appointment."""
    names: dict[str, list[Side]] = {}
    for due in members:
        names.setdefault(due.track.replace("_", " "), []).append(due.ear)
    things = [f"{track} ({_ears(ears)})" for track, ears in names.items()]
    return f"One appointment does for {len(members)} asks: {', '.join(things)}."


def _ears(ears: list[Side]) -> str:
    """Name one ear or both."""
    return "both ears" if len(set(ears)) > 1 else f"{ears[0]} ear"


def _when(members: list[Due], lead: Due, target: date) -> str:
    """Say whose target the date is, and what moved it."""
    whose = f"{lead.track.replace('_', ' ')}, the most pressing ({lead.urgency})"
    if target == lead.target:
        return f"{say_day(target)} is the target of {whose}."
    way, limit = ("Later", "earliest") if target > lead.target else ("Earlier", "latest")
    holder = next(due for due in members if getattr(due, limit) == target)
    return (
        f"{way} than {say_day(lead.target)}, the target of {whose}: "
        f"{say_day(target)} is the {limit} day of {holder.track.replace('_', ' ')}."
    )
