"""A worse finding makes nothing fall away, come later or get milder: every word, step by step.

No source: it is a rule of this project, and the reason why a plan can be trusted. The random
properties beside it go further; this goes over every word, always the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

import pytest

from recall.care.case import Reported, ReportWord
from recall.protocol.loading import load
from recall.schedule.fold import Folding
from tests.schedule.reviewed import EXPLAINS, Standing
from tests.schedule.sweep import (
    BORN,
    EXPLAINED_BY,
    GAPS,
    HISTORIES,
    LAST,
    LOOKS,
    ON,
    REPORTS,
    TOLD_BESIDE,
    WELL_ACROSS,
    Found,
    Pair,
    after,
    history,
    looser,
    visit,
    worse_before,
    worse_ear,
    worse_explained,
    worse_told,
)

PROTOCOL = load()
NAMES = sorted(HISTORIES)


def loosened(pairs: Iterable[Pair]) -> Iterator[str]:
    """Yield what a worse word loosened and nothing reviewed explains."""
    for word, value, one, two in pairs:
        may = EXPLAINS.get((word, str(value)), frozenset())
        for says, rules in looser(one, two):
            if may.isdisjoint(rules):
                yield f"{word} {value}: {says} ({', '.join(rules)})"


@pytest.mark.parametrize("born", BORN, ids=lambda born: str(born.year))
@pytest.mark.parametrize("name", NAMES)
def test_a_worse_last_look_loosens_nothing(name: str, born: date) -> None:
    for gap in GAPS if born.year > 1965 else GAPS[1:2]:
        state = history(born, HISTORIES[name], gap, PROTOCOL)
        for said, look in LOOKS.items():
            where = f"{gap} days after {name}, {said}"
            assert list(loosened(worse_ear(state, look, "right"))) == [], where
            if said in TOLD_BESIDE:
                assert list(loosened(worse_told(state, look))) == [], where
            if said == "tested":
                assert list(loosened(worse_ear(state, look, "left"))) == [], f"other ear, {where}"


@pytest.mark.parametrize("name", [name for name in NAMES if HISTORIES[name]])
def test_a_worse_look_before_it_loosens_nothing(name: str) -> None:
    for born in BORN[:2]:
        for gap in GAPS:
            for said in LAST:
                pairs = worse_before(born, HISTORIES[name], gap, LOOKS[said], PROTOCOL)
                assert list(loosened(pairs)) == [], f"{gap} days before {said}"


@pytest.mark.parametrize("found", EXPLAINED_BY, ids=" ".join)
@pytest.mark.parametrize("name", ["never seen", "wax", "loss"])
def test_worse_evidence_never_explains_a_sudden_loss(name: str, found: Found) -> None:
    state = history(BORN[2], HISTORIES[name], GAPS[1], PROTOCOL)

    assert list(loosened(worse_explained(state, found, "right"))) == []


@pytest.mark.parametrize("found", EXPLAINED_BY, ids=" ".join)
def test_a_better_ear_on_the_other_side_never_explains(found: Found) -> None:
    state = history(BORN[2], (), GAPS[1], PROTOCOL)
    emergencies = {side for (side, _), row in after_other(state, found).items() if row[1] == 0}

    assert emergencies == {"right"}


@pytest.mark.parametrize("word", REPORTS)
def test_a_complaint_of_one_ear_is_answered_by_that_ear_only(word: ReportWord) -> None:
    for born in BORN:
        state = history(born, (), GAPS[1], PROTOCOL)
        for dated in ({}, {"since": "2029-01-10", "onset_days": 20}):
            told = (Reported(what=word, ear="right", because="wax", **dated),)
            for look in (*LOOKS.values(), {}):
                alone = after(state, visit(ON, look, reported=told))
                for across in WELL_ACROSS:
                    both = after(state, visit(ON, look, across, reported=told))
                    right = {k: v for k, v in alone.items() if k[0] == "right"}
                    assert list(looser(right, both)) == [], (look, across)


def after_other(state: Folding, found: Found) -> Standing:
    """Return what stands where the right ear lost its hearing and only the left was tested."""
    told = (
        Reported(what="sudden_hearing_loss", ear="right"),
        Reported(what="loss_explained", because="wax"),
    )
    return after(state, visit(ON, {"wax_found": "none"}, found, reported=told))
