"""What a shortcut wrote of an ear gives way to what is typed. Common practice, no source."""

from __future__ import annotations

from datetime import date
from typing import Any, get_args

import msgspec
import pytest

from recall.care.case import Case, Visit
from recall.care.catalogue import CATALOGUE
from recall.care.clear_ear import Seen, Wax, clear_ear, normal_values
from recall.care.contradictions import contradictions
from recall.care.ear import Ear, recorded
from recall.care.giving_way import given_way

TYPED = [(f.name, v) for f in CATALOGUE.values() for v in f.values]


def typed_after(found: Wax, **typed: Any) -> Ear:
    """An ear written as clear, and what is left of that once something is typed otherwise."""
    clear = msgspec.structs.replace(Ear(), **normal_values(found, "all", "better"))
    ear = msgspec.structs.replace(clear, **typed)
    return given_way(ear, frozenset(recorded(clear)) - typed.keys())[0]


@pytest.mark.parametrize("seen", get_args(Seen))
@pytest.mark.parametrize("found", get_args(Wax))
def test_one_digit_never_contradicts_what_the_shortcut_wrote(found: Wax, seen: Seen) -> None:
    clear = msgspec.structs.replace(Ear(), **normal_values(found, seen, None))
    failed: list[tuple[str, Any, str]] = []
    for name, value in TYPED:
        typed = msgspec.structs.replace(clear, **{name: value})
        ear, left = given_way(typed, frozenset(recorded(clear)) - {name})
        if getattr(ear, name) != value:
            failed.append((name, value, "is lost"))
        clash = [c for c in contradictions(ear) if {c.row.field, c.row.other} & left]
        failed += [(name, value, f"{c.row.field} gainsays {c.row.other}") for c in clash]
        made_up = recorded(ear).keys() - recorded(typed).keys()
        failed += [(name, value, f"{field} is written anew") for field in sorted(made_up)]

    assert failed == []


def test_wax_that_did_not_come_out_hides_what_was_called_normal() -> None:
    ear = typed_after("occluding", clearance="failed")

    assert recorded(ear).keys() & {"effusion", "tensa_grade", "attic_seen", "perforation"} == set()
    assert (ear.wax_left, ear.drum_seen, ear.hearing_after) == ("occluding", "none", None)
    assert (ear.canal_skin, ear.discharge) == ("normal", "none")


def test_a_part_that_did_not_come_out_leaves_the_drum_as_it_was_seen() -> None:
    ear = typed_after("partial", clearance="failed")

    assert (ear.wax_left, ear.drum_seen, ear.effusion) == ("partial", "full", "absent")
    assert ear.hearing_after is None


def test_wax_that_blocks_still_was_not_cleared() -> None:
    ear = typed_after("occluding", wax_left="occluding")

    assert (ear.clearance, ear.hearing_after, ear.effusion) == ("failed", None, None)


def test_wax_that_came_out_after_all_leaves_the_drum_to_be_typed() -> None:
    clear = msgspec.structs.replace(Ear(), **normal_values("occluding", "all"))
    failed = msgspec.structs.replace(clear, clearance="failed")
    hidden, left = given_way(failed, frozenset(recorded(clear)) - {"clearance"})
    ear, _ = given_way(msgspec.structs.replace(hidden, clearance="cleared"), left)

    assert (hidden.wax_left, hidden.drum_seen) == ("occluding", "none")
    assert (ear.wax_left, ear.drum_seen, ear.canal_skin) == ("none", None, "normal")


def test_where_nothing_was_found_nothing_was_cleared() -> None:
    ear = typed_after("some", wax_found="none")

    assert (ear.clearance, ear.hearing_after, ear.drum_seen) == (None, None, "full")


@pytest.mark.parametrize("seen", ["part", "none"])
def test_a_drum_that_was_not_seen_whole_is_not_called_normal(seen: str) -> None:
    ear = typed_after("some", drum_seen=seen)

    of_drum = {f.name for f in CATALOGUE.values() if f.clear_in in ("drum", "attic")}
    assert recorded(ear).keys() & of_drum == set()
    assert ear.canal_skin == "normal"


def test_an_open_cavity_has_no_attic_but_may_show_disease() -> None:
    ear = typed_after("some", cavity=True)

    assert (ear.attic_seen, ear.attic_grade, ear.scutum_erosion) == (None, None, None)
    assert (ear.granulation, ear.keratin, ear.cavity_quiet) == (False, False, None)


def test_what_was_typed_by_hand_stays() -> None:
    typed = Ear(wax_found="occluding", clearance="failed", drum_seen="full", effusion="absent")

    assert given_way(typed, frozenset()) == (typed, frozenset())


def test_a_cavity_that_is_known_is_written_and_how_quiet_it_is_is_left_to_be_typed() -> None:
    seen = Visit(on=date(2026, 3, 2), right=Ear(cavity=True, cavity_quiet=True))
    before = Case(born=date(1961, 4, 9), visits=(seen,))

    ear, left = clear_ear(Ear(), "right", before, normal_values("some", "all"))
    other, _ = clear_ear(Ear(), "left", before, normal_values("some", "all"))

    assert (ear.cavity, ear.cavity_quiet, ear.attic_grade) == (True, None, None)
    assert "cavity_quiet" in left
    assert other.cavity is None
