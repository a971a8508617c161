"""What a person's decision makes of a due: other dates, or an ask by category alone."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec

from recall.care.case import Urgency
from recall.protocol.loading import Protocol
from recall.protocol.rules import Refer
from recall.schedule.answering import NEEDS
from recall.schedule.merging import RANK, renewed
from recall.schedule.plan import Decision, Due, Reason, Referral
from recall.schedule.windows import from_anchor, said_by, stage_days


def moved(due: Due, decision: Decision) -> Due:
    """Return a due at the dates that somebody who may decide has set."""
    earliest = decision.earliest or due.earliest
    target = max(earliest, decision.target or due.target)
    return msgspec.structs.replace(
        due,
        earliest=earliest,
        target=target,
        latest=max(target, decision.latest or due.latest),
        asked_on=decision.on,
        anchor=due.counted_from,
        urgency=decision.urgency or due.urgency,
    )


_A_DAY = timedelta(days=1)
_A_WEEK = timedelta(weeks=1)
_DROPS = timedelta(days=5)


def raised(due: Due, urgency: Urgency, on: date, protocol: Protocol) -> Due:
    """Return a due made more urgent: by that urgency's own last day, counted from the decision.

    It is the day by which another service would see it, and never moves later. Its first and its
    best day move with it in proportion, so that it can be booked: a week is open before the last
    day where there is one, but drops keep the days they had. Common practice.
    """
    latest = min(due.latest, stage_days(protocol.stages_for(urgency), on).seen_by)
    if latest == due.latest:
        return due
    share = (latest - on) / max(due.latest - on, _A_DAY)
    first = max(on, min(on + share * (due.earliest - on), latest - _A_WEEK))
    if due.category == "wax_retry":
        first = max(first, min(due.earliest, on + _DROPS, latest))
    earliest = min(due.earliest, first)
    target = min(due.target, max(earliest, on + share * (due.target - on)))
    return msgspec.structs.replace(due, earliest=earliest, target=target, latest=latest)


def weighed(referral: Referral, urgency: Urgency, on: date, protocol: Protocol) -> Referral:
    """Return a referral made more or less urgent, with that urgency's days from the decision."""
    stages = stage_days(protocol.stages_for(urgency, Refer(to=referral.to)), on)
    if RANK[urgency] < RANK[referral.urgency]:
        stages = renewed(referral.stages, stages, on)
    return msgspec.structs.replace(
        referral,
        urgency=urgency,
        stages=stages,
        within_days=max(0, (stages.seen_by - on).days),
    )


def by_category(decision: Decision, protocol: Protocol, child: bool) -> Due | Referral | None:
    """Return what a visit closed with a category alone asks for; None for advice alone."""
    category = decision.category
    if category == "refer" and decision.to is not None:
        return _referral(decision, protocol)
    if category is None or category not in protocol.categories:
        return None
    text, adult_window, child_window = protocol.categories[category]
    dates = from_anchor(child_window if child else adult_window, decision.on)
    return Due(
        ear=decision.ear,
        track=text.track,
        category=category,
        rule=f"category-{category.replace('_', '-')}",
        rule_version=1,
        **dates.days,
        **said_by(text),
        urgency=decision.urgency or text.urgency,
        do=text.do,
        needs=NEEDS[text.track],
        asked_on=decision.on,
    )


def _referral(decision: Decision, protocol: Protocol) -> Referral:
    assert decision.to is not None
    urgency = decision.urgency or "high"
    stages = stage_days(protocol.stages_for(urgency, Refer(to=decision.to)), decision.on)
    reason = Reason(
        ear=decision.ear,
        track=decision.track or "drum",
        rule="category-refer",
        rule_version=1,
        says=decision.why or "Referred by the practitioner.",
        source="the practitioner's own judgement",
        known_by="CP",
    )
    return Referral(
        to=decision.to,
        ears=(decision.ear,),
        urgency=urgency,
        within_days=(stages.seen_by - decision.on).days,
        stages=stages,
        reasons=(reason,),
        asked_on=decision.on,
    )
