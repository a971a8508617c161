"""Asks for the tests of the accounts: made by hand, and those of a person's whole story."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta
from typing import Any

import msgspec

from recall.accounts.recheck import Recheck
from recall.loop.referral import ReferralEvent, ReferralLoop
from recall.schedule.plan import Decision, Due, Ledger, Referral, Stages

START = date(2026, 9, 1)
EARLIEST, LATEST = date(2026, 11, 20), date(2026, 12, 18)
DAY = timedelta(days=1)


def ask(**more: Any) -> Recheck:
    """A look at fluid that was asked for on the first of September."""
    values: dict[str, Any] = {
        "number": 1,
        "person": 1,
        "ear": "right",
        "track": "fluid",
        "kind": "recheck",
        "category": "fluid_recheck",
        "urgency": "medium",
        "asked_on": START,
        "earliest": EARLIEST,
        "latest": LATEST,
        "born": date(2020, 3, 2),
    }
    return Recheck(**{**values, **more})


def asks_of(ledger: Ledger, decisions: Iterable[Decision], person: int = 1) -> list[Recheck]:
    """Every ask that a fold tells of, as the records keep it."""
    decided = {(d.ear, d.track, d.kind, d.on): d for d in decisions}
    found: list[Recheck] = []
    for due in ledger.open:
        found.append(_of(due, len(found) + 1, person))
    for closing in ledger.closings:
        due = closing.due
        by = decided.get((due.ear, due.track, due.kind, closing.on))
        ended = msgspec.structs.replace(
            _of(due, len(found) + 1, person),
            ended_on=closing.on,
            reason=closing.reason,
            at_visit=closing.visit_on is not None,
            action=by.action if by else None,
            moved_to=by.latest if by else None,
        )
        found.append(ended)
    return found


def _of(due: Due, number: int, person: int) -> Recheck:
    names = ("ear", "track", "kind", "category", "urgency", "asked_on", "earliest", "latest")
    told = {name: getattr(due, name) for name in names}
    return Recheck(number=number, person=person, born=date(2018, 1, 1), **told)


def referral(urgency: str = "high", *events: ReferralEvent, route: Any = "direct") -> ReferralLoop:
    """A referral to ENT that was asked for on the first of September."""
    days = [START + timedelta(days=n) for n in (7, 42, 90, 120)]
    asked = Referral(
        to="ent",
        ears=("right",),
        urgency=urgency,  # type: ignore[arg-type]
        within_days=90,
        stages=Stages(sent_by=days[0], accepted_by=days[1], seen_by=days[2], result_by=days[3]),
        reasons=(),
        asked_on=START,
    )
    return ReferralLoop(referral=asked, route=route, events=events)
