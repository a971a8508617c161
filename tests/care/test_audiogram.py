"""The curves of a hearing chart: which tests, which thresholds, by which signs."""

from __future__ import annotations

from datetime import date

from recall.care.audiogram import SIGNS, Audiogram, Curve, audiogram, in_words
from recall.care.case import Visit
from recall.care.ear import Ear

FIRST, SECOND, THIRD = date(2025, 1, 6), date(2025, 9, 1), date(2026, 6, 1)


def curves(*visits: Visit) -> list[Curve]:
    found = audiogram(visits)
    assert found is not None
    return list(found.curves)


def test_signs_are_those_of_unmasked_thresholds() -> None:
    """ISO 8253-1 and ASHA 1990, Guidelines for audiometric symbols: from memory.

    Right: O by air, < by bone. Left: X by air, > by bone.
    """
    assert SIGNS == {
        ("right", "air"): "O",
        ("left", "air"): "X",
        ("right", "bone"): "<",
        ("left", "bone"): ">",
    }


def test_the_newest_test_lies_before_the_one_before_it_and_no_other() -> None:
    found = curves(
        Visit(on=FIRST, right=Ear(hearing_dB={"1000": 10})),
        Visit(on=THIRD, right=Ear(hearing_dB={"1000": 40})),
        Visit(on=SECOND, right=Ear(hearing_dB={"1000": 25})),
    )

    assert [(c.on, c.is_before, c.points[0].level) for c in found] == [
        (SECOND, True, 25),
        (THIRD, False, 40),
    ]


def test_each_ear_has_its_own_newest_day() -> None:
    visits = (
        Visit(on=FIRST, right=Ear(hearing_dB={"1000": 10}), left=Ear(hearing_dB={"1000": 10})),
        Visit(on=SECOND, left=Ear(hearing_dB={"1000": 20}, bone_dB={"1000": 5})),
    )
    found = audiogram(visits)
    assert found is not None

    newest = [(c.ear, c.by, c.on) for c in found.curves if not c.is_before]

    assert newest == [
        ("right", "air", FIRST),
        ("left", "air", SECOND),
        ("left", "bone", SECOND),
    ]
    assert (found.days(), found.days(before=True)) == ((FIRST, SECOND), (FIRST,))


def test_thresholds_go_from_low_to_high_and_no_response_is_no_level() -> None:
    (found,) = curves(Visit(on=FIRST, left=Ear(hearing_dB={"8000": "nr", "250": -10, "1500": 0})))

    assert [(p.hz, p.level, p.answered) for p in found.points] == [
        (250, -10, True),
        (1500, 0, True),
        (8000, 120, False),
    ]
    assert in_words(Audiogram(curves=(found,))) == (
        "left ear, by air, 2025-01-06: 250 Hz -10, 1500 Hz 0, 8000 Hz no response"
    )


def test_without_a_measured_level_there_is_nothing_to_draw() -> None:
    assert audiogram((Visit(on=FIRST, right=Ear(hearing_screen="passed")),)) is None
    assert audiogram(()) is None
