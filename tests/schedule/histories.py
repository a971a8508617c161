"""Hypothesis strategies for histories: visits of both ears over a few years."""

from __future__ import annotations

from datetime import date, timedelta
from itertools import pairwise
from typing import Any, get_args

from hypothesis import strategies as st
from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case, ReportWord, RiskWord, Visit
from recall.care.casefile import check_ear
from recall.care.catalogue import CATALOGUE
from recall.care.ear import Ear
from recall.care.findings.entry import Finding
from recall.care.hearing import four_frequency_average
from recall.care.tympanogram import classify
from recall.errors import InputError

LEVEL = st.sampled_from([0, 10, 15, 20, 25, 30, 35, 45, 60])
AUDIOGRAM = st.fixed_dictionaries(dict.fromkeys(("500", "1000", "2000", "4000"), LEVEL))
TRACE = st.one_of(
    st.fixed_dictionaries(
        {
            "peak_daPa": st.sampled_from([-450, -250, -150, -100, -99.5, -50, 0, 20]),
            "compliance_ml": st.sampled_from([0.2, 0.6, 1.8]),
        }
    ),
    st.sampled_from([{"flat": True}, {"flat": True, "volume_ml": 0.7}, {"type": "C2"}]),
)


WHEN = st.dates(date(2026, 7, 1), date(2026, 11, 28)).map(str)
"""Before every visit, and after every birth."""


def _values(finding: Finding) -> st.SearchStrategy[Any]:
    """Return what one finding may be."""
    measured = {"levels": AUDIOGRAM, "trace": TRACE, "when": WHEN}
    if finding.holds in measured:
        return measured[finding.holds]
    return st.sampled_from(finding.values)


def fits(values: dict[str, Any]) -> bool:
    """Return whether an ear can be so: the check of a case file lets it through."""
    try:
        check_ear(convert(values, Ear), "ear")
    except (InputError, ValueError):
        return False
    return True


# Strategies are made once: to make them anew for every draw took nine tenths of the properties.
RECORDED = st.lists(
    st.one_of([st.tuples(st.just(n), _values(f)) for n, f in CATALOGUE.items()]), max_size=9
)
BORN, ON = (
    st.dates(date(1940, 1, 1), date(2026, 6, 30)),
    st.dates(date(2026, 12, 1), date(2030, 3, 1)),
)
EXAMINER, DAYS = st.sampled_from(["A", "B", None]), st.integers(1, 300)
REPORTED = st.lists(st.sampled_from(get_args(ReportWord)), max_size=2, unique=True)
RISKS = st.lists(st.sampled_from(get_args(RiskWord)), max_size=2, unique=True)


@st.composite
def ears(draw: st.DrawFn) -> Ear:
    """Return an ear with a handful of fields recorded, none of which contradict each other."""
    found: dict[str, Any] = {}
    for name, value in draw(RECORDED):
        tried = {**found, name: value}
        if fits(tried):
            found = tried
    return convert(found, Ear)


EAR_OR_NONE = st.none() | ears()


@st.composite
def cases(draw: st.DrawFn, most: int = 5) -> Case:
    """Return a person with a few visits, the first once every rule in force judges."""
    born, on = draw(BORN), draw(ON)
    visits = []
    for _ in range(draw(st.integers(1, most))):
        visits.append(
            Visit(
                on=on,
                examiner=draw(EXAMINER),
                reported=tuple(draw(REPORTED)),
                right=draw(EAR_OR_NONE),
                left=draw(EAR_OR_NONE),
            )
        )
        on += timedelta(days=draw(DAYS))
    return Case(born=born, risks=tuple(draw(RISKS)), visits=tuple(visits))


def with_last(case: Case, visit: Visit) -> Case:
    """Return a case with another last visit."""
    return replace(case, visits=(*case.visits[:-1], visit))


def told_twice(
    first: dict[str, Any],
    last: dict[str, Any],
    worse: dict[str, Any],
    known: dict[str, Any] | None = None,
    later: str | None = None,
) -> Any:
    """Return two visits of a right ear half a year apart, the last one as it was and worse."""
    on, later = "2026-12-01", later or ("2026-12-18" if known else "2027-06-18")
    made = [
        convert(
            {
                "born": "2011-01-01",
                **(known or {}),
                "visits": [{"on": on, "right": first}, {"on": later, "right": found}],
            },
            Case,
        )
        for found in (last, {**last, **worse})
    ]
    return (*made, f"right {next(iter(worse))}: worse")


def crossed(ear: Ear, other: Ear | None) -> bool:
    """Return whether two ears are 15 dB apart at two adjacent frequencies, each worse at one."""
    mine, others = ear.hearing_dB or {}, (other.hearing_dB if other else None) or {}
    apart = [float(mine[hz]) - float(others[hz]) for hz in ("500", "1000", "2000", "4000")]
    return any(min(pair) <= -15 and max(pair) >= 15 for pair in pairwise(apart))


def told_at_once(reported: list[str], found: dict[str, Any], worse: dict[str, Any]) -> Any:
    """Return one visit of a left ear with what was told, as it was found and worse."""
    born, on = "2000-01-01", "2026-12-04"
    made = [
        convert({"born": born, "visits": [{"on": on, "reported": reported, "left": ear}]}, Case)
        for ear in (found, worse)
    ]
    return (*made, f"left {[*worse][-1]}: worse")


def worse_audiogram(ear: Ear, other: Ear | None) -> list[Any]:
    """Return the audiogram 10 dB worse at every frequency, in the worse ear or where it is alone.

    In the better ear of two a loss makes the difference between them smaller: that is the one
    derived scale that can fall when a measured value gets worse. So it is where each ear is the
    worse one at one of two adjacent frequencies: 15 dB at both are published without a direction.
    """
    mine = four_frequency_average(ear.hearing_dB)
    if mine is None or ear.hearing_dB is None:
        return []
    others = four_frequency_average(other.hearing_dB) if other is not None else None
    if others is not None and (others > mine or crossed(ear, other)):
        return []
    return [{hz: min(120, float(v) + 10) for hz, v in ear.hearing_dB.items() if v != "nr"}]


def worse_traces(ear: Ear) -> list[Any]:
    """Return traces of a worse type after modified Jerger: A, C1, C2, B."""
    if ear.tympanogram is None:
        return []
    found = classify(ear.tympanogram, child=True)
    order = ("A", "C1", "C2", "B")
    if found.letter is None or found.pattern != "peak":
        return []
    return [{"type": letter} for letter in order[order.index(found.letter) + 1 :]]


def mirrored(case: Case) -> Case:
    return replace(case, visits=tuple(replace(v, right=v.left, left=v.right) for v in case.visits))
