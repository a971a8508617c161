"""What cannot be true of one ear is refused; what is only unusual is not."""

from __future__ import annotations

import json

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings

from recall.care.casefile import check_ear, decode_case
from recall.care.contradictions import TABLE, contradictions
from recall.care.ear import EAR_FIELDS, Ear
from recall.errors import InputError
from tests.care.strategies import accepted
from tests.seeds import examples

EARS = accepted(msgspec.inspect.type_info(Ear))


@pytest.mark.parametrize(
    ("findings", "field"),
    # Common sense of the examination, no source: each pair cannot hold at once.
    [
        ({"wax_left": "occluding", "drum_seen": "full"}, "drum_seen"),
        ({"wax_left": "occluding", "clearance": "cleared"}, "clearance"),
        ({"clearance": "failed", "wax_left": "none"}, "wax_left"),
        ({"clearance": "failed", "clearance_tries": 0}, "clearance_tries"),
        ({"clearance": "not_attempted", "clearance_tries": 2}, "clearance_tries"),
        ({"wax_found": "none", "wax_left": "some"}, "wax_left"),
        # Wax that nobody tried to take out does not go by itself while somebody looks.
        (
            {"wax_found": "occluding", "wax_left": "none", "clearance": "not_attempted"},
            "wax_left",
        ),
        ({"wax_found": "partial", "wax_left": "some", "clearance": "not_attempted"}, "wax_left"),
        ({"drum_seen": "none", "effusion": "absent"}, "effusion"),
        ({"drum_seen": "none", "effusion": "present"}, "effusion"),
        ({"drum_seen": "none", "tensa_grade": 0}, "tensa_grade"),
        ({"drum_seen": "none", "tensa_mobile": True}, "tensa_mobile"),
        ({"drum_seen": "none", "perforation": "none"}, "perforation"),
        ({"drum_seen": "none", "perforation": "central"}, "perforation"),
        ({"drum_seen": "none", "red": False}, "red"),
        ({"drum_seen": "none", "attic_seen": True}, "attic_seen"),
        ({"drum_seen": "none", "pocket_base_seen": True}, "pocket_base_seen"),
        ({"drum_seen": "none", "grommet": "in_place"}, "grommet"),
        ({"attic_seen": False, "attic_grade": 0}, "attic_grade"),
        ({"canal_swollen_shut": True, "drum_seen": "full"}, "drum_seen"),
        ({"examined": False, "wax_found": "none"}, "wax_found"),
        ({"examined": False, "drum_seen": "part"}, "drum_seen"),
        ({"examined": False, "clearance": "cleared"}, "clearance"),
        ({"examined": False, "keratin": False}, "keratin"),
        ({"not_examined": "refused"}, "examined"),
        ({"not_examined": "refused", "examined": True}, "examined"),
        ({"cavity_quiet": True}, "cavity"),
        ({"cavity_quiet": False, "cavity": False}, "cavity"),
        ({"grommet": "none", "grommet_on": "2026-01-01"}, "grommet_on"),
        ({"grommet": "none", "grommet_long_term": True}, "grommet_long_term"),
        ({"perforation": "none", "perforation_cause": "trauma"}, "perforation_cause"),
        ({"perforation": "none", "perforation_new": True}, "perforation_new"),
        ({"perforation": "healed", "perforation_new": True}, "perforation_new"),
        ({"discharge": "none", "discharge_since": "2026-08"}, "discharge_since"),
    ],
)
def test_what_cannot_be_true_is_refused_at_its_field(findings, field):
    data = {"born": "2018-03-02", "visits": [{"on": "2026-09-01", "left": findings}]}
    with pytest.raises(InputError) as caught:
        decode_case(json.dumps(data).encode())
    assert caught.value.message.startswith(f"visits[0].left.{field}: ")
    assert caught.value.hint


@pytest.mark.parametrize(
    "findings",
    [
        # A flat trace makes fluid likely behind an unseen drum.
        {"drum_seen": "none", "effusion": "suspected", "tympanogram": {"flat": True}},
        {"drum_seen": "none", "hearing_dB": {"500": 30}, "canal_skin": "inflamed"},
        {"drum_seen": "none", "discharge": "purulent", "granulation": True, "polyp": True},
        {"drum_seen": "none", "attic_seen": False, "pocket_base_seen": False},
        {"drum_seen": "part", "effusion": "present", "tensa_grade": 3, "attic_grade": 1},
        {"wax_left": "occluding", "drum_seen": "part", "effusion": "absent"},
        {"wax_left": "partial", "drum_seen": "full", "clearance": "cleared"},
        {"wax_left": "occluding", "drum_seen": "none", "clearance": "failed"},
        {"wax_found": "some", "wax_left": "some", "clearance": "not_attempted"},
        {"wax_found": "partial", "wax_left": "partial", "clearance": "not_attempted"},
        {"wax_found": "none", "wax_left": "none", "clearance": "not_attempted"},
        # An ear that nobody looked into can still be tested, and asked about.
        {"examined": False, "not_examined": "refused", "hearing_screen": "passed"},
        {"examined": False, "tympanogram": {"type": "A"}, "foreign_body": "button_battery"},
        {"examined": False, "drum_seen": "none", "attic_seen": False},
        # Keratin may lie in a pocket of a drum without a hole.
        {"perforation": "none", "keratin": True, "attic_grade": 2},
        {"perforation": "healed", "perforation_cause": "trauma"},
        {"grommet": "gone", "grommet_on": "2025-01"},
        {"cavity": True, "cavity_quiet": False},
        {"tensa_grade": 0, "pocket_base_seen": True, "attic_grade": 2},
        {"attic_seen": False, "attic_crust": True},
        {},
    ],
)
def test_what_is_only_unusual_is_accepted(findings):
    data = {"born": "2018-03-02", "visits": [{"on": "2026-09-01", "right": findings}]}
    assert decode_case(json.dumps(data).encode()).visits[0].right is not None


def test_the_refusal_says_both_sides():
    with pytest.raises(InputError) as caught:
        check_ear(Ear(wax_left="occluding", drum_seen="full"), "right")
    assert caught.value.message == (
        'right.drum_seen: "full" cannot be while wax_left is "occluding".'
    )


@pytest.mark.parametrize(
    ("ear", "says"),
    [
        (Ear(drum_seen="none", red=True), 'right.red: true cannot be while drum_seen is "none".'),
        (
            Ear(cavity_quiet=True),
            "right.cavity: not recorded cannot be while cavity_quiet is true.",
        ),
        (
            Ear(examined=False, keratin=False),
            "right.keratin: false cannot be while examined is false.",
        ),
        (
            Ear(clearance="not_attempted", clearance_tries=2),
            'right.clearance_tries: 2 cannot be while clearance is "not_attempted".',
        ),
    ],
)
def test_each_sort_of_value_is_said_as_the_file_writes_it(ear, says):
    with pytest.raises(InputError) as caught:
        check_ear(ear, "right")
    assert caught.value.message == says


def test_the_table_names_fields_and_values_that_exist():
    for row in TABLE:
        assert {row.field, row.other} <= set(EAR_FIELDS)
        for field, values in ((row.field, row.values), (row.other, row.refused)):
            for value in values:
                if value is not None:
                    msgspec.convert({field: value}, Ear)
        assert row.instead


@settings(max_examples=examples(80), suppress_health_check=list(HealthCheck))
@given(EARS)
def test_the_table_is_read_the_same_by_the_fast_way_and_row_by_row(plain):
    try:
        ear = msgspec.convert(plain, Ear)
    except msgspec.ValidationError:
        return
    slow = []
    for row in TABLE:
        value, other = getattr(ear, row.field), getattr(ear, row.other)
        holds = value is not None if not row.values else value in row.values
        broken = other is not None if not row.refused else other in row.refused
        if holds and broken:
            slow.append((row, value, other))
    assert [tuple(found) for found in contradictions(ear)] == slow
