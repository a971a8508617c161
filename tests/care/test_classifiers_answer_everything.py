"""Every classifier answers whatever the case file's types accept, and makes nothing up."""

from __future__ import annotations

import msgspec
from hypothesis import given
from hypothesis import strategies as st

from recall.care.ear import Ear
from recall.care.editions import ASYMMETRY_RULES, GAP_RULES
from recall.care.hearing import FIVE, FOUR, air_bone_gap, asymmetry, of_ear, of_person
from recall.care.measured import Levels, Tympanogram
from recall.care.tympanogram import classify
from tests.care.strategies import accepted

ANY_LEVELS = st.none() | accepted(msgspec.inspect.type_info(Levels))
PRESSURES = st.floats(-800, 600)
SMALL = st.floats(0, 20)
ANY_TRACE = st.one_of(
    st.builds(Tympanogram, peak_daPa=PRESSURES, compliance_ml=SMALL, volume_ml=SMALL),
    st.builds(Tympanogram, peak_daPa=PRESSURES, compliance_ml=SMALL),
    st.builds(Tympanogram, flat=st.just(True), volume_ml=SMALL),
)


@given(ANY_LEVELS, ANY_LEVELS)
def test_hearing_is_graded_exactly_where_every_frequency_was_measured(right, left):
    for levels in (right, left):
        ear = of_ear(levels)
        for seen, needed in ((ear.four, FOUR), (ear.five, FIVE)):
            complete = levels is not None and set(needed) <= set(levels)
            assert (seen.value is not None) is (seen.grade is not None) is complete
            assert set(seen.missing) == set(needed) - set(levels or ())
            assert complete or seen.missing
    both = of_ear(right).four.value is not None and of_ear(left).four.value is not None
    assert (of_person(right, left).better is not None) is both


@given(ANY_LEVELS, ANY_LEVELS, st.sampled_from(sorted(ASYMMETRY_RULES)))
def test_asymmetry_is_never_made_up(right, left, edition):
    found = asymmetry(
        Ear(hearing_dB=right, bone_dB=right), Ear(hearing_dB=left, bone_dB=left), edition
    )
    assert (found.difference_dB is None) is (found.pair is None)
    for hz in found.pair or ():
        assert hz in right
        assert hz in left


@given(ANY_LEVELS, ANY_LEVELS, st.sampled_from(sorted(GAP_RULES)))
def test_a_gap_needs_its_frequencies_by_air_and_by_bone(air, bone, edition):
    rule = GAP_RULES[edition]
    heard = {hz for hz, level in (bone or {}).items() if level != "nr"}
    enough = len(set(rule.frequencies) & set(air or ()) & heard) >= rule.take
    assert (air_bone_gap(air, bone, edition) is not None) is enough


@given(ANY_TRACE, st.booleans())
def test_a_trace_is_fluid_only_when_it_is_flat_with_a_volume(trace, child):
    seen = classify(trace, child)
    if seen.pattern == "flat_fluid":
        assert seen.letter == "B"
        assert seen.volume_ml is not None
        assert seen.volume_ml >= 0.2
    if trace.volume_ml is msgspec.UNSET:
        assert seen.pattern in ("peak", "flat_volume_unknown")
