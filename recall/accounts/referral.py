"""One referral that was asked for, and the one state that it is in on a day.

Sent means that a day on which it was sent is on record: that a later stage is known does not
make it so.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import date, timedelta
from typing import cast

import msgspec

from recall.accounts.states import REFERRAL_ENDS, RESULT_BACK, ReferralState
from recall.loop.referral import LOOK_THROUGH, ReferralLoop, Stage, progress, stages_asked, state
from recall.protocol.contact import ContactProtocol
from recall.schedule.calendar import Calendar
from recall.schedule.plan import EndReason

RECORDED: dict[Stage, frozenset[str]] = {
    "sent": frozenset({"sent", "spoke"}),
    "accepted": frozenset({"accepted", "appointment"}),
    "seen": frozenset({"seen"}),
    "result": frozenset({"result"}),
}
"""Each stage, and what puts on record that it came to it. An emergency is sent by telephone."""


_DAY = timedelta(days=1)


class Referred(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """One referral: how it goes, what became known of it, and how it ended."""

    number: int
    person: int
    loop: ReferralLoop
    born: date
    site: str = ""
    practitioner: str = ""
    ended_on: date | None = None
    end_reason: EndReason | str | None = None
    by: str = ""
    """Who ended it."""

    def over_by(self, on: date) -> bool:
        """Return whether it had ended by a day."""
        return self.ended_on is not None and self.ended_on <= on

    @property
    def stages(self) -> tuple[Stage, ...]:
        """Return the stages that can be on record of it, in order."""
        asked = stages_asked(self.loop)
        return tuple(stage for stage in RECORDED if stage in asked)

    def day_of(self, stage: Stage) -> date:
        """Return the day by which a stage was to be known."""
        stages = self.loop.referral.stages
        days = {"sent": stages.sent_by, "accepted": stages.accepted_by}
        return (days | {"seen": stages.seen_by, "result": stages.result_by})[stage]

    def recorded(self, on: date) -> dict[Stage, date]:
        """Return the day on record of each stage, by a day, since it last began anew."""
        found: dict[Stage, date] = {}
        for event in progress(tuple(e for e in self.loop.events if e.on <= on)):
            for stage, whats in RECORDED.items():
                if event.what in whats:
                    found.setdefault(stage, event.on)
        return found

    def late_stages(self, on: date, *, at_end: bool = False) -> tuple[Stage, ...]:
        """Return the stages whose day went by, up to a day, before they or later ones were known.

        What had ended by then was late only where it was so when it ended. `at_end`: the day is
        over, so that what was to be known on it and is not is late.
        """
        end = on + _DAY if at_end else on
        if self.ended_on is not None and self.ended_on <= on:
            end = self.ended_on
        known, come_to = self.recorded(on), end
        late: list[Stage] = []
        for stage in reversed(RECORDED):
            come_to = min(come_to, known.get(stage, end))
            if stage in self.stages and self.day_of(stage) < come_to:
                late.append(stage)
        return tuple(reversed(late))

    def missed_by(self, on: date, *, at_end: bool = False) -> bool:
        """Return whether the stage that it has not come to by a day is late; the result, if it has.

        For what had ended by then: whether it was so when it ended.
        """
        order, known = tuple(RECORDED), self.recorded(on)
        last = max((order.index(stage) for stage in known), default=-1)
        open_ones = [stage for stage in self.stages if order.index(stage) > last]
        waits_for = open_ones[0] if open_ones else order[-1]
        return waits_for in self.late_stages(on, at_end=at_end)


def state_where(
    ask: Referred, on: date, missed: bool, rules: ContactProtocol, calendar: Calendar | None
) -> ReferralState:
    """Return the one state that a referral is in on a day; `missed`: see `Referred.missed_by`."""
    if ask.over_by(on):
        return _ended(ask, on, missed)
    found = state(ask.loop, on, rules, calendar)
    if found.stage == LOOK_THROUGH:
        return "look_through"
    if found.stage == "decision":
        return "stopped"
    if not found.is_open:
        return _ended(ask, on, missed)
    return _OPEN[found.stage][missed]


_OPEN: dict[Stage, tuple[ReferralState, ReferralState]] = {
    "sent": ("not_sent", "not_sent_late"),
    "gp_acted": ("sent", "sent_late"),
    "accepted": ("sent", "sent_late"),
    "seen": ("accepted", "accepted_late"),
    "result": ("seen", "seen_late"),
}
"""By the stage that is not known yet: how it stands in time, and late."""


def _ended(ask: Referred, on: date, missed: bool) -> ReferralState:
    known = {event.what for event in ask.loop.events if event.on <= on}
    if ask.end_reason == RESULT_BACK or "result" in known:
        return "result_late" if missed else "result_in_time"
    if ask.end_reason is None or ask.end_reason == "superseded":
        return "replaced_late" if missed else "replaced"
    found = REFERRAL_ENDS[cast(EndReason, ask.end_reason)]
    if missed and found == "entered_in_error":
        return "error_late"
    return "groundless" if found == "decided" and "no_longer_asked" in known else found


class StageLine(msgspec.Struct, frozen=True):
    """How many referrals are on record as having come to a stage, and how many were late there."""

    stage: Stage
    recorded: int
    late: int
    """Past the day of the stage before it or a later one was on record."""


def stage_lines(
    sent: Iterable[Referred], on: date, *, at_end: bool = False
) -> tuple[StageLine, ...]:
    """Return a line for each stage, in order, of some referrals on a day, or at its end."""
    recorded: Counter[Stage] = Counter()
    late: Counter[Stage] = Counter()
    for one in sent:
        if one.loop.referral.asked_on <= on:
            recorded.update(one.recorded(on).keys())
            late.update(one.late_stages(on, at_end=at_end))
    return tuple(StageLine(stage, recorded[stage], late[stage]) for stage in RECORDED)
