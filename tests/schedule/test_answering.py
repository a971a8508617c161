"""What counts as having looked, and what as documented clear; not recorded is never either."""

from __future__ import annotations

from typing import Any

import pytest
from msgspec import convert

from recall.care.ear import Ear
from recall.schedule.answering import LOOKS, NEEDS, WORDS, documented_clear, in_part, missing


def ear(**fields: Any) -> Ear:
    return convert(fields, Ear)


def audiogram(*levels: int) -> dict[str, int]:
    return dict(zip(("500", "1000", "2000", "4000"), levels, strict=True))


LOOKED: list[tuple[str, dict[str, Any]]] = [
    ("wax", {"wax_found": "occluding"}),
    ("wax", {"wax_left": "none"}),
    ("wax", {"clearance": "failed"}),
    ("fluid", {"effusion": "absent", "drum_seen": "full"}),
    ("fluid", {"effusion": "present", "drum_seen": "part"}),
    ("tensa", {"tensa_grade": 0, "drum_seen": "full"}),
    ("attic", {"attic_seen": True}),
    ("attic", {"attic_grade": 0, "drum_seen": "full"}),
    ("attic", {"cavity": True, "cavity_quiet": False}),
    ("hole", {"perforation": "none", "drum_seen": "part"}),
    ("canal", {"canal_skin": "normal"}),
    ("grommet", {"grommet": "gone", "drum_seen": "full"}),
    ("cavity", {"cavity": False, "drum_seen": "full"}),
    ("cavity", {"cavity": True, "cavity_quiet": False}),
    ("hearing", {"hearing_screen": "not_passed"}),
    ("hearing", {"hearing_dB": audiogram(10, 10, 10, 10)}),
    ("trace", {"tympanogram": {"flat": True}}),
    ("drum", {"drum_seen": "part"}),
]
NOT_LOOKED: list[tuple[str, dict[str, Any]]] = [
    ("wax", {"drum_seen": "full"}),
    ("fluid", {"effusion": "absent"}),
    ("tensa", {"tensa_grade": 0}),
    ("hole", {"perforation": "central"}),
    ("grommet", {"grommet": "in_place"}),
    ("cavity", {"cavity": True}),
    ("cavity", {"cavity": True, "drum_seen": "full"}),
    ("cavity", {"cavity": False}),
    ("cavity", {"cavity": False, "drum_seen": "none"}),
    ("attic", {"attic_grade": 2}),
    ("attic", {"cavity": True}),
    ("attic", {"cavity": True, "drum_seen": "full"}),
    ("fluid", {"effusion": "suspected", "drum_seen": "none"}),
    ("fluid", {"drum_seen": "full"}),
    ("tensa", {"tensa_grade": 1, "drum_seen": "none"}),
    ("attic", {"attic_seen": False, "drum_seen": "full"}),
    ("attic", {"attic_seen": True, "drum_seen": "none"}),
    ("attic", {"cavity": False}),
    ("hole", {"perforation": "central", "drum_seen": "none"}),
    ("hearing", {"hearing_screen": "could_not_test"}),
    ("hearing", {"hearing_dB": {"500": 10}}),
    ("drum", {"drum_seen": "none"}),
    ("drum", {"drum_seen": "full", "examined": False}),
    ("drum", {"wax_left": "none"}),
]
CLEAR: list[tuple[str, dict[str, Any], bool]] = [
    ("wax", {"wax_found": "some"}, True),
    ("wax", {"wax_found": "occluding", "wax_left": "none"}, True),
    ("wax", {"wax_found": "occluding"}, False),
    ("wax", {"wax_left": "partial"}, False),
    ("fluid", {"effusion": "absent", "drum_seen": "full"}, True),
    ("fluid", {"effusion": "absent", "drum_seen": "part"}, False),
    ("fluid", {"effusion": "absent"}, False),
    ("fluid", {"effusion": "suspected", "drum_seen": "full"}, False),
    ("retraction", {"tensa_grade": 0, "drum_seen": "full"}, True),
    ("retraction", {"tensa_grade": 0, "drum_seen": "part"}, False),
    ("retraction", {"tensa_grade": 0}, False),
    ("retraction", {"tensa_grade": 1, "drum_seen": "full"}, False),
    ("perforation", {"perforation": "none", "drum_seen": "full"}, True),
    ("perforation", {"perforation": "healed", "drum_seen": "full"}, True),
    ("perforation", {"perforation": "healed", "drum_seen": "part"}, False),
    ("perforation", {"perforation": "none"}, False),
    ("perforation", {"perforation": "central", "drum_seen": "full"}, False),
    ("canal_skin", {"canal_skin": "normal"}, True),
    ("canal_skin", {"canal_skin": "fungal"}, False),
    ("grommet", {"grommet": "none", "drum_seen": "full"}, True),
    ("grommet", {"grommet": "none"}, False),
    ("grommet", {"grommet": "gone", "drum_seen": "full"}, False),
    ("cavity", {"cavity": False, "drum_seen": "full"}, True),
    ("cavity", {"cavity": False}, False),
    ("hearing", {"hearing_screen": "passed"}, True),
    ("hearing", {"hearing_screen": "not_passed"}, False),
    # WHO, World report on hearing 2021, table 1.3: normal is less than 20 dB
    ("hearing", {"hearing_dB": audiogram(15, 20, 20, 20)}, True),
    ("hearing", {"hearing_dB": audiogram(20, 20, 20, 20)}, False),
    ("view", {"drum_seen": "full"}, True),
    ("view", {"drum_seen": "part"}, False),
    ("view", {"drum_seen": "none"}, False),
    ("drum", {"drum_seen": "full"}, False),
    ("surveillance", {"drum_seen": "full", "hearing_screen": "passed"}, False),
]


@pytest.mark.parametrize(("look", "fields"), LOOKED)
def test_this_counts_as_having_looked(look: str, fields: dict[str, Any]) -> None:
    assert missing((look,), ear(**fields)) == ()


@pytest.mark.parametrize(("look", "fields"), NOT_LOOKED)
def test_this_does_not_count_as_having_looked(look: str, fields: dict[str, Any]) -> None:
    assert missing((look,), ear(**fields)) == (look,)


@pytest.mark.parametrize(("track", "fields", "clear"), CLEAR)
def test_only_what_was_recorded_as_clear_is_clear(
    track: Any, fields: dict[str, Any], clear: bool
) -> None:
    assert documented_clear(track, NEEDS[track], ear(**fields)) is clear


ATTIC_CLEAR: list[tuple[dict[str, Any], bool]] = [
    ({"attic_seen": True, "attic_grade": 0}, True),
    ({"attic_seen": True, "attic_grade": 0, "drum_seen": "part"}, True),
    ({"attic_grade": 0, "drum_seen": "full"}, False),
    ({"attic_seen": True}, False),
    ({"attic_seen": True, "attic_grade": 1}, False),
]


@pytest.mark.parametrize(("fields", "clear"), ATTIC_CLEAR)
def test_an_attic_is_clear_only_where_it_is_recorded_as_seen(
    fields: dict[str, Any], clear: bool
) -> None:
    assert documented_clear("retraction", ("attic",), ear(**fields)) is clear


IN_PART: list[tuple[Any, tuple[str, ...], dict[str, Any], bool]] = [
    ("fluid", ("fluid",), {"effusion": "present", "drum_seen": "part"}, True),
    ("fluid", ("fluid",), {"effusion": "present", "drum_seen": "full"}, False),
    ("retraction", ("attic",), {"attic_grade": 1, "drum_seen": "full"}, True),
    ("retraction", ("attic",), {"attic_grade": 1, "attic_seen": True}, False),
    ("retraction", ("attic",), {"attic_seen": True, "drum_seen": "full"}, True),
    ("retraction", ("attic",), {"cavity": True, "cavity_quiet": True}, False),
    ("drum", ("drum", "attic"), {"drum_seen": "full", "attic_seen": True}, False),
    ("drum", ("drum", "attic"), {"drum_seen": "part", "attic_seen": True}, True),
    ("view", ("drum",), {"drum_seen": "part"}, False),
    ("canal_skin", ("drum",), {"drum_seen": "part"}, False),
    ("wax", ("wax",), {"wax_found": "some"}, False),
]


@pytest.mark.parametrize(("track", "needs", "fields", "part"), IN_PART)
def test_a_part_view_is_told_from_a_whole_one(
    track: Any, needs: tuple[str, ...], fields: dict[str, Any], part: bool
) -> None:
    assert in_part(track, needs, ear(**fields)) is part


@pytest.mark.parametrize("look", LOOKS)
def test_an_ear_without_a_record_or_not_seen_at_all_was_not_looked_at(look: str) -> None:
    assert missing((look,), Ear()) == missing((look,), None) == (look,)


def test_a_due_is_clear_only_in_all_that_it_needs() -> None:
    seen = ear(effusion="absent", drum_seen="full")

    assert documented_clear("fluid", ("fluid",), seen)
    assert not documented_clear("fluid", ("fluid", "trace"), seen)


def test_every_look_can_be_said_in_words() -> None:
    assert LOOKS.keys() == WORDS.keys()
    assert {look for looks in NEEDS.values() for look in looks} <= LOOKS.keys()
