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
    return min(urgencies, key=RANK.__getitem__)


def _order(due: Due) -> tuple[object, ...]:
    return (due.latest, RANK[due.urgency], due.target, due.asked_on, due.rule, due.rule_version)


def winner(dues: Sequence[Due]) -> Due:
    """Return the due that stands: the earliest `latest`, with all that the others need done.

    The losers leave their urgency, where it is more pressing, what they wanted done and
    looked at, and their names; so one more matching rule can never loosen a plan.
    """
    if len(dues) == 1:
        return dues[0]
    first, *others = sorted(dues, key=_order)
    names = {o.rule for o in others} | {b for d in dues for b in d.beaten}
    return msgspec.structs.replace(
        first,
        urgency=most_pressing([d.urgency for d in dues]),
        do=_union([d.do for d in (first, *others)]),
        needs=_union([d.needs for d in (first, *others)]),
        beaten=tuple(sorted(names - {first.rule})),
    )


def _union(lists: Sequence[tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(x for one in lists for x in one))


def stricter(first: Stages, second: Stages) -> Stages:
    """Return each stage at its earliest."""
    return Stages(
        sent_by=min(first.sent_by, second.sent_by),
        accepted_by=min(first.accepted_by, second.accepted_by),
        seen_by=min(first.seen_by, second.seen_by),
        result_by=min(first.result_by, second.result_by),
    )


def pressing_anew(standing: Referral, referral: Referral, on: date) -> Referral:
    """Return a standing referral joined by one that presses more, as it is asked anew on a day.

    A stage whose day has gone by takes the new one's day: nobody can be seen by last month.
    """
    days: dict[str, date] = {}
    reached = on
    for name in Stages.__struct_fields__:
        old, new = getattr(standing.stages, name), getattr(referral.stages, name)
        days[name] = reached = max(reached, min(old, new) if old >= on else new)
    joined = merged(standing, referral)
    return msgspec.structs.replace(joined, stages=Stages(**days), asked_on=on)


def merged(first: Referral, second: Referral) -> Referral:
    """Return two referrals to one service as one: the more urgent, each stage at its earliest."""
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
