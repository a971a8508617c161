"""What the sheet to take home says of an ear: normal where it was, suspected where it may be."""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.ear import Ear
from recall.desk.people.visit_sheet import visit_sheet
from recall.letters.wording.blocks import plain
from recall.records.database.store import Store
from tests.desk.practice import KERATIN, desk_at, later, somebody, visit

WELL = Ear(drum_seen="full", effusion="absent", tensa_grade=0)


def test_a_normal_ear_is_called_normal_and_what_is_suspected_may_be(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person = somebody(desk, born=date(1960, 5, 4), adult=False)
    waxy = Ear(wax_found="occluding", clearance="cleared", wax_left="none", drum_seen="full")
    visit(desk, person, right=waxy, left=WELL)
    text = plain(visit_sheet(desk, "W1").body)
    assert "Right ear: ear wax, which we took out; the ear looked normal after that." in text
    assert "The left ear looked normal." in text

    on = later(desk, 1)
    visit(on, person, right=KERATIN, left=WELL)
    text = plain(visit_sheet(on, "W1").body)
    assert "what may be skin growing where it should not" in text
    assert "The left ear looked normal." in text and "Right ear looked" not in text

    visit(on, somebody(on, "W2"), right=WELL, left=WELL)
    assert "Both ears looked normal." in plain(visit_sheet(on, "W2").body)


@pytest.mark.parametrize(
    "ear",
    [
        Ear(drum_seen="part", effusion="suspected"),
        Ear(drum_seen="part"),
        Ear(drum_seen="full", attic_seen=False),
        Ear(drum_seen="full", perforation="healed"),
        Ear(wax_found="occluding", clearance="failed", wax_left="occluding", drum_seen="none"),
        Ear(hearing_screen="passed"),
    ],
)
def test_what_was_not_wholly_seen_is_never_called_normal(store: Store, ear: Ear) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk, born=date(1960, 5, 4), adult=False), right=ear)
    assert "normal" not in plain(visit_sheet(desk, "W1").body)
