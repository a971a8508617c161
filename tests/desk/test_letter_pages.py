"""A letter to a colleague on its page: on one sheet where it can be."""

from __future__ import annotations

from pathlib import Path

import msgspec
import pdfplumber
import pytest
from sqlalchemy import select

from recall.care.case import Visit
from recall.care.ear import Ear
from recall.desk.referrals.colleague_letters import Sending, referral_letter
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance
from recall.letters.composed import ComposedLetter
from recall.letters.pages import make_pdf
from recall.records import tables
from recall.records.database.store import Store
from recall.records.facts.referral_loops import referral_loops
from tests.desk.practice import desk_at, somebody

USUAL = 12
SMALLEST = 10
ACUTE = Ear(wax_found="none", drum_seen="full", attic_seen=True, effusion="present", bulging=True,
            red=True, hearing_screen="could_not_test", perforation="none", canal_skin="normal",
            tensa_grade=0)  # fmt: skip
BESIDE = Ear(wax_found="some", clearance="not_attempted", drum_seen="full", attic_seen=True,
             effusion="absent", tensa_grade=0, perforation="none", discharge="none",
             canal_skin="normal", hearing_screen="could_not_test")  # fmt: skip


@pytest.fixture
def acute(store: Store) -> ComposedLetter:
    """A child's acute infection with hearing that gets worse, both ears examined in full."""
    desk = desk_at(store, by="clara")
    person = somebody(desk)
    told = Visit(on=desk.today, reported=("pain", "worsening_hearing_loss"), right=ACUTE,
                 left=BESIDE)  # fmt: skip
    close_visit(desk, draft(desk, "W1", told), Acceptance(looked=True))
    with desk.store.read() as session:
        numbers = list(session.scalars(select(tables.Referral.id).order_by(tables.Referral.id)))
        first = referral_loops(session, numbers)[numbers[0]].referral
        made = referral_letter(desk, session, person, [first], Sending())
    return msgspec.structs.replace(made, address=("ENT department", "Mill Road", "Wrenfield"))


def _sizes(letter: ComposedLetter, out: Path) -> list[set[float]]:
    """Return the sizes of letters on each page, below the window."""
    make_pdf([letter], out, title="Referral")
    with pdfplumber.open(out) as pdf:
        return [{round(c["size"], 1) for c in page.chars if c["top"] > 300} for page in pdf.pages]


def test_an_acute_referral_is_one_sheet_that_can_be_read(
    acute: ComposedLetter, tmp_path: Path
) -> None:
    (sizes,) = _sizes(acute, tmp_path / "acute.pdf")

    assert min(sizes) >= SMALLEST


def test_what_fits_no_sheet_is_in_the_usual_size(acute: ComposedLetter, tmp_path: Path) -> None:
    long = msgspec.structs.replace(acute, body=(*acute.body, *acute.body))

    sizes = _sizes(long, tmp_path / "long.pdf")

    assert len(sizes) > 1
    assert all(min(page) >= USUAL for page in sizes)


def test_a_short_one_is_in_the_usual_size(acute: ComposedLetter, tmp_path: Path) -> None:
    (sizes,) = _sizes(msgspec.structs.replace(acute, body=acute.body[:6]), tmp_path / "short.pdf")

    assert min(sizes) >= USUAL
