"""Hypothesis strategies for histories: visits of both ears over a few years."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any, get_args

from hypothesis import strategies as st
from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case, ReportWord, RiskWord, Visit
from recall.care.casefile import check_ear
from recall.care.ear import Ear
from recall.errors import InputError

BOOLS = [
    "red",
    "bulging",
    "bullae",
    "tensa_mobile",
    "pocket_base_seen",
    "scutum_erosion",
    "attic_crust",
    "granulation",
    "polyp",
    "keratin",
    "blood_behind_drum",
    "canal_swollen_shut",
    "canal_narrow",
    "exostoses",
    "cellulitis",
    "mastoid_swelling",
    "pinna_lesion",
    "treated",
    "tympanosclerosis",
    "cavity",
    "attic_seen",
]
WORDS: dict[str, tuple[Any, ...]] = {
    "wax_found": ("none", "some", "partial", "occluding"),
    "wax_left": ("none", "some", "partial", "occluding"),
    "clearance": ("cleared", "failed", "not_attempted"),
    "hearing_after": ("better", "same", "worse"),
    "drum_seen": ("full", "part", "none"),
    "effusion": ("absent", "suspected", "present"),
    "tensa_grade": (0, 1, 2, 3, 4),
    "attic_grade": (0, 1, 2, 3, 4),
    "mass_behind_drum": ("none", "white", "red"),
    "perforation": ("none", "central", "marginal", "attic", "healed"),
    "discharge": ("none", "clear", "purulent", "blood"),
    "canal_skin": ("normal", "inflamed", "fungal"),
    "grommet": ("none", "in_place", "blocked", "in_canal", "gone"),
    "hearing_screen": ("passed", "not_passed", "could_not_test"),
    "foreign_body": ("none", "button_battery", "unidentified", "other"),
}
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


def fits(values: dict[str, Any]) -> bool:
    """Return whether an ear can be so: the check of a case file lets it through."""
    try:
        check_ear(convert(values, Ear), "ear")
    except (InputError, ValueError):
        return False
    return True


@st.composite
def ears(draw: st.DrawFn) -> Ear:
    """Return an ear with a handful of fields recorded, none of which contradict each other."""
    choices = [st.tuples(st.just(n), st.sampled_from(v)) for n, v in WORDS.items()]
    choices += [st.tuples(st.just(n), st.booleans()) for n in BOOLS]
    choices += [
        st.tuples(st.just("hearing_dB"), AUDIOGRAM),
        st.tuples(st.just("tympanogram"), TRACE),
    ]
    found: dict[str, Any] = {}
    for name, value in draw(st.lists(st.one_of(choices), max_size=9)):
        tried = {**found, name: value}
        if fits(tried):
            found = tried
    return convert(found, Ear)


@st.composite
def cases(draw: st.DrawFn, most: int = 5) -> Case:
    """Return a person with a few visits, the first in or after 2021."""
    born = draw(st.dates(date(1935, 1, 1), date(2020, 6, 30)))
    on = draw(st.dates(date(2021, 1, 1), date(2024, 3, 1)))
    visits = []
    for _ in range(draw(st.integers(1, most))):
        visits.append(
            Visit(
                on=on,
                examiner=draw(st.sampled_from(["A", "B", None])),
                reported=tuple(
                    draw(st.lists(st.sampled_from(get_args(ReportWord)), max_size=2, unique=True))
                ),
                right=draw(st.none() | ears()),
                left=draw(st.none() | ears()),
            )
        )
        on += timedelta(days=draw(st.integers(1, 300)))
    risks = draw(st.lists(st.sampled_from(get_args(RiskWord)), max_size=2, unique=True))
    return Case(born=born, risks=tuple(risks), visits=tuple(visits))


def with_last(case: Case, visit: Visit) -> Case:
    """Return a case with another last visit."""
    return replace(case, visits=(*case.visits[:-1], visit))
