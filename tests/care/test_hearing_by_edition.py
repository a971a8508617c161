"""Asymmetry and air-bone gap: what one edition refers another does not."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.care.ear import Ear
from recall.care.editions import ASYMMETRY_RULES, GAP_RULES
from recall.care.hearing import air_bone_gap, asymmetry, asymmetry_dB
from tests.care.strategies import levels

ADJACENT = ("500", "1000", "2000", "4000", "8000")


def test_the_same_audiogram_refers_by_2023_and_not_by_2009_or_2016():
    # BAA 2023: 15 dB by air conduction (baaudiology.org). BAA 2009: 20 dB by bone conduction.
    # BAA 2016: 20 dB at two adjacent (from memory).
    bone = {"500": 10, "1000": 10, "2000": 10, "4000": 10}
    right = Ear(hearing_dB={**dict.fromkeys(ADJACENT, 10), "2000": 25, "4000": 25}, bone_dB=bone)
    left = Ear(hearing_dB=dict.fromkeys(ADJACENT, 10), bone_dB=bone)
    seen = {edition: asymmetry(right, left, edition).refers for edition in ASYMMETRY_RULES}
    assert seen == {"BAA 2023": True, "NG98 2018": True, "BAA 2016": False, "BAA 2009": False}


@pytest.mark.parametrize(
    ("worse", "difference", "refers"),
    [
        # NICE NG98 section 1.3 (as quoted): 15 dB at any two adjacent of 0.5, 1, 2, 4, 8 kHz.
        ({"2000": 25, "4000": 25}, 15, True),
        ({"2000": 25, "4000": 24}, 14, False),
        ({"500": 40, "1000": 30}, 20, True),
        ({"4000": 60, "8000": 30}, 20, True),
        ({"1000": 60, "4000": 60}, 0, False),
        ({"2000": 90}, 0, False),
    ],
)
def test_two_adjacent_frequencies_must_both_differ(worse, difference, refers):
    level = dict.fromkeys(ADJACENT, 10)
    right, left = Ear(hearing_dB={**level, **worse}), Ear(hearing_dB=level)
    found = asymmetry(right, left, "NG98 2018")
    assert (found.difference_dB, found.refers) == (difference, refers)
    assert asymmetry_dB(left.hearing_dB, right.hearing_dB, "NG98 2018") == difference


@pytest.mark.parametrize(
    ("edition", "limit"),
    # NICE NG98 section 1.3, as quoted, and BAA 2023 (baaudiology.org): 15 dB. BAA 2009: 20 dB by
    # bone conduction, as quoted by a provider. BAA 2016: 20 dB, from memory.
    [("BAA 2023", 15), ("NG98 2018", 15), ("BAA 2016", 20), ("BAA 2009", 20)],
)
def test_each_edition_refers_from_its_own_limit_on(edition, limit):
    left = dict.fromkeys(ADJACENT, 10)

    def refers(apart):
        right = dict.fromkeys(ADJACENT, 10 + apart)
        ears = Ear(hearing_dB=right, bone_dB=right), Ear(hearing_dB=left, bone_dB=left)
        return asymmetry(*ears, edition).refers

    assert (refers(limit - 1), refers(limit)) == (False, True)
    assert ASYMMETRY_RULES[edition].limit_dB == limit


def test_2009_takes_any_two_frequencies_of_bone_conduction():
    # BAA 2009: 20 dB by bone conduction (as quoted by a provider); any two: from memory.
    level = {"500": 10, "1000": 10, "2000": 10, "4000": 10}
    right = Ear(bone_dB={**level, "500": 30, "4000": 30}, hearing_dB=level)
    found = asymmetry(right, Ear(bone_dB=level, hearing_dB=level), "BAA 2009")
    assert (found.refers, found.pair, found.conduction) == (True, ("500", "4000"), "bone")
    assert asymmetry_dB(right.bone_dB, level, "NG98 2018") == 0


def test_one_frequency_alone_is_no_pair():
    assert asymmetry_dB({"500": 60}, {"500": 10}, "BAA 2009") is None
    assert asymmetry_dB({"500": 60, "4000": 50}, {"500": 10, "4000": 10}, "BAA 2009") == 40


def test_the_pair_and_the_edition_are_told():
    level = dict.fromkeys(ADJACENT, 10)
    found = asymmetry(Ear(hearing_dB={**level, "2000": 30, "4000": 35}), Ear(hearing_dB=level))
    assert found.pair == ("2000", "4000")
    assert (found.edition, found.conduction, found.limit_dB) == ("2023", "air", 15)


def test_frequencies_measured_apart_are_not_adjacent():
    assert asymmetry_dB({"1000": 60, "4000": 60}, {"1000": 10, "4000": 10}) is None


def test_unmeasured_pairs_leave_it_open_below_the_limit_only():
    few = Ear(hearing_dB={"500": 10, "1000": 10})
    assert asymmetry(few, Ear(hearing_dB={"500": 20, "1000": 20})).refers is None
    assert asymmetry(few, Ear(hearing_dB={"500": 40, "1000": 40})).refers is True


@pytest.mark.parametrize("none", [None, {}])
def test_one_ear_unmeasured_gives_no_asymmetry(none):
    assert asymmetry_dB({"500": 10, "1000": 10}, none) is None
    assert asymmetry(Ear(), Ear(hearing_dB={"500": 10, "1000": 10})).refers is None


def test_a_dead_ear_differs_by_no_response_at_130():
    assert asymmetry_dB({"500": "nr", "1000": "nr"}, {"500": 10, "1000": 20}) == 110
    assert asymmetry_dB({"500": "nr", "1000": "nr"}, {"500": "nr", "1000": "nr"}) == 0


def test_the_air_bone_gap_of_2023_leaves_4_kHz_out():
    # BAA 2023 no longer takes 4 kHz bone conduction into account (baaudiology.org).
    air = {"500": 30, "1000": 30, "2000": 30, "4000": 70}
    bone = {"500": 10, "1000": 10, "2000": 10, "4000": 10}
    assert air_bone_gap(air, bone, "BAA 2023") == 20
    # BAA 2016: mean over three of 0.5, 1, 2, 3, 4 kHz (from memory): the widest three.
    assert air_bone_gap(air, bone, "BAA 2016") == pytest.approx((60 + 20 + 20) / 3)


@pytest.mark.parametrize(
    ("gaps", "reaches"), [((25, 25, 0, 0), True), ((40, 20, 20, 20), False), ((0, 25, 0, 30), True)]
)
def test_2009_asks_for_25_dB_at_two_frequencies(gaps, reaches):
    # BAA 2009: air-bone gap of 25 dB or more at two or more of 0.5, 1, 2, 4 kHz.
    frequencies = GAP_RULES["BAA 2009"].frequencies
    air = {hz: 10 + gap for hz, gap in zip(frequencies, gaps, strict=True)}
    bone = dict.fromkeys(frequencies, 10)
    gap = air_bone_gap(air, bone, "BAA 2009")
    assert (gap >= GAP_RULES["BAA 2009"].limit_dB) is reaches


def test_bone_without_response_or_not_measured_gives_no_gap():
    air = {"500": 60, "1000": 60, "2000": 60}
    assert air_bone_gap(air, {"500": 10, "1000": 10, "2000": "nr"}) is None
    assert air_bone_gap(air, {"500": 10, "1000": 10}) is None
    assert air_bone_gap(air, None) is None


@given(levels(*ADJACENT), levels(*ADJACENT), st.sampled_from(sorted(ASYMMETRY_RULES)))
def test_asymmetry_is_the_same_from_either_side(right, left, edition):
    assert asymmetry_dB(right, left, edition) == asymmetry_dB(left, right, edition)


@given(
    levels(*ADJACENT[:2]) | levels(*ADJACENT[1:]) | levels(*ADJACENT),
    levels(*ADJACENT),
    st.sampled_from(sorted(ASYMMETRY_RULES)),
)
def test_the_short_answer_is_the_long_one_s(right, left, edition):
    ears = Ear(hearing_dB=right, bone_dB=right), Ear(hearing_dB=left, bone_dB=left)
    assert asymmetry(*ears, edition).difference_dB == asymmetry_dB(right, left, edition)


@given(levels(*ADJACENT), levels(*ADJACENT))
def test_whoever_refers_at_20_dB_refers_at_15(right, left):
    ears = Ear(hearing_dB=right), Ear(hearing_dB=left)
    if asymmetry(*ears, "BAA 2016").refers:
        assert asymmetry(*ears, "BAA 2023").refers
