"""Combining: the fewest appointments for everything due that leave a choice of days.

Grouping only groups. No due's dates change, none is met after its latest, and what is
urgent is combined with nothing but other urgent things, so that it never waits for a
routine visit. Who may share with whom stands in `schedule.sharing`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any, TypeVar, get_args

import msgspec

from recall.care.case import Do, Track, Urgency
from recall.care.ear import SIDES, Side
from recall.schedule.calendar import say_day
from recall.schedule.merging import RANK
from recall.schedule.plan import Due, FollowUp
from recall.schedule.sharing import IsOpen, fewest, on_weekdays, window_of

T = TypeVar("T", bound=str)
PRESSING: frozenset[Urgency] = frozenset({"emergency", "urgent"})
"""Urgencies that are combined only among themselves."""
_TRACKS: tuple[Track, ...] = get_args(Track)
_DOS: tuple[Do, ...] = get_args(Do)

_ORDER: dict[str, int] = {w: n for words in (_TRACKS, SIDES, _DOS) for n, w in enumerate(words)}


def group(dues: Sequence[Due], is_open: IsOpen = on_weekdays) -> tuple[FollowUp, ...]:
    """Return the fewest follow-ups that dues may share, by their latest day."""
    if len(dues) == 1:
        return (_alone(dues[0], False),)
    dues = sorted(dues, key=_by_window)
    pressing = [due for due in dues if due.urgency in PRESSING]
    routine = [due for due in dues if due.urgency not in PRESSING]
    return _made(fewest(pressing, is_open), fewest(routine, is_open))


def group_apart(
    dues: Sequence[Due], is_open: IsOpen, apart: Callable[[Due], bool]
) -> tuple[FollowUp, ...]:
    """Return follow-ups in which what `apart` picks shares no appointment with anything else."""
    found = [[due for due in dues if apart(due) is picked] for picked in (True, False)]
    return tuple(sorted((f for some in found for f in group(some, is_open)), key=_by_latest))


def as_they_are(parts: Sequence[Sequence[Due]]) -> tuple[FollowUp, ...]:
    """Return the follow-ups of dues that were grouped before, by their latest day."""
    ordered = [sorted(part, key=lambda due: (window_of(due), _by_window(due))) for part in parts]
    pressing = [part for part in ordered if part[0].urgency in PRESSING]
    routine = [part for part in ordered if part[0].urgency not in PRESSING]
    return _made(pressing, routine)


def _made(pressing: Sequence[list[Due]], routine: Sequence[list[Due]]) -> tuple[FollowUp, ...]:
    """Make the follow-ups of groups, the pressing ones kept apart from the others."""
    apart = bool(pressing and routine)
    found = [_follow_up(members, apart) for members in pressing]
    found += _too([_follow_up(members, False) for members in routine])
    return tuple(sorted(found, key=_by_latest))


def _too(found: list[FollowUp]) -> list[FollowUp]:
    """Say in each appointment what of a later one could be done at it."""
    if len(found) < 2:
        return found
    several = sorted(found, key=_by_latest)
    for place, first in enumerate(several):
        others = [f for f in several[place + 1 :] if f.earliest <= first.latest]
        things = _things([due for other in others for due in other.dues])
        if things:
            said = f"If there is time, do this too, due by itself a little later: {things}."
            reasons = (*first.reasons, said)
            several[place] = msgspec.structs.replace(first, reasons=reasons)
    return several


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
        reasons=_reasons([due], due, due.target, apart) if apart else (),
    )


def _union(members: list[Due], pick: Callable[[Due], tuple[T, ...]]) -> tuple[T, ...]:
    """Return every word that the members use, once, in the order of the trade's word list."""
    words = {word for due in members for word in pick(due)}
    return tuple(sorted(words, key=_ORDER.__getitem__)) if len(words) > 1 else tuple(words)


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
    return f"One appointment does for {len(members)} asks: {_things(members)}."


def _things(members: Sequence[Due]) -> str:
    """Name what some dues are about, each once."""
    names: dict[str, list[Side]] = {}
    for due in members:
        names.setdefault(due.track.replace("_", " "), []).append(due.ear)
    return ", ".join(f"{track} ({_ears(ears)})" for track, ears in names.items())


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
