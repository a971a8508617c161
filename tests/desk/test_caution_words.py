"""Each caution and question of the form as it is read, with the day on either side of its limit."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from recall.care.case import Case, Reported, Risk, ToldByOthers, Visit
from recall.care.ear import Ear
from recall.desk.visits.cautions import cautions
from recall.desk.visits.questions import questions, words_of_alarm
from tests.desk.practice import CLEAR

ON = date(2026, 9, 1)
BORN = date(1990, 1, 1)
WATER = "Do not irrigate, the right ear: "


def said(*looks: tuple[str, dict[str, Any]], risks: tuple[Any, ...] = (), **more: Any) -> list[str]:
    """Return the cautions on 1 September 2026 after looks into the right ear."""
    visits = tuple(
        Visit(on=date.fromisoformat(day), right=Ear(**found) if found else None)
        for day, found in looks
    )
    return [c.words for c in cautions(Case(born=BORN, visits=visits, risks=risks, **more), ON)]


# The periods are those of NHS Tayside, Ear wax (Right Decisions), as in test_cautions.py.
@pytest.mark.parametrize(
    ("looks", "says"),
    [
        ((("2020-01-05", {"perforation": "central"}),),
         "perforation of the drum (5 January 2020)."),
        ((("2020-01-05", {"perforation": "central"}), ("2026-08-01", {"perforation": "none"})), ""),
        ((("2025-09-02", {"perforation": "central"}), ("2026-08-01", {"perforation": "none"})),
         "perforation healed within 12 months (2 September 2025)."),
        ((("2025-09-01", {"perforation": "central"}), ("2026-08-01", {"perforation": "none"})), ""),
        ((("2025-01-02", {"perforation": "healed"}), ("2025-09-02", {"perforation": "healed"})),
         "perforation healed within 12 months (2 September 2025)."),
        ((("2019-01-02", {"grommet": "in_place"}),), "grommet in place."),
        ((("2019-01-02", {"grommet": "blocked"}),), "grommet in place."),
        ((("2019-01-02", {"grommet_on": "2019-01"}),),
         "grommet put in, and not documented as out."),
        ((("2025-03-02", {"grommet": "gone"}),), "grommet out for less than 18 months."),
        ((("2025-03-01", {"grommet": "gone"}),), ""),
        ((("2025-03-01", {"grommet": "gone"}), ("2026-08-01", {"grommet": "gone"})), ""),
        ((("2019-03-01", {"grommet": "in_canal"}),), "grommet out for less than 18 months."),
        ((("2019-03-01", {"grommet": "none"}),), ""),
        ((("2025-09-02", {"discharge": "clear"}), ("2026-08-01", {"discharge": "none"})),
         "discharge within 12 months (2 September 2025)."),
        ((("2025-09-01", {"discharge": "clear"}),), ""),
        ((("2026-07-22", {"bulging": True}),),
         "infection of the middle ear within 6 weeks (22 July 2026)."),
        ((("2026-07-21", {"bulging": True}),), ""),
        ((("2026-09-01", {"bullae": True}),),
         "infection of the middle ear within 6 weeks (1 September 2026)."),
        ((("2026-09-02", {"bullae": True}),), ""),
        ((("2026-08-01", {}),), ""),
    ],
    ids=str,
)  # fmt: skip
def test_each_caution_of_an_ear_as_it_is_read(looks: Any, says: str) -> None:
    assert said(*looks) == ([f"{WATER}{says}"] if says else [])


def test_each_caution_of_a_person_as_it_is_read() -> None:
    risks = (
        "diabetes",
        Risk(what="narrow_canal", ear="left"),
        Risk(what="anticoagulant", until="2026-09-01"),
        Risk(what="immunocompromised", until="2026-09-02"),
        "cleft_palate",
        Risk(what="only_hearing_ear", ear="right"),
        "previous_ear_surgery",
        "previous_cholesteatoma",
        "head_neck_radiotherapy",
    )
    assert said(risks=risks) == [
        "Do not irrigate, both ears: cleft palate, repaired or not.",
        "Do not irrigate, the right ear: the only hearing ear.",
        "Do not irrigate, both ears: ear surgery in the past.",
        "Do not irrigate, both ears: cholesteatoma in the past.",
        "Take extra care, both ears: diabetes: infection of the canal.",
        "Take extra care, the left ear: narrow ear canal.",
        "Take extra care, both ears: immune system weakened: infection of the canal.",
        "Take extra care, both ears: radiotherapy of head or neck: fragile skin.",
    ]


def test_surgery_told_by_others_is_read_with_the_ear() -> None:
    told = (
        ToldByOthers(on="2020-05", ear="right", source="letter", surgery="myringoplasty"),
        ToldByOthers(on="2020-05", ear="left", source="letter", effusion="present"),
    )
    assert said(told_by_others=told) == [f"{WATER}ear surgery in the past."]


@pytest.mark.parametrize(
    ("out", "is_said"), [("2025-03-01", False), ("2025-03-02", True), (None, True)]
)
def test_a_grommet_told_as_a_risk_counts_until_it_is_long_out(
    out: str | None, is_said: bool
) -> None:
    looks = ((out, {"grommet": "gone"}),) if out else ()
    why = f"{WATER}a grommet in the past, not documented as out for 18 months and discharged."
    one = (Risk(what="previous_grommet", ear="right"),)
    assert (why in said(*looks, risks=one)) is is_said
    both = why.replace("the right ear", "both ears")
    assert both in said(*looks, risks=("previous_grommet",)), "the left ear was never looked at"


def asked(visit: Visit, *before: Visit, note: str = "") -> list[tuple[str, str]]:
    return [(q.about, q.says) for q in questions(Case(born=BORN, visits=before), visit, note)]


def concern(days: int) -> Visit:
    began = (ON - timedelta(days=days)).isoformat()
    return Visit(on=ON, reported=(Reported(what="hearing_concern", since=began),))


def test_a_concern_of_the_past_thirty_days_is_asked_about() -> None:
    """NICE NG98 (2018) 1.1.2: a sudden loss of the past 30 days is seen within 24 hours."""
    says = (
        "Hearing is a concern since 2 August 2026: did it drop within 3 days? Then record a sudden "
        "hearing loss, which is an emergency."
    )
    assert asked(concern(30)) == [("onset", says)]
    assert asked(concern(31)) == []
    told = Visit(on=ON, reported=(*concern(3).reported, "sudden_hearing_loss"))
    assert asked(told) == []


def test_each_question_as_it_is_read() -> None:
    worse = Visit(on=ON, right=Ear(hearing_after="worse"))
    assert asked(worse) == [
        ("worse", "Hearing of the right ear is worse after it was cleared: can it be measured "
                  "today? A loss that stays is a sudden hearing loss."),
    ]  # fmt: skip
    before = Visit(on=date(2026, 3, 2), left=Ear(perforation="central"))
    assert asked(Visit(on=ON, right=Ear(perforation="central", drum_seen="full")), before) == [
        ("side", "A perforation was in the left ear on 2 March 2026 and is now in the right: "
                 "are the sides right?"),
    ]  # fmt: skip
    for drum, seen in (("none", "was not seen"), (None, "is not recorded as seen")):
        visit = Visit(on=ON, left=Ear(effusion="absent", drum_seen=drum))
        says = f"The left drum {seen}, yet something on it is called clear."
        assert asked(visit) == [("seen", says)]
    assert asked(Visit(on=ON, right=CLEAR), Visit(on=ON, right=CLEAR)) == [
        ("day", "There is a visit on 1 September 2026 already: is this another one?"),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Her face is a bit weak, and the room spins.", "dizziness and weak face"),
        ("Facial weakness since Monday; blood on the pillow.", "blood and weak face"),
        ("Drooping of her face. Numb lip.", "numbness and weak face"),
        ("Bell's palsy, years ago", "weak face"),
        ("Suddenly he went quite deaf", "sudden hearing loss"),
        ("lost all hearing suddenly", "sudden hearing loss"),
        ("no sudden loss, never dizzy", ""),
        ("not only dizzy but bleeding", "blood and dizziness"),
        (
            "fell on her head; whooshing; kept awake",
            "head injury and pain at night and pulsing noise",
        ),
        ("pain in the night, severe earache", "pain at night and severe pain"),
    ],
)
def test_the_red_flags_that_a_text_speaks_of(text: str, words: str) -> None:
    assert words_of_alarm(text) == words
