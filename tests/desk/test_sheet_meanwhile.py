"""What the sheet to take home says was told and found, and what to do until the next visit."""

from __future__ import annotations

from datetime import date
from typing import get_args

import pytest

from recall.care.case import ReportWord, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear
from recall.desk.people.sheet_findings import SAID
from recall.desk.people.sheet_meanwhile import DIZZY, OF_EAR, meanwhile
from recall.desk.people.sheet_words import ADULT, CHILD, UNFINISHED, back_words
from recall.desk.people.visit_sheet import visit_sheet
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.letters.wording.blocks import plain
from recall.records.database.store import Store
from recall.schedule.plan import Advice
from tests.desk.practice import desk_at, somebody, visit

WELL = Ear(drum_seen="full", attic_seen=True, effusion="absent", tensa_grade=0)
DAY = date(2026, 11, 30)


def _until_then(ear: Ear, *, reported: tuple[ReportWord, ...] = (), goes_now: bool = False) -> str:
    """Return what is said of a right ear on the day it was found so, with nothing planned."""
    seen = Visit(on=DAY, right=ear, reported=reported)
    return "\n".join(meanwhile([seen], (), ADULT, goes_now=goes_now))


@pytest.mark.parametrize("ear", [
    Ear(perforation="central", perforation_new=True),
    Ear(discharge="purulent"),
    Ear(discharge="purulent", grommet="in_place"),
    Ear(discharge="purulent", perforation="central"),
    Ear(canal_skin="inflamed"),
    Ear(canal_swollen_shut=True),
    Ear(cavity=True),
])  # fmt: skip
def test_an_ear_that_must_be_kept_dry_is_said_so_whatever_is_planned(ear: Ear) -> None:
    """The NHS page on a perforated eardrum, from memory; an ear that runs: common practice."""
    (line,) = _until_then(ear).splitlines()

    assert line.startswith("Right ear: keep it dry, ")
    assert "no drops in but" in line or "nothing into it but" in line
    assert "Come back if" in line or "see a doctor or us at once" in line


def test_an_object_is_left_alone_even_on_the_way_to_hospital() -> None:
    """Saline deepened a battery's burn: Akgul, Acta ORL Ital 2023;43:149-54."""
    battery = Ear(foreign_body="button_battery", discharge="purulent")

    assert "Right ear: put no drops and no water in. Leave it alone" in _until_then(battery)
    assert "no water" in _until_then(battery, goes_now=True)
    assert not _until_then(Ear(discharge="purulent"), goes_now=True)
    assert not _until_then(Ear(foreign_body="other", clearance="cleared"))


def test_a_quiet_grommet_need_not_be_kept_dry() -> None:
    """AAO-HNSF tubes 2022: water need not be kept out of an ear with a tube as a rule."""
    line = _until_then(Ear(grommet="in_place"))

    assert "put no drops in" in line and "dry" not in line


def test_dizziness_says_when_to_call_999_and_names_no_ear(store: Store) -> None:
    desk = desk_at(store, DAY, by="clara")
    somebody(desk, born=date(1960, 5, 4), adult=False)
    well = {"right": WELL, "left": WELL}
    given = draft(desk, "W1", Visit(on=DAY, reported=("vertigo",), **well))
    close_visit(desk, given, Acceptance(looked=True))

    text = plain(visit_sheet(desk, "W1").body)

    assert DIZZY in text and "call 999 at once" in DIZZY
    assert "to the family doctor (GP) about your dizziness." in text
    assert "about both ears" not in text


def test_a_hole_is_kept_dry_until_a_look_shows_that_it_has_closed() -> None:
    hole = Visit(on=date(2026, 6, 1), left=Ear(drum_seen="full", perforation="central"))
    wax = Visit(on=DAY, left=Ear(wax_found="some"))
    healed = Visit(on=DAY, left=Ear(drum_seen="full", perforation="healed"))
    drops = [Advice(says="", rule="drops-first", ears=("left",))]

    (line,) = meanwhile([hole, wax], drops, CHILD, goes_now=False)

    assert line.startswith("Left ear: keep it dry") and "if your child hears less" in line
    assert not meanwhile([hole, healed], (), CHILD, goes_now=False)


def test_what_is_done_meanwhile_names_its_source_and_values_that_there_are() -> None:
    for one in OF_EAR:
        assert one.source
        for name, values in one.found.items():
            assert {*values} <= {*CATALOGUE[name].values}


def test_what_people_told_is_in_words_of_their_own() -> None:
    assert {*SAID} == {*get_args(ReportWord)}
    words = " ".join(SAID.values())
    trade = ("barotrauma", "tinnitus", "vertigo", "dizzy after care", "one sided", "_")
    assert not [word for word in trade if word in words]


def test_a_loss_is_told_by_its_grade_and_against_nobody(store: Store) -> None:
    """World report on hearing, WHO 2021, table 1.3: mild from 20 dB, at any age."""
    desk = desk_at(store, DAY, by="clara")
    person = somebody(desk, born=date(1950, 1, 1), adult=False)
    low = {"500": 20, "1000": 20, "2000": 20, "4000": 25}
    visit(desk, person, right=Ear(drum_seen="full", hearing_dB=low))  # type: ignore[arg-type]

    text = plain(visit_sheet(desk, "W1").body)

    assert "Right ear: a mild loss of hearing in the test." in text
    assert "most people" not in text


def test_what_may_be_cancer_of_the_skin_asks_that_the_appointment_is_kept(store: Store) -> None:
    desk = desk_at(store, DAY, by="clara")
    visit(desk, somebody(desk, born=date(1950, 1, 1), adult=False), right=Ear(pinna_lesion=True))

    text = plain(visit_sheet(desk, "W1").body)

    assert "a place on the outer ear that a doctor should look at" in text
    assert "can be a skin cancer" in text and "please keep this appointment" in text


def test_where_a_service_sees_it_at_once_nobody_waits_for_days_first() -> None:
    """A look tomorrow beside "no better after 3 days" would tell people to wait."""
    ill = Visit(on=DAY, right=Ear(canal_skin="inflamed"), left=Ear(canal_skin="inflamed"))

    right, left = meanwhile([ill], (), ADULT, goes_now=False, soon=("right",))

    assert "no better after 2 to 3 days of treatment, or gets worse" in right
    assert "no better after 2 to 3 days, or gets worse" in left


def test_wax_that_stayed_in_is_told_so(store: Store) -> None:
    desk = desk_at(store, DAY, by="clara")
    out = Ear(
        wax_found="occluding",
        clearance="cleared",
        wax_left="none",
        drum_seen="full",
        attic_seen=True,
    )
    stays = Ear(wax_found="occluding", clearance="failed", wax_left="occluding")
    visit(desk, somebody(desk, born=date(1960, 5, 4), adult=False), right=out, left=stays)

    text = plain(visit_sheet(desk, "W1").body)

    assert "Right ear: ear wax, which we took out; the ear looked normal after that." in text
    assert "Left ear: ear wax, which did not come out." in text


def test_wax_of_which_a_part_stayed_in_was_not_taken_out(store: Store) -> None:
    desk = desk_at(store, date(2027, 3, 1), by="clara")
    part = Ear(wax_found="occluding", clearance="cleared", wax_left="partial", drum_seen="part")
    visit(desk, somebody(desk, born=date(1960, 5, 4), adult=False), right=part)

    text = plain(visit_sheet(desk, "W1").body)

    assert "Right ear: ear wax, of which a part is still in." in text
    assert "We would like to finish clearing your right ear." in text


def test_an_itch_beside_eczema_gainsays_nothing_of_what_is_prescribed(store: Store) -> None:
    """Found by a practitioner: the one line allowed what is prescribed, the next one nothing."""
    desk = desk_at(store, date(2027, 3, 1), by="clara")
    somebody(desk, born=date(1960, 5, 4), adult=False)
    sore = Ear(drum_seen="full", canal_skin="eczema")
    given = draft(desk, "W1", Visit(on=desk.today, reported=("itch",), right=sore))
    close_visit(desk, given, Acceptance(looked=True))

    text = plain(visit_sheet(desk, "W1").body)

    assert text.count("nothing into it") == text.count("nothing into it but what is prescribed") > 0
    assert "do not scratch in it. Come back if it hurts or runs." in text


def test_an_emergency_of_both_ears_is_one_line(store: Store) -> None:
    desk = desk_at(store, DAY, by="clara")
    somebody(desk, born=date(1960, 5, 4), adult=False)
    seen = Visit(on=DAY, right=WELL, left=WELL, reported=("sudden_hearing_loss",))
    done = Acceptance(looked=True, acknowledged_by="clara", arranged_with="Dr Vane")
    close_visit(desk, draft(desk, "W1", seen), done)

    text = plain(visit_sheet(desk, "W1").body)

    assert text.count("Go today") == 1
    assert "Ear, nose and throat department (both ears). We arranged it with Dr Vane" in text


def test_of_an_ear_that_is_cleared_next_time_the_look_is_not_told_beside_it() -> None:
    aloud = {
        "We would like to look at the ear again.": ("left",),
        "We would like to finish clearing the ear.": ("left", "right"),
        UNFINISHED: ("right",),
    }

    assert back_words(aloud, ADULT) == ("We would like to finish clearing both your ears.",)
