"""What stands open while visits are gone through, and how each line that stood has ended."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from functools import reduce
from operator import attrgetter

import msgspec

from recall.care.case import To, Track
from recall.care.ear import SIDES, Side
from recall.schedule.merging import RANK, merged, renewed, winner
from recall.schedule.plan import (
    CloseReason,
    Closing,
    Decision,
    Due,
    EndReason,
    Kind,
    Ledger,
    Referral,
    ReferralEnd,
)

Key = tuple[Side, Track, Kind]
_SAME = attrgetter("latest", "rule", "rule_version", "earliest", "target", "urgency", "do", "needs")


class OpenLedger:
    """The dues and referrals of one person that are open, and the ends of the others."""

    def __init__(self) -> None:
        self.open: dict[Key, Due] = {}
        self.closings: list[Closing] = []
        self.referrals: dict[tuple[Side, To], Referral] = {}
        self.referral_ends: list[ReferralEnd] = []
        self.beside: dict[tuple[Side, To], tuple[Referral, ...]] = {}
        """What was asked for another reason, as soon as what stood there already."""

    def ledger(self) -> Ledger:
        """Return the whole story so far."""
        return Ledger(
            open=tuple(sorted(self.open.values(), key=_in_order)),
            closings=tuple(self.closings),
            referrals=tuple(self.referrals.values()),
            referral_ends=tuple(self.referral_ends),
        )

    def _keep_asking(self, asked: Sequence[Due], on: date) -> None:
        """Let what is asked on a day join what already stands."""
        new: dict[Key, list[Due]] = {}
        for due in asked:
            new.setdefault((due.ear, due.track, due.kind), []).append(due)
        for key, dues in new.items():
            self._stand(key, dues, on)

    def _stand(self, key: Key, dues: list[Due], on: date) -> None:
        standing = self.open.get(key)
        if standing is None:
            self.open[key] = winner(dues)
            return
        best = winner([standing, *dues])
        if best is standing or _same(best, standing):
            return
        self._close(key, on, "superseded", on)
        anchor = best.anchor if best.asked_on == on else best.counted_from
        self.open[key] = msgspec.structs.replace(best, asked_on=on, anchor=anchor)

    def _close_told(self, key: Key, on: date) -> None:
        """Close what others have looked at, and the second try at it."""
        kinds: tuple[Kind, ...] = ("recheck", "retry")
        for kind in kinds:
            if (key[0], key[1], kind) in self.open:
                self._close((key[0], key[1], kind), on, "answered", None)

    def _close_with_retry(self, key: Key, on: date, reason: CloseReason) -> None:
        self._close(key, on, reason, on)
        retry: Key = (key[0], key[1], "retry")
        if retry in self.open:
            self._close(retry, on, reason, on)

    def _close(self, key: Key, on: date, reason: CloseReason, visit_on: date | None) -> None:
        due = self.open.pop(key)
        self.closings.append(Closing(due=due, on=on, reason=reason, visit_on=visit_on))

    def _refer_one(self, referral: Referral, on: date) -> None:
        """Refer, or let it join the one that stands; one that presses more is asked anew."""
        key = (referral.ears[0], referral.to)
        standing = self.referrals.get(key)
        if standing is None:
            self.referrals[key] = referral
            return
        joined = merged(standing, referral)
        if standing.asked_on == on:
            self.referrals[key] = joined
        elif (joined.urgency, joined.stages) != (standing.urgency, standing.stages):
            self._end_referral(key, on, "superseded")
            stages = renewed(standing.stages, referral.stages, on)
            self.referrals[key] = msgspec.structs.replace(joined, stages=stages, asked_on=on)
        else:
            self.referrals[key] = msgspec.structs.replace(standing, reasons=joined.reasons)
            had = {reason.rule for reason in standing.reasons}
            if new := tuple(reason for reason in referral.reasons if reason.rule not in had):
                beside = msgspec.structs.replace(referral, reasons=new, asked_on=on)
                self.beside[key] = (*self.beside.get(key, ()), beside)

    def _close_referral(self, decision: Decision) -> bool:
        """End the referral that a decision is about, if it stands; return whether it did.

        What came of an earlier one answers nothing that was asked of that service since, nor
        what a visit of the same day asked for another reason; nor, of one that is told later, as
        by a file, what was found after the day it is `until`.
        """
        assert decision.to is not None, "a referral is to a service"
        key = decision.ear, decision.to
        standing, meant = self.referrals.get(key), decision.asked_on
        if standing is None or (meant is not None and standing.asked_on > meant):
            return False
        self._end_referral(key, decision.on, decision.reason)
        beside, until = self.beside.pop(key, ()), decision.until or decision.on
        since = [r for r in beside if until < r.asked_on or r.asked_on == decision.on]
        if meant is not None and (stays := [r for r in since if r.asked_on > meant]):
            last = max(r.asked_on for r in stays)
            self.referrals[key] = msgspec.structs.replace(reduce(merged, stays), asked_on=last)
        return True

    def _end_referral(self, key: tuple[Side, To], on: date, reason: EndReason) -> None:
        ended = self.referrals.pop(key)
        self.referral_ends.append(ReferralEnd(referral=ended, on=on, reason=reason))


def _same(one: Due, other: Due) -> bool:
    """Return whether two dues ask for the same, whoever asked and whenever."""
    return bool(_SAME(one) == _SAME(other))


def _in_order(due: Due) -> tuple[object, ...]:
    return (due.latest, RANK[due.urgency], due.target, SIDES.index(due.ear), due.track, due.kind)
