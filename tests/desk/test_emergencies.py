"""An emergency is arranged by phone: no visit that asks for one is closed without with whom.

Sudden loss of hearing is seen within 24 hours: NICE NG98 (2018), 1.1.2.
"""

from __future__ import annotations

import pytest

from recall.care.case import Visit
from recall.desk.core.undo import undo
from recall.desk.referrals import progress
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import correction, draft
from recall.desk.visits.drafts import Acceptance
from recall.errors import Refused
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import DAY, FLUID, KERATIN, desk_at, history_is_whole, rows, somebody

LOSS = Visit(on=DAY, reported=("sudden_hearing_loss",))


@pytest.mark.parametrize("by", ["clara", "rob"])
def test_without_a_name_nothing_is_stored(store: Store, by: str) -> None:
    desk = desk_at(store, by=by)
    somebody(desk)
    before = len(rows(store, tables.History))
    for whom in ("", "  "):
        with pytest.raises(Refused, match="asks for an emergency"):
            close_visit(desk, draft(desk, "W1", LOSS), Acceptance(arranged_with=whom))
    assert rows(store, tables.Visit) == rows(store, tables.Referral) == []
    assert len(rows(store, tables.History)) == before


def test_with_whom_is_kept_with_the_referral(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    close_visit(desk, draft(desk, "W1", LOSS), Acceptance(arranged_with="Dr Sorrel, ENT"))
    asked = rows(store, tables.Referral, urgency="emergency")
    spoke = rows(store, tables.ReferralEvent, what="spoke")
    assert {e["referral_id"] for e in spoke} == {r["id"] for r in asked} != set()
    assert {e["spoke_with"] for e in spoke} == {"Dr Sorrel, ENT"}
    assert "Dr Sorrel, ENT" in progress.draft_letter(desk, asked[0]["id"]).text
    assert history_is_whole(store)


def test_what_was_arranged_already_is_not_asked_again(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    close_visit(desk, draft(desk, "W1", LOSS), Acceptance(arranged_with="Dr Sorrel, ENT"))
    spoke = len(rows(store, tables.ReferralEvent, what="spoke"))
    close_visit(
        desk,
        correction(desk, 1, Visit(on=DAY, reported=LOSS.reported, right=FLUID)),
        Acceptance(looked=True),
    )
    assert len(rows(store, tables.ReferralEvent, what="spoke")) == spoke


def test_taken_back_it_is_to_be_arranged_again(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    close_visit(desk, draft(desk, "W1", LOSS), Acceptance(arranged_with="Dr Sorrel, ENT"))
    undo(desk)
    assert rows(store, tables.ReferralEvent, what="spoke") == []
    undo(desk)
    assert rows(store, tables.Visit) == []
    with pytest.raises(Refused, match="asks for an emergency"):
        close_visit(desk, draft(desk, "W1", LOSS))


def test_what_is_urgent_needs_no_name(store: Store) -> None:
    desk = desk_at(store, by="clara")
    somebody(desk)
    close_visit(desk, draft(desk, "W1", Visit(on=DAY, right=KERATIN)))
    assert {r["urgency"] for r in rows(store, tables.Referral)} == {"urgent"}
