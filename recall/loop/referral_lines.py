"""Referrals as people see them: one line for what one service is asked at one visit.

Each ear keeps its own referral. Those of a person that one service was asked for on one day, which
press alike and stand at the same stage with the same day to be chased, are one line: one letter
asked for them, and what becomes known of it is of all. Where they stand otherwise, they part.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import msgspec

from recall.care.case import URGENCIES, To, Urgency
from recall.care.ear import SIDES, Side, ears_of
from recall.loop.referral import ReferralLoop, ReferralState, Route, Stage

Key = tuple[int, To, date, Urgency, Route, Stage, date | None]


class ReferralOnDay(msgspec.Struct, frozen=True, kw_only=True):
    """One referral, and how it stands on a day."""

    number: int
    version: int
    person: int
    loop: ReferralLoop
    now: ReferralState

    @property
    def key(self) -> Key:
        """Return what referrals of one line have in common; the search columns hold the same."""
        ask, now = self.loop.referral, self.now
        route = self.loop.route
        return self.person, ask.to, ask.asked_on, ask.urgency, route, now.stage, now.chased_on


class ReferralsLine(msgspec.Struct, frozen=True):
    """The referrals of one line, the first on record first."""

    ones: tuple[ReferralOnDay, ...]

    @property
    def first(self) -> ReferralOnDay:
        """Return the one by whose number the line is called."""
        return self.ones[0]

    @property
    def numbers(self) -> tuple[int, ...]:
        """Return the numbers of all."""
        return tuple(one.number for one in self.ones)

    @property
    def ears(self) -> tuple[Side, ...]:
        """Return the ears of all."""
        about = {ear for one in self.ones for ear in one.loop.referral.ears}
        return tuple(side for side in SIDES if side in about)

    @property
    def seen_by(self) -> date:
        """Return the earliest day by which somebody there is to see the person."""
        return min(one.now.seen_by or one.loop.referral.stages.seen_by for one in self.ones)

    @property
    def why(self) -> str:
        """Return what is asked next; by ear, where it is not the same."""
        said = {one.now.why for one in self.ones}
        if len(said) == 1:
            return self.first.now.why
        ears = (ears_of(one.loop.referral.ears).capitalize() for one in self.ones)
        return " ".join(f"{ear}: {one.now.why}" for ear, one in zip(ears, self.ones, strict=True))

    @property
    def says(self) -> str:
        """Return why it was asked for, each reason once with its ears."""
        found: dict[tuple[str, str], set[Side]] = {}
        for one in self.ones:
            for reason in one.loop.referral.reasons:
                found.setdefault((reason.says, reason.rule), set()).add(reason.ear)
        return " ".join(
            f"{ears_of(ears).capitalize()}: {says} ({rule})" for (says, rule), ears in found.items()
        )


def referral_lines(found: Iterable[ReferralOnDay]) -> tuple[ReferralsLine, ...]:
    """Return the lines of some referrals, the most pressing first."""
    lines: dict[Key, list[ReferralOnDay]] = {}
    for one in sorted(found, key=lambda one: one.number):
        lines.setdefault(one.key, []).append(one)
    return tuple(sorted((ReferralsLine(tuple(ones)) for ones in lines.values()), key=_pressing))


def _pressing(line: ReferralsLine) -> tuple[int, date, int]:
    first = line.first
    rank = URGENCIES.index(first.loop.referral.urgency)
    return rank, first.now.chased_on or date.min, first.number
