"""Whatever the fold says, in whatever order, the rows stay whole."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import func, select

from recall.records import tables
from recall.records.database.store import open_store
from recall.records.journal import history
from recall.records.ledger.storing import store_ledger
from recall.schedule.plan import Due, Ledger
from tests import registers
from tests.records.build import DAY, WHO, closing, due, ledger, opens, person, visit
from tests.seeds import examples


@st.composite
def asks(draw: st.DrawFn) -> Due:
    asked_on = DAY + timedelta(weeks=draw(st.integers(0, 3)))
    wait = draw(st.integers(2, 12))
    return due(
        asked_on=asked_on,
        ear=draw(st.sampled_from(["right", "left"])),
        track=draw(st.sampled_from(["fluid", "wax", "hearing"])),
        urgency=draw(st.sampled_from(["urgent", "medium"])),
        earliest=asked_on + timedelta(weeks=wait),
        target=asked_on + timedelta(weeks=wait + 1),
        latest=asked_on + timedelta(weeks=wait + 3),
    )


@st.composite
def ledgers(draw: st.DrawFn) -> Ledger:
    """A ledger as the fold makes them: one open due for each (ear, track)."""
    found = draw(st.lists(asks(), max_size=6, unique_by=lambda d: (d.ear, d.track)))
    ended = [draw(st.booleans()) for _ in found]
    still = [d for d, gone in zip(found, ended, strict=True) if not gone]
    closed = [d for d, gone in zip(found, ended, strict=True) if gone]
    return ledger(*still, closings=tuple(closing(d, d.latest) for d in closed))


@settings(max_examples=examples(25))
@given(st.lists(ledgers(), min_size=1, max_size=5))
def test_rows_stay_whole(empty_register: Path, stories: list[Ledger]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.db"
        registers.copy(empty_register, path)
        store = open_store(path)
        with store.write() as session:
            who = person(session)
            visit(session, who.id)
        seen = 0
        for number, story in enumerate(stories):
            with store.write() as session:
                store_ledger(
                    session, who.id, story, replace(WHO, on=DAY + timedelta(number)), opens
                )
                rows = session.scalars(select(tables.Due)).all()
                still_open = {row.id for row in rows if row.is_open}

                assert len(rows) >= seen, "no row is removed"
                seen = len(rows)
                assert len(still_open) == len(story.open)
                assert holders(session) == dict.fromkeys(still_open, 1)
                assert idle(session) == []
                assert store_ledger(session, who.id, story, WHO, opens).changed == ()
        assert history.verify(store) == ()
        store.close()


def holders(session) -> dict[int, int]:
    """How many open follow-ups hold each open due."""
    wanted = (
        select(tables.Due.id, func.count())
        .join(tables.FollowUpDue, tables.FollowUpDue.due_id == tables.Due.id)
        .join(tables.FollowUp, tables.FollowUp.id == tables.FollowUpDue.follow_up_id)
        .where(tables.Due.is_open, tables.FollowUp.is_open, tables.FollowUpDue.left_at.is_(None))
        .group_by(tables.Due.id)
    )
    return dict(session.execute(wanted).all())


def idle(session) -> list[int]:
    """Open follow-ups that hold no open due."""
    held = (
        select(tables.FollowUpDue.follow_up_id)
        .join(tables.Due, tables.Due.id == tables.FollowUpDue.due_id)
        .where(tables.Due.is_open, tables.FollowUpDue.left_at.is_(None))
    )
    wanted = select(tables.FollowUp.id).where(
        tables.FollowUp.is_open, tables.FollowUp.id.not_in(held)
    )
    return list(session.scalars(wanted))
