"""Rows and plan values for the tests of the register."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import msgspec
from sqlalchemy import select
from sqlalchemy.orm import Session

from recall.care.ear import Ear
from recall.records import tables
from recall.records.ledger.storing import Opening, Who
from recall.records.tables import Findings, Person, Visit
from recall.schedule.plan import Closing, Due, FollowUp, Ledger, Reason, Referral, Stages
from tests.conftest import NOW

DAY = date(2026, 9, 1)
MADE: dict[str, Any] = {"on": DAY, "recorded_at": NOW, "by_id": 1}
WHO = Who(1, NOW, DAY)


def person(session: Session, ref: str = "W1", **more: Any) -> Person:
    row = Person(**{"ref": ref, "family_name": "Marsh", "born": date(2018, 3, 2), **MADE, **more})
    session.add(row)
    session.flush()
    return row


def visit(session: Session, person_id: int, on: date = DAY, **ears: Ear) -> Visit:
    row = Visit(person_id=person_id, source="entered", **{**MADE, "on": on})
    session.add(row)
    session.flush()
    for side, ear in ears.items():
        content = msgspec.json.encode(ear).decode()
        session.add(Findings(visit_id=row.id, ear=side, content=content))
    session.flush()
    return row


def due(**more: Any) -> Due:
    asked_on = more.pop("asked_on", DAY)
    return Due(
        **{
            "ear": "right",
            "track": "fluid",
            "category": "fluid_recheck",
            "rule": "fluid-child-look",
            "rule_version": 1,
            "earliest": asked_on + timedelta(weeks=4),
            "target": asked_on + timedelta(weeks=6),
            "latest": asked_on + timedelta(weeks=8),
            "says": "Look again.",
            "source": "common practice",
            "known_by": "CP",
            "asked_on": asked_on,
            **more,
        }
    )


def referral(asked_on: date = DAY, **more: Any) -> Referral:
    days = {"sent_by": 3, "accepted_by": 14, "seen_by": 42, "result_by": 84}
    stages = Stages(**{n: asked_on + timedelta(days=d) for n, d in days.items()})
    why = Reason(
        ear="right",
        track="retraction",
        rule="attic-worn",
        rule_version=1,
        says="Worn bone.",
        source="common practice",
        known_by="CP",
    )
    return Referral(
        **{
            "to": "ent",
            "ears": ("right",),
            "urgency": "high",
            "within_days": 42,
            "stages": stages,
            "reasons": (why,),
            "asked_on": asked_on,
            **more,
        }
    )


def ledger(*still_open: Due, **more: Any) -> Ledger:
    return Ledger(**{"open": still_open, "closings": (), "referrals": (), **more})


def closing(of: Due, on: date, reason: Any = "answered", visit_on: date | None = None) -> Closing:
    return Closing(due=of, on=on, reason=reason, visit_on=visit_on)


def opens(follow_up: FollowUp) -> Opening:
    return Opening("invitation", follow_up.earliest - timedelta(weeks=2))


def rows(session: Session, table: Any) -> list[Any]:
    return list(session.scalars(select(table).order_by(table.id)))


def last_told(session: Session, entity: str) -> tuple[str, Any, Any]:
    """Return what the history says last of such a thing: what happened, what was, what is."""
    wanted = select(tables.History.id, tables.History.what).where(tables.History.entity == entity)
    number, what = session.execute(wanted.order_by(tables.History.id.desc()).limit(1)).one()
    content = msgspec.json.decode(session.get_one(tables.HistoryPayload, number).content or "")
    return what, content["was"], content["now"]
