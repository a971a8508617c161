"""What the care of others takes over: referrals that it has taken up, and looks of our own."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date

from recall.care.case import Case, To, UnderCare
from recall.care.ear import SIDES, Ear, Side
from recall.protocol.loading import Protocol
from recall.schedule.again import CARE_RULE, after_care
from recall.schedule.asking import Asked
from recall.schedule.cared_for import (
    counted_anew,
    covers,
    left_to_care,
    names_of,
    one_look,
    silences,
    watched_with,
)
from recall.schedule.ending import restrained
from recall.schedule.explained import only_sure
from recall.schedule.followed_there import left_to_them
from recall.schedule.judged_ledger import JudgedLedger
from recall.schedule.known import known_of
from recall.schedule.one_place import Elsewhere, left_to_others
from recall.schedule.open_ledger import Key
from recall.schedule.plan import Due, Referral


class CaredForLedger(JudgedLedger):
    """What stands open of one person beside what others are asked, or have under their care."""

    def __init__(self, case: Case, protocol: Protocol) -> None:
        super().__init__(protocol)
        self.case = case
        self.known = known_of(case)
        self.asked = Asked()
        self.held_looks: list[Due] = []
        """What the last visit would have asked for beside something that takes the place of it."""

    def take_up(self, on: date) -> None:
        """End the referrals that care which starts on a day has taken up."""
        active = self.known.care_on(on)
        for care in active:
            self._hand_over(care.of, on)
        if not only_sure(self.protocol, on):
            return
        for due in left_to_them(self.open.values(), active):
            self._close((due.ear, due.track, due.kind), on, "superseded", on)

    def _elsewhere(self, on: date, more: Sequence[Referral] = ()) -> Elsewhere:
        return Elsewhere((*self.referrals.values(), *more), on)

    def _look_once(
        self, care: Sequence[UnderCare], ears: Mapping[Side, Ear | None], on: date
    ) -> None:
        """Keep one look at a thing that a service has, or is asked to take, into its care."""
        for due in left_to_care(self.open.values(), self.asked.known, ears):
            self._close((due.ear, due.track, due.kind), on, "superseded", on)
        there, watches = self._elsewhere(on), watched_with(self.protocol, on)
        for due in left_to_others(self.open.values(), there, ears, self.protocol):
            self._close((due.ear, due.track, due.kind), on, "superseded", on)
            self.held_looks.append(due)
        for side, ear in ears.items():
            found = one_look(self.open.values(), side, care, ear, there.referrals, watches)
            if found is None:
                continue
            for due in found[1]:
                self._close((due.ear, due.track, due.kind), on, "superseded", on)
            kept = counted_anew(found[0], on)
            self.open[kept.ear, kept.track, kept.kind] = kept

    def _hand_over(self, to: To, on: date) -> None:
        """End the referrals that a service has taken up."""
        active = self.known.care_on(on)
        for key, referral in list(self.referrals.items()):
            if key[1] != to or referral.urgency == "emergency":
                continue
            taking, ear = active, None
            if restrained(self.protocol, referral.asked_on):
                # what was referred while that care ran was new to it
                taking = self.known.care_since(referral.asked_on, on)
                ear = getattr(self.last, key[0], None)
            if only_sure(self.protocol, referral.asked_on):
                rules = [r.rule for r in referral.reasons]
                taking = [c for c in taking if silences(c, referral.urgency, rules)]
            about = [(t, referral.urgency) for t in {r.track for r in referral.reasons}]
            if all(
                any(covers(c, key[0], to, *one, names_of(c.track, ear)) for c in taking)
                for one in about
            ):
                self._end_referral(key, on, "under_care")

    def _watch_care(self, on: date) -> None:
        """Ask from time to time whether care elsewhere is still running."""
        active = self.known.care_on(on)
        wanted: dict[Key, To] = {}
        for care in active:
            for side in (care.ear,) if care.ear else SIDES:
                wanted.setdefault((side, care.track or "surveillance", "loop"), care.of)
        for key in [k for k in self.open if k[2] == "loop" and k not in wanted]:
            self._close(key, on, "resolved", on)
        for key in wanted:
            if key in self.open or self.judged.struck(key[0], key[1], CARE_RULE):
                continue
            self.open[key] = after_care(key, on, self.protocol)
