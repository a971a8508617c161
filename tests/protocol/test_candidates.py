"""Rules that are sorted out beforehand match as they do when each is tried by itself."""

from __future__ import annotations

import random
from datetime import date, timedelta
from operator import attrgetter
from typing import Any

import pytest
from msgspec.structs import replace

from recall.care.course import Course
from recall.care.grades import Grades
from recall.protocol.candidates import Compiled
from recall.protocol.context import COURSE, Circumstance, ContextWord, context_word
from recall.protocol.context_lines import context_tests
from recall.protocol.loading import load
from recall.protocol.matching import Matcher
from recall.protocol.onset import Onset
from recall.protocol.rules import Rule
from recall.protocol.words import REPORTS

ON = date(2027, 3, 8)
DRAWS, SEED = 400, 7


def drawn(rng: random.Random, kind: str) -> Any:
    """Return a value for a field of a course, by its kind; mostly there."""
    days = [ON - timedelta(days=rng.choice((0, 1, 20, 80, 100, 170, 200, 400))) for _ in range(3)]
    if kind.startswith("tuple"):
        return tuple(sorted(days))
    if kind.startswith("date"):
        return days[0]
    if kind.startswith("float"):
        return rng.choice((-10.0, 0.0, 5.0, 10.0, 15.0, 25.0, 40.0))
    if kind == "bool":
        return True
    return rng.choice((0, 1, 2, 3))


def grades(rng: random.Random) -> Grades:
    fields = Grades.__annotations__
    return Grades(**{n: drawn(rng, k) for n, k in fields.items() if n != "last_examiner"})


def course(rng: random.Random, share: float) -> Course:
    """Return a course of which a share of the fields holds something."""
    fields = {n: k for n, k in Course.__annotations__.items() if k != "Grades"}
    told = {n: drawn(rng, k) for n, k in fields.items() if rng.random() < share}
    return Course(**told, tensa=grades(rng), attic=grades(rng))


def circumstance(rng: random.Random, share: float) -> Circumstance:
    reports = {w: Onset(ON - timedelta(days=30), ON, 5, 5) for w in REPORTS if rng.random() < share}
    treated = ON - timedelta(days=30) if rng.random() < share else None
    return Circumstance(ON, 34, course(rng, share), course(rng, share), reports, treated)


def one_by_one(matcher: Matcher, bits: int, there: Circumstance) -> list[Rule]:
    """Return the rules that match, by what is written of each alone."""
    tests, _ = context_tests(matcher.context)

    def matches(c: Compiled) -> bool:
        found = bits & c.need == c.need and not bits & c.blocks and c.in_force(there.on)
        holds = found and all(tests[place](there) for place in c.holds)
        return holds and not any(tests[place](there) for place in c.lacks)

    return [c.rule for c in matcher.compiled if matches(c)]


@pytest.mark.parametrize("share", [0.1, 0.9])
def test_what_is_sorted_out_beforehand_matches_as_each_rule_does_alone(share: float) -> None:
    matcher, rng = load().matcher, random.Random(SEED)
    by_history: set[str] = set()

    for _ in range(DRAWS):
        bits = 0
        for c in rng.sample(matcher.compiled, 4):
            bits |= c.need
        there = circumstance(rng, share)
        found = list(matcher.matches(bits, there))
        assert [r.id for r in found] == [r.id for r in one_by_one(matcher, bits, there)]
        by_history.update(r.id for r in found if "course" in r.when)

    assert len(by_history) > 20, "the history has decided of many rules"


WORDS: dict[str, ContextWord] = dict(COURSE)
if (pain := context_word("report", "pain_for")) is not None:
    WORDS["pain_for"] = pain
GATED = sorted(name for name, word in WORDS.items() if word.gate)


@pytest.mark.parametrize("name", GATED)
def test_without_its_gate_a_word_says_what_it_says_of_an_empty_history(name: str) -> None:
    word, rng = WORDS[name], random.Random(SEED)
    empty = Circumstance(ON, 34, Course(), Course(), {}, None)
    nothing = word.get(empty)
    path, _, last = word.gate.rpartition(".")
    said = []

    for _ in range(300):
        there = circumstance(rng, 0.95)
        said.append(word.get(there))
        if path:
            holder = attrgetter(path)(there)
            setattr(holder, last, getattr(type(holder)(), last))
        else:
            there = replace(there, **{last: getattr(empty, last)})
        assert not attrgetter(word.gate)(there)
        assert word.get(there) == nothing

    assert any(value != nothing for value in said), "with it, the word says more"
