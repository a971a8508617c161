"""The sheet that a person takes home: in plain words, as far as the clinician chooses."""

from __future__ import annotations

from pathlib import Path

import pdfplumber
import pytest

from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.people.visit_sheet import print_sheet, visit_sheet
from recall.errors import InputError, NotFound, Refused
from recall.letters.wording.blocks import plain
from recall.records.database.store import Store
from tests.desk.practice import KERATIN, desk_at, somebody, visit
from tests.letters import readability

AGE_12 = 7
"""The seventh school year of the grades that the formulas give; see the tests of the letters."""
FLUID = Ear(wax_found="occluding", clearance="cleared", drum_seen="full", effusion="suspected")
WELL = Ear(drum_seen="full", effusion="absent", tensa_grade=0)


@pytest.fixture
def desk(store: Store) -> Desk:
    """The clinical lead's desk, with a child who was seen today."""
    opened = desk_at(store, by="clara")
    visit(opened, somebody(opened), right=FLUID, left=WELL)
    return opened


def test_it_says_what_was_found_when_what_happens_and_when_not_to_wait(desk: Desk) -> None:
    text = plain(visit_sheet(desk, "W1").body)

    assert "Right ear: ear wax, which we took out, perhaps fluid behind the eardrum." in text
    assert "Left ear: nothing that needs to be followed." in text
    assert "We would like to look at the ear again. About 13 October 2026" in text
    assert "by 27 October 2026 at the latest" in text
    assert "Call 999" in text and "Clara Voss" in text


def test_the_clinician_chooses_what_of_the_findings_is_written_down(desk: Desk) -> None:
    some = plain(visit_sheet(desk, "W1", leaves_out=("effusion",)).body)
    none = plain(visit_sheet(desk, "W1", tells_findings=False).body)

    assert "ear wax" in some and "fluid behind" not in some
    assert "What we found" not in none and "What happens next" in none


def test_a_referral_says_where_by_when_and_what_to_do_if_nothing_comes(store: Store) -> None:
    desk = desk_at(store, by="clara")
    visit(desk, somebody(desk), right=KERATIN)

    text = plain(visit_sheet(desk, "W1").body)

    assert "We refer you to this service: ear, nose and throat department." in text
    assert "If you have heard nothing by" in text


def test_it_is_read_at_age_12_or_below(desk: Desk) -> None:
    """Flesch-Kincaid, as `readability.py` cites it; findings are a list of words, not sentences."""
    text = plain(visit_sheet(desk, "W1", tells_findings=False).body)

    assert readability.flesch_kincaid_grade(text.replace("\n", ". ")) <= AGE_12


@pytest.mark.parametrize("name", [n for n, f in CATALOGUE.items() if f.plain])
def test_words_for_people_are_not_words_of_the_trade(name: str) -> None:
    trade = ("effusion", "retract", "perforat", "tympan", "keratin", "polyp", "stenos", "mastoid")

    assert not [word for word in trade if word in CATALOGUE[name].plain.lower()]


def test_it_can_be_printed(desk: Desk, tmp_path: Path) -> None:
    print_sheet(desk, visit_sheet(desk, "W1"), tmp_path / "sheet.pdf")

    with pdfplumber.open(tmp_path / "sheet.pdf") as pdf:
        assert len(pdf.pages) == 1
        assert "What happens next" in pdf.pages[0].extract_text()


def test_what_cannot_be_made_is_said(desk: Desk) -> None:
    somebody(desk, "W2", adult=False)

    with pytest.raises(Refused, match="no visit"):
        visit_sheet(desk, "W2")
    with pytest.raises(NotFound):
        visit_sheet(desk, "W9")
    with pytest.raises(InputError, match="'colour' is no finding"):
        visit_sheet(desk, "W1", leaves_out=("colour",))
