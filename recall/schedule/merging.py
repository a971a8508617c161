"""Who wins: re-checks compete per (ear, track, kind), referrals per (ear, to)."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import msgspec

from recall.care.case import URGENCIES, Urgency
from recall.schedule.plan import Due, Referral, Stages

RANK: dict[Urgency, int] = {u: place for place, u in enumerate(URGENCIES)}
"""0 is the most pressing."""


def most_pressing(urgencies: Sequence[Urgency]) -> Urgency:
    """Return the most pressing of some urgencies."""
    return URGENCIES[min([RANK[urgency] for urgency in urgencies])]


def _order(due: Due) -> tuple[object, ...]:
    return (due.latest, RANK[due.urgency], due.target, due.asked_on, due.rule, due.rule_version)


def winner(dues: Sequence[Due]) -> Due:
    """Return the due that stands: the earliest `latest`, with all that the others need done.

    The losers leave their urgency, where it is more pressing, what they wanted done and
    looked at, and their names; so one more matching rule can never loosen a plan.
    """
    if len(dues) == 1:
        return dues[0]
    if len(dues) == 2:
        one, other = dues
        if one.latest < other.latest or (
            one.latest == other.latest and _order(one) <= _order(other)
        ):
            return _beating(one, other)
        return _beating(other, one)
    first, *others = sorted(dues, key=_order)
    for other in others:
        first = _beating(first, other)
    return first


def _beating(first: Due, other: Due) -> Due:
    """Return a due with what one that it beats leaves to it; mostly it has that already."""
    urgency = first.urgency if RANK[first.urgency] <= RANK[other.urgency] else other.urgency
    do, needs, beaten = first.do, first.needs, first.beaten
    if other.do != do:
        do = tuple(dict.fromkeys((*do, *other.do)))
    if other.needs != needs:
        needs = tuple(dict.fromkeys((*needs, *other.needs)))
    if other.rule != first.rule or other.beaten != beaten:
        beaten = tuple(sorted({other.rule, *beaten, *other.beaten} - {first.rule}))
    if (urgency, do, needs, beaten) == (first.urgency, first.do, first.needs, first.beaten):
        return first
    return msgspec.structs.replace(first, urgency=urgency, do=do, needs=needs, beaten=beaten)


def stricter(first: Stages, second: Stages) -> Stages:
    """Return each stage at its earliest."""
    return Stages(
        sent_by=min(first.sent_by, second.sent_by),
        accepted_by=min(first.accepted_by, second.accepted_by),
        seen_by=min(first.seen_by, second.seen_by),
        result_by=min(first.result_by, second.result_by),
    )


def renewed(standing: Stages, new: Stages, on: date) -> Stages:
    """Return each stage at its earliest day that has not gone by on the day it is asked anew.

    A day that has gone by gives way to the new referral's own. No stage is left later than
    the stage after it.
    """

    def day(old: date, own: date) -> date:
        return own if old < on else min(old, own)

    result = day(standing.result_by, new.result_by)
    seen = min(result, day(standing.seen_by, new.seen_by))
    accepted = min(seen, day(standing.accepted_by, new.accepted_by))
    sent = min(accepted, day(standing.sent_by, new.sent_by))
    return Stages(sent_by=sent, accepted_by=accepted, seen_by=seen, result_by=result)


def merged(first: Referral, second: Referral) -> Referral:
    """Return two referrals to one service as one: the more urgent, each stage at its earliest.

    What presses more is told first: whoever is rung reads no further than that.
    """
    if RANK[second.urgency] < RANK[first.urgency]:
        first, second = second, first
    ears = tuple(e for e in ("right", "left") if e in first.ears or e in second.ears)
    reasons = {(r.ear, r.rule, r.rule_version): r for r in (*first.reasons, *second.reasons)}
    return Referral(
        to=first.to,
        ears=ears,
        urgency=most_pressing([first.urgency, second.urgency]),
        within_days=min(first.within_days, second.within_days),
        stages=stricter(first.stages, second.stages),
        reasons=tuple(reasons.values()),
        asked_on=min(first.asked_on, second.asked_on),
    )
