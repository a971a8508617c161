"""Tympanogram types by the modified Jerger scheme, and what a flat trace's volume says."""

from __future__ import annotations

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.care.measured import Tympanogram
from recall.care.tympanogram import EDITION, SCHEME, classify

SEVERITY = ["A", "C1", "C2", "B"]


def peaked(peak, compliance=0.7, **more):
    return classify(Tympanogram(peak_daPa=peak, compliance_ml=compliance, **more), child=True)


def flat(volume=None, child=True):
    given_volume = {} if volume is None else {"volume_ml": volume}
    return classify(Tympanogram(flat=True, **given_volume), child=child)


@pytest.mark.parametrize(
    ("peak", "letter"),
    [
        # CMAJ, autoinflation trial, table 1: A +200 to -99, C1 -100 to -199, C2 -200 to -399,
        # B -400 and beyond. Between two printed numbers: up to the next type's beginning.
        (200, "A"),
        (0, "A"),
        (-99, "A"),
        (-99.5, "A"),
        (-100, "C1"),
        (-199, "C1"),
        (-199.5, "C1"),
        (-200, "C2"),
        (-399, "C2"),
        (-399.5, "C2"),
        (-400, "B"),
        (-600, "B"),
        (201, None),
        (400, None),
    ],
)
def test_the_type_by_pressure(peak, letter):
    assert peaked(peak).letter == letter
    assert peaked(peak).pattern == "peak"


def test_exactly_minus_100_is_C1_here_and_A_in_the_classic_scheme():
    # Jerger 1970 (from memory): A has its peak at -100 daPa or above.
    assert (peaked(-100).letter, peaked(-100).classic) == ("C1", "A")
    assert (peaked(-101).letter, peaked(-101).classic) == ("C1", "C")


@pytest.mark.parametrize(
    ("compliance", "classic"),
    # BSA 2013 adults, as quoted: 0.3 to 1.6 ml; the classic scheme's As and Ad lie outside.
    [(0.29, "As"), (0.3, "A"), (0.7, "A"), (1.6, "A"), (1.61, "Ad")],
)
def test_the_classic_type_parts_A_by_compliance(compliance, classic):
    seen = peaked(0, compliance)
    assert (seen.letter, seen.classic) == ("A", classic)


def test_a_peak_of_next_to_nothing_is_flat():
    # Common practice, no source: some instruments write 0 daPa and 0 ml for a flat trace.
    seen = peaked(0, 0.0)
    assert (seen.letter, seen.pattern) == ("B", "flat_volume_unknown")
    assert peaked(0, 0.1).letter == "A"


def test_a_far_peak_is_B_by_pressure_and_no_hole():
    seen = peaked(-450, volume_ml=3.0)
    assert (seen.letter, seen.pattern) == ("B", "peak")
    assert "peak" in seen.notes[0]


def test_flat_without_volume_is_never_fluid():
    seen = flat()
    assert (seen.letter, seen.pattern) == ("B", "flat_volume_unknown")
    assert "volume unknown" in seen.notes[0]


@pytest.mark.parametrize(
    ("volume", "child", "pattern", "boundary"),
    [
        # Adults: normal 0.6-2.5 ml (BSA 2013, as quoted) or 0.2-2.0 ml (instrument manual).
        (0.19, False, "flat_blocked", False),
        (0.2, False, "flat_fluid", False),
        (2.0, False, "flat_fluid", False),
        (2.1, False, "flat_fluid", True),
        (2.5, False, "flat_fluid", True),
        (2.6, False, "flat_hole", False),
        # Children: 0.4-1.0 ml (BSA 2013, from memory); 0.68-1.46 at 6 to 13 years
        # (Int J Audiol 2006;45:55).
        (0.1, True, "flat_blocked", False),
        (0.7, True, "flat_fluid", False),
        (1.0, True, "flat_fluid", False),
        (1.1, True, "flat_hole", True),
        (1.5, True, "flat_hole", True),
        (1.6, True, "flat_hole", False),
    ],
)
def test_the_volume_tells_fluid_from_a_hole_and_from_a_block(volume, child, pattern, boundary):
    seen = flat(volume, child)
    assert (seen.pattern, seen.boundary) == (pattern, boundary)


@pytest.mark.parametrize(
    ("kind", "letter", "classic", "pattern"),
    [
        ("A", "A", "A", "peak"),
        ("As", "A", "As", "peak"),
        ("Ad", "A", "Ad", "peak"),
        ("C1", "C1", "C", "peak"),
        ("C2", "C2", "C", "peak"),
        ("B", "B", "B", "flat_volume_unknown"),
    ],
)
def test_a_type_somebody_read_off(kind, letter, classic, pattern):
    seen = classify(Tympanogram(type=kind), child=False)
    assert (seen.letter, seen.classic, seen.pattern) == (letter, classic, pattern)


def test_what_the_trace_leaves_open_is_noted():
    assert flat(1.2, True).notes == ("Published limits of the canal volume disagree here.",)
    assert flat(0.7, True).notes == ()
    assert flat().notes == ("Flat, volume unknown: fluid, a hole and wax cannot be told apart.",)
    assert peaked(0).notes == ()
    assert peaked(-450).notes == (
        "There is a peak, at -400 daPa or beyond: type B by its pressure.",
    )


def test_the_raw_numbers_and_the_scheme_are_kept():
    seen = peaked(-150.5, 0.42, volume_ml=0.8)
    assert (seen.peak_daPa, seen.compliance_ml, seen.volume_ml) == (-150.5, 0.42, 0.8)
    assert (seen.scheme, seen.edition) == (SCHEME, EDITION)


@pytest.mark.parametrize(
    "blank",
    [
        b"{}",
        b'{"flat": false}',
        b'{"flat": null}',
        b'{"peak_daPa": null}',
        b'{"volume_ml": 1.0}',
        b'{"peak_daPa": 0}',
        b'{"flat": true, "peak_daPa": 0, "compliance_ml": 1}',
    ],
)
def test_a_blank_never_becomes_a_flat_trace(blank):
    with pytest.raises(msgspec.ValidationError):
        msgspec.json.decode(blank, type=Tympanogram)


@given(st.floats(-800, 200), st.floats(0, 400), st.floats(0.1, 20))
def test_a_lower_peak_never_gives_a_better_type(peak, by, compliance):
    lower = max(-800.0, peak - by)
    before, after = peaked(peak, compliance).letter, peaked(lower, compliance).letter
    assert SEVERITY.index(after) >= SEVERITY.index(before)
