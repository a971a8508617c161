"""Hypothesis strategies: plain data that the types accept, and histories that decode."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any, get_args

import msgspec
from hypothesis import strategies as st
from msgspec import inspect

from recall.care.case import (
    Case,
    Reported,
    ReportWord,
    RiskWord,
    To,
    ToldByOthers,
    Track,
    UnderCare,
    Visit,
)
from recall.care.catalogue import holding
from recall.care.contradictions import contradictions
from recall.care.dates import Before
from recall.care.ear import EAR_FIELDS, SIDES, Ear
from recall.care.measured import Tympanogram, TympanogramType

LEVELS = st.integers(-4, 26).map(lambda step: float(step * 5)) | st.just("nr")


def levels(*frequencies: str) -> st.SearchStrategy[dict[str, Any]]:
    """Return hearing tests that measured exactly these frequencies."""
    return st.fixed_dictionaries(dict.fromkeys(frequencies, LEVELS))


def _of_struct(node: inspect.StructType) -> st.SearchStrategy[dict[str, Any]]:
    fields = {f.encode_name: (f.required, accepted(f.type)) for f in node.fields}
    return st.fixed_dictionaries(
        {name: made for name, (required, made) in fields.items() if required},
        optional={name: made for name, (required, made) in fields.items() if not required},
    )


def _of_text(node: inspect.StrType) -> st.SearchStrategy[str]:
    if node.pattern is None:
        return st.text(max_size=5)
    days = st.dates()
    return days.map(str) | days.map(lambda day: f"{day:%Y}-{day:%m}") | st.from_regex(node.pattern)


def _of_union(node: inspect.UnionType) -> st.SearchStrategy[Any]:
    leaves = (n for n in node.types if not isinstance(n, inspect.CustomType))
    return st.one_of(*(accepted(leaf) for leaf in leaves))


def _of_dict(node: inspect.DictType) -> st.SearchStrategy[dict[Any, Any]]:
    keys, values = accepted(node.key_type), accepted(node.value_type)
    return st.dictionaries(keys, values, min_size=node.min_length or 0, max_size=6)


_BY_TYPE: dict[type, Callable[[Any], st.SearchStrategy[Any]]] = {
    inspect.StructType: _of_struct,
    inspect.UnionType: _of_union,
    inspect.Metadata: lambda node: accepted(node.type),
    inspect.LiteralType: lambda node: st.sampled_from(sorted(node.values, key=str)),
    inspect.DictType: _of_dict,
    inspect.VarTupleType: lambda node: st.lists(accepted(node.item_type), max_size=3),
    inspect.IntType: lambda node: st.integers(node.ge, node.le),
    inspect.FloatType: lambda node: st.floats(node.ge, node.le, allow_nan=False),
    inspect.StrType: _of_text,
    inspect.DateType: lambda node: st.dates().map(str),
    inspect.BoolType: lambda node: st.booleans(),
    inspect.NoneType: lambda node: st.none(),
}


def accepted(node: inspect.Type) -> st.SearchStrategy[Any]:
    """Return plain data (dicts, lists, words) that a type accepts; KeyError for one not known."""
    return _BY_TYPE[type(node)](node)


BEFORE = st.builds(Before, weeks=st.integers(1, 60)) | st.builds(Before, days=st.integers(1, 40))
TRACES = st.one_of(
    st.builds(
        Tympanogram,
        peak_daPa=st.integers(-600, 300).map(float),
        compliance_ml=st.sampled_from([0.0, 0.2, 0.3, 0.7, 1.6, 2.0]),
    ),
    st.builds(Tympanogram, flat=st.just(True)),
    st.builds(Tympanogram, flat=st.just(True), volume_ml=st.sampled_from([0.1, 0.7, 1.2, 2.2, 3])),
    st.builds(Tympanogram, type=st.sampled_from(get_args(TympanogramType))),
)
_RECORDED = (
    {
        f.name: accepted(f.type).filter(lambda v: v is not None)
        for f in inspect.type_info(Ear).fields
    }
    | dict.fromkeys(holding("when"), BEFORE)
    | dict.fromkeys(holding("trace"), TRACES)
)


def without_contradictions(ear: Ear) -> Ear:
    """Return an ear without the findings that cannot be true beside the others."""
    while found := contradictions(ear):
        row = found[0].row
        drop = row.field if found[0].other_value is None else row.other
        ear = msgspec.structs.replace(ear, **{drop: None})
    return ear


# Strategies are made once: to make them anew for every draw takes most of a property's time.
_FIELDS = st.sampled_from(EAR_FIELDS)
_WORDS = st.sampled_from(get_args(ReportWord))
_REPORT = _WORDS | st.builds(
    Reported,
    what=_WORDS,
    ear=st.sampled_from(SIDES),
    since=BEFORE,
    onset_days=st.integers(0, 99),
)
_REPORTED, _EXAMINER = st.lists(_REPORT, max_size=2), st.sampled_from([None, "A", "B"])
_BORN, _DAYS = st.dates(date(1930, 1, 1), date(2023, 12, 31)), st.integers(0, 900)
_RISKS = st.lists(st.sampled_from(get_args(RiskWord)), max_size=2, unique=True)
_TOLD = st.builds(
    ToldByOthers,
    on=st.dates(date(2024, 1, 1), date(2026, 1, 1)).map(str),
    ear=st.sampled_from(SIDES),
    source=st.just("hospital letter"),
    effusion=st.sampled_from(["absent", "suspected", "present"]),
)
_CARED = st.builds(
    UnderCare,
    of=st.sampled_from(get_args(To)),
    ear=st.none() | st.sampled_from(SIDES),
    track=st.none() | st.sampled_from(get_args(Track)),
)
_AT_MOST_ONE_TOLD, _AT_MOST_ONE_CARED = st.lists(_TOLD, max_size=1), st.lists(_CARED, max_size=1)


@st.composite
def ears(draw: st.DrawFn, at_most: int = 12) -> Ear:
    """Return findings of one ear that a case file may hold."""
    names = draw(st.lists(_FIELDS, unique=True, max_size=at_most))
    return without_contradictions(Ear(**{name: draw(_RECORDED[name]) for name in names}))


_EAR_OR_NONE = st.none() | ears()


@st.composite
def visits(draw: st.DrawFn, on: date) -> Visit:
    """Return a visit on a day."""
    return Visit(
        on=on,
        examiner=draw(_EXAMINER),
        reported=tuple(draw(_REPORTED)),
        right=draw(_EAR_OR_NONE),
        left=draw(_EAR_OR_NONE),
    )


@st.composite
def cases(draw: st.DrawFn, most_visits: int = 4) -> Case:
    """Return a person's history that decodes, in any order of its visits."""
    born = draw(_BORN)
    start = max(born, date(2024, 1, 1)) + timedelta(weeks=60)
    days = draw(st.lists(_DAYS, max_size=most_visits))
    return Case(
        born=born,
        risks=tuple(draw(_RISKS)),
        visits=tuple(draw(visits(start + timedelta(days=after))) for after in days),
        told_by_others=tuple(draw(_AT_MOST_ONE_TOLD)),
        under_care=tuple(draw(_AT_MOST_ONE_CARED)),
    )
