"""How referrals end: their rows closed, the fold told, care elsewhere recorded."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.case import Track, UnderCare
from recall.care.ear import Side
from recall.desk.core.acting import Act
from recall.loop.referral import ReferralLoop
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.facts.referral_loops import referral_loops
from recall.schedule.plan import CloseReason


def together(session: Session, row: tables.Referral) -> list[int]:
    """Return the open referrals that were asked on the same day to the same service."""
    r = tables.Referral
    same = r.person_id == row.person_id, r.to == row.to, r.asked_on == row.asked_on
    wanted = select(r.id).where(*same, r.is_open, stands(tables.Referral)).order_by(r.id)
    return list(session.scalars(wanted))


def close_all(act: Act, numbers: Sequence[int], reason: CloseReason, why: str) -> None:
    """Close some open referrals of one person, for a decided reason."""
    loops = referral_loops(act.session, numbers)
    for number in numbers:
        words = f"{reason.replace('_', ' ')}: {why.strip()}"
        act.add("referral_event", referral_id=number, what="closed", reason=words)
        end_row(act, number, loops[number], reason, reason, why)


def end_row(
    act: Act, number: int, loop: ReferralLoop, end_reason: str, reason: CloseReason, why: str
) -> None:
    """Close a row, and tell the fold, so that what is found later is asked for anew."""
    today = act.desk.today
    ends = {"is_open": False, "chase_on": None, "ended_on": today, "end_reason": end_reason}
    act.set("referral", number, **ends)
    for side in loop.referral.ears:
        act.add(
            "decision",
            person_id=act.person_id,
            ear=side,
            to=loop.referral.to,
            kind="recheck",
            asked_on=loop.referral.asked_on,
            action="close",
            reason=reason,
            why=why.strip(),
        )


def under_care(act: Act, loop: ReferralLoop, until: date | None) -> None:
    """Record that a service follows what it was asked about."""
    known: dict[tuple[Side, Track], None] = {}
    for reason in loop.referral.reasons:
        known[reason.ear, reason.track] = None
    for (ear, track), _ in known.items():
        care = UnderCare(
            of=loop.referral.to,
            ear=ear,
            track=track,
            since=act.desk.today.isoformat(),
            until=until.isoformat() if until else None,
        )
        content = msgspec.json.encode(care).decode()
        act.add("under_care", person_id=act.person_id, content=content)
