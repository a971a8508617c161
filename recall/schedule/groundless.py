"""Referrals whose reason a visit found gone: to be asked about, once, at its closing.

Nothing is ended here: somebody who may decide says whether it still stands.
"""

from __future__ import annotations

from recall.care.ear import Ear
from recall.schedule.answering import NEEDS, documented_clear
from recall.schedule.fold import Folding
from recall.schedule.plan import Reason, Referral


def groundless(state: Folding) -> tuple[Referral, ...]:
    """Return the open referrals of earlier days whose every reason the last visit found gone."""
    visit = state.last
    if visit is None:
        return ()
    ears: dict[str, Ear | None] = {"right": visit.right, "left": visit.left}
    again = {(r.ear, r.rule) for one in state.asked.referrals for r in one.reasons}

    def gone(reason: Reason) -> bool:
        ear = ears[reason.ear]
        if ear is None or (reason.ear, reason.rule) in again:
            return False
        return documented_clear(reason.track, NEEDS[reason.track], ear)

    return tuple(
        referral
        for referral in state.referrals.values()
        if referral.asked_on < visit.on and all(map(gone, referral.reasons))
    )
