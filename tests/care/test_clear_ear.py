"""What the shortcut of a usual visit writes, and never writes."""

from __future__ import annotations

from datetime import date
from typing import get_args

import pytest

from recall.care.case import Case, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.clear_ear import Hears, Seen, Wax, clear_ear, normal_values
from recall.care.ear import Ear

BORN = date(1961, 4, 9)


@pytest.mark.parametrize("hears", get_args(Hears))
@pytest.mark.parametrize("wax", get_args(Wax))
def test_hearing_after_is_written_where_wax_was_taken_out(wax: Wax, hears: Hears) -> None:
    ear, left = clear_ear(Ear(), "right", None, normal_values(wax, "all", hears))

    assert ear.hearing_after == (None if wax == "none" else hears)
    assert left == frozenset()


def test_an_ear_that_could_not_be_cleared_hears_after_nothing() -> None:
    failed = Ear(clearance="failed")

    ear, _ = clear_ear(failed, "right", None, normal_values("occluding", "none", "better"))

    assert (ear.clearance, ear.hearing_after) == ("failed", None)


@pytest.mark.parametrize("seen", get_args(Seen))
def test_nothing_is_called_normal_that_was_not_in_view(seen: Seen) -> None:
    written = normal_values("some", seen, "better")
    shown = {n for n in written if n in CATALOGUE and CATALOGUE[n].clear_in}

    assert any(CATALOGUE[n].clear_in == "attic" for n in shown) is (seen == "all")
    assert any(CATALOGUE[n].clear_in == "drum" for n in shown) is (seen in ("all", "drum"))


def test_what_was_not_normal_last_time_is_left_and_what_is_recorded_stays() -> None:
    before = Case(born=BORN, visits=(Visit(on=date(2026, 1, 5), right=Ear(perforation="central")),))

    ear, left = clear_ear(Ear(tensa_grade=2), "right", before, normal_values("some", "all"))

    assert left == {"perforation"}
    assert (ear.perforation, ear.tensa_grade, ear.effusion) == (None, 2, "absent")
