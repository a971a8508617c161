"""What must be known before an ear is treated, against the published lists."""

from __future__ import annotations

from datetime import date

import pytest

from recall.care.case import Case, Risk, ToldByOthers, Visit
from recall.care.ear import Ear
from recall.desk.visits.cautions import NO_WATER, cautions

ON = date(2026, 9, 1)
BORN = date(1990, 1, 1)


def no_water(case: Case, on: date = ON) -> dict:
    return {c.ear: c.because for c in cautions(case, on) if c.what == NO_WATER}


def seen(day: date = ON, **fields: object) -> Case:
    return Case(born=BORN, visits=(Visit(on=day, right=Ear(**fields)),))


# NHS Tayside, Ear wax (Right Decisions), irrigation contraindicated; AAO-HNSF 2017 statement 5A.
@pytest.mark.parametrize(
    "fields",
    [
        {"perforation": "central"},
        {"perforation": "healed"},
        {"grommet": "in_place"},
        {"grommet": "blocked"},
        {"grommet": "in_canal"},
        {"grommet_on": "2026-01"},
        {"discharge": "purulent"},
        {"bulging": True},
        {"canal_skin": "inflamed"},
        {"foreign_body": "other"},
        {"cavity": True},
    ],
    ids=str,
)
def test_no_water_after_these_findings(fields: dict) -> None:
    assert set(no_water(seen(**fields))) == {"right"}


@pytest.mark.parametrize(
    "risk", ["only_hearing_ear", "previous_ear_surgery", "previous_grommet", "cleft_palate"]
)
def test_no_water_with_these_risks(risk: str) -> None:
    assert set(no_water(Case(born=BORN, risks=(risk,)))) == {None}
    one = Case(born=BORN, risks=(Risk(what=risk, ear="left"),))
    assert set(no_water(one)) == {"left"}


def test_surgery_told_by_others_counts() -> None:
    told = ToldByOthers(on="2020-05", ear="left", source="letter", surgery="myringoplasty")
    assert set(no_water(Case(born=BORN, told_by_others=(told,)))) == {"left"}


def test_a_hole_counts_through_visits_that_did_not_record_it() -> None:
    first = Visit(on=date(2020, 1, 1), right=Ear(perforation="central"))
    unseen = Visit(on=date(2026, 1, 1), right=Ear(drum_seen="none"))
    assert set(no_water(Case(born=BORN, visits=(first, unseen)))) == {"right"}


# The published periods: perforation healed 12 months, discharge 12 months, infection 6 weeks,
# grommet out 18 months.
@pytest.mark.parametrize(
    ("fields", "last", "over"),
    [
        ({"perforation": "healed"}, date(2027, 8, 31), date(2027, 9, 1)),
        ({"discharge": "clear"}, date(2027, 8, 31), date(2027, 9, 1)),
        ({"bulging": True}, date(2026, 10, 12), date(2026, 10, 13)),
        ({"grommet": "gone"}, date(2028, 2, 29), date(2028, 3, 1)),
    ],
    ids=str,
)
def test_the_published_periods(fields: dict, last: date, over: date) -> None:
    assert no_water(seen(**fields), last)
    assert not no_water(seen(**fields), over)


def test_the_last_of_several_infections_counts() -> None:
    days = date(2025, 3, 1), ON
    visits = tuple(Visit(on=day, right=Ear(bulging=True)) for day in days)
    assert no_water(Case(born=BORN, visits=visits), date(2026, 10, 12))


# AAO-HNSF 2017 statement 2B.
@pytest.mark.parametrize(
    "risk", ["anticoagulant", "immunocompromised", "diabetes", "head_neck_radiotherapy"]
)
def test_modifying_factors_ask_for_care(risk: str) -> None:
    found = cautions(Case(born=BORN, risks=(risk,)), ON)
    assert [c.what for c in found] == ["Take extra care"]


def test_nothing_known_gives_nothing() -> None:
    assert cautions(seen(drum_seen="full", perforation="none", grommet="none"), ON) == ()
