"""What the sheet to take home says of a referral that was seen, and of one that was not."""

from __future__ import annotations

from datetime import date

from sqlalchemy import select

from recall.care.ear import Ear
from recall.desk.people.visit_sheet import visit_sheet
from recall.desk.referrals.progress import seen
from recall.letters.wording.blocks import plain
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import desk_at, somebody, visit

POCKET = Ear(drum_seen="full", attic_seen=True, attic_grade=3)


def _told(store: Store) -> str:
    return " ".join(
        plain(visit_sheet(desk_at(store, date(2026, 11, 30), by="clara"), "W1").body).split()
    )


def test_what_was_seen_and_has_no_result_is_awaited_and_not_told_to_be_late(store: Store) -> None:
    """Found by a practitioner: "should have been seen" was told of who was seen there."""
    desk = desk_at(store, date(2026, 3, 2), by="clara")
    visit(desk, somebody(desk, born=date(1960, 5, 4), adult=False), right=POCKET)
    late = _told(store)
    with store.read() as session:
        number = session.scalars(select(tables.Referral.id)).one()
    seen(desk_at(store, date(2026, 3, 20), by="clara"), number, None)
    awaited = _told(store)

    assert "You should have been seen there by now" in late
    assert "You were seen there: we are waiting for the result." in awaited
    assert "should have been seen" not in awaited
