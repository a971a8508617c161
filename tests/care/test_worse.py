"""Worse or new beside what was known of an ear; the steps are common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest

from recall.care.ear import Ear, recorded
from recall.care.measured import Tympanogram
from recall.care.worse import worse_or_new

FLAT, PEAK = Tympanogram(flat=True, volume_ml=0.7), Tympanogram(peak_daPa=-20, compliance_ml=0.5)


@pytest.mark.parametrize(
    ("known", "now", "is_worse"),
    [
        ({"effusion": "suspected"}, {"effusion": "present"}, True),
        ({"effusion": "present"}, {"effusion": "suspected"}, False),
        ({}, {"effusion": "suspected"}, True),
        ({}, {"effusion": "absent"}, False),
        ({"tensa_grade": 2}, {"tensa_grade": 3}, True),
        ({"tensa_grade": 2}, {"tensa_grade": 2}, False),
        ({"tensa_grade": 2}, {}, False),
        ({}, {"keratin": True}, True),
        ({"keratin": True}, {"keratin": True}, False),
        ({"keratin": True}, {"keratin": False}, False),
        ({"perforation": "central"}, {"perforation": "healed"}, False),
        ({"perforation": "healed"}, {"perforation": "marginal"}, True),
        ({"cavity_quiet": True}, {"cavity_quiet": False}, True),
        ({"pocket_base_seen": True}, {"pocket_base_seen": False}, True),
        ({"hearing_dB": {"500": 20}}, {"hearing_dB": {"500": 29}}, False),
        ({"hearing_dB": {"500": 20}}, {"hearing_dB": {"500": 30}}, True),
        ({"hearing_dB": {"500": 60}}, {"hearing_dB": {"500": "nr"}}, True),
        ({"hearing_dB": {"500": "nr"}}, {"hearing_dB": {"500": "nr"}}, False),
        ({}, {"hearing_dB": {"500": 24}}, False),
        ({"hearing_dB": {"500": 20}}, {"hearing_dB": {"4000": 25}}, True),
        ({"tympanogram": PEAK}, {"tympanogram": FLAT}, True),
        ({"tympanogram": FLAT}, {"tympanogram": PEAK}, False),
        ({}, {"tympanogram": PEAK}, False),
        ({}, {"treated": True}, False),
        ({"clearance_by": "irrigation"}, {"clearance_by": "suction"}, False),
        ({}, {"grommet_on": "2026-08"}, False),
    ],
)
def test_what_counts_as_worse_or_new(
    known: dict[str, Any], now: dict[str, Any], is_worse: bool
) -> None:
    assert worse_or_new(recorded(Ear(**known)), recorded(Ear(**now))) is is_worse


@pytest.mark.parametrize(
    ("known", "now"),
    [
        ({"wax_found": "none"}, {"wax_found": "occluding"}),
        ({"drum_seen": "full"}, {"drum_seen": "none"}),
        ({"clearance_tries": 1}, {"clearance_tries": 3}),
    ],
)
def test_wax_and_the_view_count_only_where_they_are_asked_about(
    known: dict[str, Any], now: dict[str, Any]
) -> None:
    before, after = recorded(Ear(**known)), recorded(Ear(**now))
    assert not worse_or_new(before, after)
    assert worse_or_new(before, after, of_day=True)
    assert not worse_or_new(after, before, of_day=True)


def test_tries_count_from_none() -> None:
    assert worse_or_new({}, {"clearance_tries": 1}, of_day=True)
    assert not worse_or_new({}, {"clearance_tries": 0}, of_day=True)


@pytest.mark.parametrize("of_day", [False, True])
def test_by_what_an_ear_was_cleared_is_no_finding(of_day: bool) -> None:
    now = {"clearance": "cleared", "clearance_by": "suction"}
    assert not worse_or_new({"clearance": "cleared"}, now, of_day=of_day)
