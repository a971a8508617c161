"""Lines of the plan struck out, or made more or less urgent, by somebody who may decide."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

import msgspec

from recall.care.case import To, Track, Visit
from recall.care.ear import Ear, Side
from recall.protocol.loading import Protocol
from recall.schedule.beside import taken_today
from recall.schedule.deciding import moved, raised, weighed
from recall.schedule.ending import gives_way
from recall.schedule.explained import only_sure
from recall.schedule.judging import (
    Judged,
    explained_away,
    put_off,
    put_off_referral,
    rules_of,
    without_rule,
)
from recall.schedule.merging import RANK
from recall.schedule.open_ledger import Key, OpenLedger
from recall.schedule.plan import Decision, Due, Referral


class JudgedLedger(OpenLedger):
    """What stands open of one person, as it is judged line by line."""

    def __init__(self, protocol: Protocol) -> None:
        super().__init__()
        self.protocol = protocol
        self.judged = Judged(protocol)
        self.visits: list[Visit] = []
        self.last: Visit | None = None
        """The last visit that had findings."""

    def judge(self, decision: Decision) -> None:
        """Strike a line out, or make it more or less urgent."""
        ears = _ears_at(self.last, decision.ear)
        if decision.to is None:
            assert decision.track is not None
            key: Key = (decision.ear, decision.track, decision.kind)
            due = self.open.get(key)
            due = due if due is not None and decision.rule in rules_of(due) else None
            if self._may_hold(decision, due, (decision.track,), ears) and due is not None:
                self._judge_due(key, due, decision)
            return
        place = (decision.ear, decision.to)
        referral = self.referrals.get(place)
        tracks = [r.track for r in referral.reasons if r.rule == decision.rule] if referral else []
        referral = referral if tracks else None
        if self._may_hold(decision, referral, tracks, ears) and referral is not None:
            self._judge_referral(place, referral, decision)

    def _needs_none(self, retry: Due, referred: Iterable[Referral], on: date) -> bool:
        """Return whether a second try is struck out, or is one at wax that ENT takes out today."""
        if self.judged.struck(retry.ear, retry.track, retry.rule):
            return True
        return (
            retry.track == "wax"
            and gives_way(self.protocol, on)
            and taken_today(retry.ear, referred)
        )

    def _may_hold(
        self,
        decision: Decision,
        line: Due | Referral | None,
        tracks: Sequence[Track],
        ears: tuple[Ear | None, Ear | None],
    ) -> bool:
        """Keep a judgement that makes a line milder; return whether the line may be changed."""
        urgency = decision.urgency
        if line is not None and urgency and RANK[urgency] < RANK[line.urgency]:
            return True
        sure = only_sure(self.protocol, decision.on)
        if line is not None and not explained_away(line.urgency, tracks, decision, ears, sure):
            return False
        track = next(iter(tracks), decision.track or "drum")
        self.judged.hold(decision, track, self.visits)
        return True

    def _judge_due(self, key: Key, due: Due, decision: Decision) -> None:
        if decision.action == "weigh":
            if due.urgency != decision.urgency:
                self._close(key, decision.on, "superseded", None)
                again = moved(due, decision)
                pressing = decision.urgency and RANK[decision.urgency] < RANK[due.urgency]
                if pressing and only_sure(self.protocol, decision.on):
                    again = raised(again, again.urgency, decision.on, self.protocol)
                self.open[key] = again
            return
        if not all(self.judged.struck(key[0], key[1], rule) for rule in rules_of(due)):
            return
        self._close(key, decision.on, "struck_out", None)
        retry: Key = (key[0], key[1], "retry")
        if key[2] == "recheck" and retry in self.open:
            self._close(retry, decision.on, "struck_out", None)
        later = put_off(due, decision)
        if later is not None:
            self.open[key] = later

    def _judge_referral(self, key: tuple[Side, To], referral: Referral, decision: Decision) -> None:
        changed: Referral | None = None
        if decision.action == "weigh":
            if decision.urgency in (None, referral.urgency):
                return
            changed = weighed(referral, decision.urgency, decision.on, self.protocol)
        elif rest := without_rule(referral, decision.rule):
            self.referrals[key] = msgspec.structs.replace(referral, reasons=rest)
            return
        else:
            changed = put_off_referral(referral, decision)
        if changed is None:
            self._end_referral(key, decision.on, "struck_out")
            return
        if referral.asked_on != decision.on:
            self._end_referral(key, decision.on, "superseded")
        self.referrals[key] = msgspec.structs.replace(changed, asked_on=decision.on)


def _ears_at(visit: Visit | None, side: Side) -> tuple[Ear | None, Ear | None]:
    """Return an ear and the other one, as a visit found them."""
    if visit is None:
        return None, None
    pair = (visit.right, visit.left)
    return pair if side == "right" else pair[::-1]
