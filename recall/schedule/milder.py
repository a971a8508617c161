"""What a plan loses that pressed, where the visits behind it are put right: dropped or lowered."""

from __future__ import annotations

import msgspec

from recall.care.case import Urgency
from recall.care.ear import Side
from recall.schedule.merging import RANK
from recall.schedule.plan import Plan
from recall.schedule.plan_lines import lines_of

PRESSED: frozenset[Urgency] = frozenset({"emergency", "urgent", "high"})
"""What must not become milder unseen."""


class Milder(msgspec.Struct, frozen=True):
    """Something of one ear that pressed, and what is left of it."""

    ear: Side
    about: str
    """The track, or the service of a referral."""
    was: Urgency
    now: Urgency | None
    """None: it is no longer asked for."""

    def words(self) -> str:
        """Return it as it is named to people.

        >>> Milder("right", "ent", "urgent", None).words()
        'ENT, right ear, urgent: no longer asked for'
        """
        about = "ENT" if self.about == "ent" else self.about.replace("_", " ")
        left = f"now {self.now}" if self.now else "no longer asked for"
        return f"{about}, {self.ear} ear, {self.was}: {left}"


Pressing = dict[tuple[Side, str], Urgency]
"""How pressing each ear and track, or ear and service, is."""


def milder(before: Plan, after: Plan) -> tuple[Milder, ...]:
    """Return what pressed in one plan and does so less in another, the most pressing first."""
    return less_pressing(_urgencies(before), _urgencies(after))


def less_pressing(before: Pressing, after: Pressing) -> tuple[Milder, ...]:
    """Return what pressed before and does so less after, the most pressing first."""
    found = [
        Milder(ear, about, was, after.get((ear, about)))
        for (ear, about), was in before.items()
        if was in PRESSED and _less(after.get((ear, about)), was)
    ]
    return tuple(sorted(found, key=lambda m: RANK[m.was]))


def more_pressing(found: Pressing, key: tuple[Side, str], urgency: Urgency) -> None:
    """Keep the more pressing of two urgencies of one thing."""
    if _less(found.get(key), urgency):
        found[key] = urgency


def _less(now: Urgency | None, was: Urgency) -> bool:
    return now is None or RANK[now] > RANK[was]


def _urgencies(plan: Plan) -> Pressing:
    """Return the most pressing urgency of each ear and track or service."""
    found: Pressing = {}
    for line in lines_of(plan):
        for due in line.dues:
            more_pressing(found, (due.ear, due.track), due.urgency)
        if line.referral is not None:
            for ear in line.ears:
                found[ear, line.referral.to] = line.urgency
    return found
