"""What the sheet to take home says of an ear: normal where it was, suspected where it may be."""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.ear import Ear
from recall.desk.people.visit_sheet import visit_sheet
from recall.letters.wording.blocks import plain
from recall.records.database.store import Store
from tests.desk.practice import KERATIN, desk_at, later, somebody, visit

WELL = Ear(drum_seen="full", attic_seen=True, effusion="absent", tensa_grade=0)


def test_a_normal_ear_is_called_normal_and_what_is_suspected_may_be(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person = somebody(desk, born=date(1960, 5, 4), adult=False)
    waxy = Ear(
        wax_found="occluding",
        clearance="cleared",
        wax_left="none",
        drum_seen="full",
        attic_seen=True,
    )
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
        Ear(drum_seen="full"),
        Ear(attic_seen=True, effusion="absent"),
        Ear(wax_found="some", wax_left="some", drum_seen="full"),
        Ear(
            wax_found="some",
            clearance="failed",
            wax_left="some",
            drum_seen="full",
            attic_seen=True,
        ),
        Ear(wax_found="some", clearance="not_attempted", drum_seen="full", attic_seen=True),
        Ear(drum_seen="full", attic_seen=True, perforation="healed"),
        Ear(wax_found="occluding", clearance="failed", wax_left="occluding", drum_seen="none"),
        Ear(hearing_screen="passed"),
    ],
)
def test_what_was_not_wholly_seen_is_never_called_normal(store: Store, ear: Ear) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk, born=date(1960, 5, 4), adult=False), right=ear)
    assert "normal" not in plain(visit_sheet(desk, "W1").body)


def said_of(store: Store, **ears: Ear) -> str:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk, born=date(1960, 5, 4), adult=False), **ears)
    return " ".join(plain(visit_sheet(desk, "W1").body).split())


def test_a_little_wax_that_was_taken_out_is_told_in_each_ear(store: Store) -> None:
    cleared = Ear(wax_found="some", clearance="cleared", wax_left="none", drum_seen="full")
    failed = Ear(wax_found="some", clearance="failed", wax_left="some", drum_seen="full")
    text = said_of(store, right=cleared, left=failed)
    assert "Right ear: ear wax, which we took out." in text
    assert "Left ear: ear wax, which did not come out." in text


def test_lists_end_with_and_and_skin_where_it_should_not_be_is_a_sentence(store: Store) -> None:
    fluid = Ear(
        wax_found="occluding",
        clearance="cleared",
        wax_left="none",
        drum_seen="full",
        effusion="present",
    )
    skin = Ear(drum_seen="full", attic_seen=True, attic_grade=4, keratin=True, red=True)
    text = said_of(store, right=fluid, left=skin)
    assert "Right ear: ear wax, which we took out, and fluid behind the eardrum." in text
    assert (
        "Left ear: a red eardrum and a deep pocket at the top of the eardrum. "
        "There is also what may be skin growing where it should not."
    ) in text
