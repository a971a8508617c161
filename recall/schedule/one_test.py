"""One test for two: a test of hearing that another one, no later, does as well.

Both ears are mostly tested at one go. A test that is only repeated, since suction lowers hearing
for some days, is of that ear alone, and takes the place of nothing of the other one (common
practice, no source; that suction does so: Cronin and Zhao, Int J Audiol 2020;59:713-8).
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from recall.protocol.loading import Protocol
from recall.schedule.ending import gives_way, of_unknown_test
from recall.schedule.merging import RANK
from recall.schedule.plan import Due

FLUID_TESTS = frozenset({"fluid-child-second-visit", "fluid-child-both", "fluid-child-concern"})
"""Tests that a child's fluid asks for three months on, where hearing was never tested in it."""
REPEATED = frozenset(
    {
        "worse-after-suction",
        "concern-after-suction",
        "difference-after-suction",
        "drop-after-suction",
        "loss-after-suction",
        "high-tones-after-suction",
        "one-tone-after-suction",
        "tensa-drop-after-suction",
        "attic-drop-after-suction",
        "hole-drop-after-suction",
    }
)
"""Tests of one ear that suction alone asks for once more."""


def own_place(protocol: Protocol, on: date) -> bool:
    """Return whether a day is judged so that a repeated test of one ear leaves the other its own.

    And so that whoever sees an ear today as an emergency looks at what care hurt in it.
    """
    since = protocol.file.own_place_from
    return since is not None and since <= on


def is_test(due: Due) -> bool:
    """Return whether a due is a test of hearing and nothing else."""
    return (due.kind, due.track, due.needs) == ("recheck", "hearing", ("hearing",))


def tested_anyway(due: Due, tests: Iterable[Due], protocol: Protocol) -> bool:
    """Return whether another test, no later and no less pressing, does for a test.

    Fluid that began later in one ear of a child has that ear tested with the other one, earlier;
    fluid that is still there when it is three months old asks for its own test then.
    """
    if of_unknown_test(due, protocol):
        alone = own_place(protocol, due.asked_on)
        return any(_no_later(t, due) and not (alone and _of_other(t, due)) for t in tests)
    if due.rule not in FLUID_TESTS or not gives_way(protocol, due.asked_on):
        return False
    return any(
        t.ear != due.ear and t.target < due.target and _no_later(t, due) and _of_fluid(t)
        for t in tests
    )


def _of_other(test: Due, due: Due) -> bool:
    """Return whether a test is repeated for the other ear alone."""
    return test.ear != due.ear and test.rule in REPEATED


def _of_fluid(test: Due) -> bool:
    return not FLUID_TESTS.isdisjoint({test.rule, *test.beaten})


def _no_later(test: Due, due: Due) -> bool:
    """Return whether a test, of whichever ear, comes no later and presses at least as much.

    Both ears are tested at one go; an ear that was left out is asked for again at that visit.
    """
    return test.latest <= due.latest and RANK[test.urgency] <= RANK[due.urgency]
