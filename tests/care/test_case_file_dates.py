"""Impossible dates are refused with their path; vague ones are read as their earliest day."""

from __future__ import annotations

import json
from datetime import date

import pytest

from recall.care.casefile import decode_case, first_visit_on, vague_dates
from recall.errors import InputError

DIABETES = {"what": "diabetes"}


def case(visits=("2026-09-01",), born="2018-03-02", right=None, reported=(), **more):
    seen = [{"on": on, "right": right or {}, "reported": list(reported)} for on in visits]
    return json.dumps({"born": born, "visits": seen, **more}).encode()


def told(**more):
    return {"ear": "right", "source": "hospital letter", "effusion": "present", **more}


@pytest.mark.parametrize(
    ("data", "message"),
    [
        (case(born="1899-12-31"), "born: 1899-12-31 is not between 1900 and 2100"),
        (case(["2101-01-01"]), "visits[0].on: 2101-01-01 is not between 1900 and 2100"),
        (case(["2026-01-01", "2018-03-01"]), "visits[1].on: 2018-03-01 is before the birth"),
        (case(["2049-01-01"], born="1918-01-01"), "visits[0].on: 2049-01-01 is more than 130"),
        (case(right={"discharge_since": "2026-09-02"}), "visits[0].right.discharge_since"),
        (case(right={"discharge_since": "2026-10"}), "visits[0].right.discharge_since"),
        (case(right={"discharge_since": "2026-13"}), "discharge_since: 2026-13 is no day"),
        (case(right={"discharge_since": "2026-02-29"}), "discharge_since: 2026-02-29 is no day"),
        (case(right={"grommet_on": "2026-09-02"}), "visits[0].right.grommet_on"),
        (case(right={"grommet_on": "2018-03-01"}), "visits[0].right.grommet_on"),
        (case(right={"grommet_on": {"years": 9}}), "right.grommet_on: 2017-09-01 is before"),
        (case(right={"hearing_aid_fitted_on": "2027-01-01"}), "right.hearing_aid_fitted_on"),
        (case(reported=[{"what": "pain", "since": "2026-09-02"}]), "visits[0].reported[0].since"),
        (case(risks=[{"what": "diabetes", "since": "2018-02"}]), "risks[0].since: 2018-02-01"),
        (
            case(
                risks=["autism", {"what": "diabetes", "since": "2026-08-02", "until": "2026-08-01"}]
            ),
            "risks[1].until: 2026-08-01 is before its since, 2026-08-02",
        ),
        (
            case(under_care=[{"of": "ent", "since": "2026-08-01", "until": "2026-07"}]),
            "under_care[0].until",
        ),
        (case(told_by_others=[told(on="2018-03-01")]), "told_by_others[0].on"),
        (
            case(told_by_others=[told(on="2026-08-01", grommet_on="2026-08-02")]),
            "told_by_others[0].grommet_on: 2026-08-02 is after 2026-08-01",
        ),
        (case(loss_treated_on="2018-01-01"), "loss_treated_on: 2018-01-01 is before the birth"),
        (case(loss_treated_on="2100-13"), "loss_treated_on: 2100-13 is no day"),
    ],
)
def test_an_impossible_date_is_refused_with_its_path(data, message):
    with pytest.raises(InputError) as caught:
        decode_case(data)
    assert message in caught.value.message
    assert caught.value.hint


@pytest.mark.parametrize(
    "data",
    [
        case(["2018-03-02"]),
        case(["2026-09-01", "2026-08-01"]),
        case(["2026-09-01", "2026-09-01"]),
        case(right={"discharge_since": "2026-09-01"}),
        case(right={"discharge_since": "2026-09"}),
        case(right={"discharge_since": {"weeks": 6}}),
        case(right={"grommet_on": "2018-03"}),
        case(risks=[{"what": "diabetes", "since": "2026-08-20", "until": "2026-08"}]),
        case(risks=[{"what": "diabetes", "since": {"weeks": 6}}], visits=()),
        case(told_by_others=[told(on="2026-08", grommet_on="2026-08-31")]),
        case(told_by_others=[told(on="2026-12-01")]),
        case(loss_treated_on="2026-10"),
        case(["1999-01-01"], born="1900-01-01"),
        case(["2024-02-29"], born="2020-02-29"),
    ],
)
def test_a_possible_date_is_accepted(data):
    assert decode_case(data)


def test_vague_dates_are_told_with_the_day_they_were_taken_for():
    read = decode_case(
        case(
            right={"discharge_since": {"weeks": 6}, "grommet_on": "2026-08-14"},
            reported=[{"what": "pain", "since": "2026-08"}],
            risks=["diabetes"],
            loss_treated_on="2026-07",
        )
    )
    assert vague_dates(read, date(2030, 1, 1)) == (
        "Visit of 1 September 2026, right ear, runs since: taken as 21 July 2026, "
        "the earliest day it can mean.",
        "Visit of 1 September 2026, pain, since when: taken as 1 August 2026, "
        "the earliest day it can mean.",
        "Treatment of a sudden loss, its end: taken as 1 July 2026, the earliest day it can mean.",
    )


def test_vague_dates_of_later_visits_are_left_out():
    read = decode_case(case(["2026-09-01", "2026-10-01"], right={"discharge_since": "2026-08"}))
    assert len(vague_dates(read, date(2030, 1, 1))) == 2
    assert len(vague_dates(read, date(2026, 9, 30))) == 1


def test_outside_a_visit_weeks_before_counts_from_the_first_visit():
    read = decode_case(
        case(["2026-10-01", "2026-09-01"], risks=[{"what": "diabetes", "since": {"weeks": 6}}])
    )
    assert first_visit_on(read) == date(2026, 9, 1)
    assert vague_dates(read, date(2030, 1, 1))[0].startswith(
        "Risk: diabetes, since: taken as 21 July 2026"
    )


def test_weeks_before_no_visit_at_all_is_told_as_not_used():
    read = decode_case(case([], risks=[{"what": "diabetes", "since": {"weeks": 6}}]))
    assert vague_dates(read, date(2030, 1, 1)) == (
        "Risk: diabetes, since: not used, for want of a visit to count back from.",
    )
