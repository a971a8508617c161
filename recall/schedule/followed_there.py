"""What another service that has an ear under its care does itself: not asked for here as well.

Whether that care still runs is asked for all the same. What was told newly, a sign that is new and
whatever presses stay ours. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from recall.care.case import To, Track, UnderCare
from recall.care.ear import Side
from recall.schedule.one_place import FOR_LIFE, THEIR_TESTS, WAX_TRIES
from recall.schedule.plan import Due


class Followed(NamedTuple):
    """What a service does for whom it has under its care for some tracks, by our rules' names."""

    by: frozenset[To]
    care: frozenset[Track | None]
    ours: frozenset[str]


FOLLOWED = (
    Followed(
        frozenset({"paediatric_audiology"}),
        frozenset({"hearing", "surveillance", "fluid", None}),
        THEIR_TESTS,
    ),
    Followed(
        frozenset({"ent"}),
        frozenset({"fluid"}),
        frozenset(
            {
                "fluid-child-look",
                "fluid-child-second-visit",
                "fluid-child-both",
                "fluid-child-concern",
                "fluid-child-loss",
                "fluid-child-loss-better-ear",
                "fluid-long-look",
                "fluid-long-hearing",
                "fluid-long-untested",
                "fluid-told-look",
                "fluid-told-long-untested",
                "fluid-at-risk-look",
                "fluid-adult-look",
                "trace-flat",
                "trace-c2-child",
            }
        ),
    ),
    Followed(
        frozenset({"paediatric_audiology"}),
        frozenset({"hearing", "surveillance", None}),
        FOR_LIFE,
    ),
    Followed(
        frozenset({"ent"}),
        frozenset({"cavity"}),
        frozenset({"cavity-care", "cavity-quiet-care"}),
    ),
    Followed(
        frozenset({"ent"}),
        frozenset({"wax"}),
        WAX_TRIES | {"drops-first", "drops-first-found"},
    ),
    Followed(
        frozenset({"ent", "paediatric_audiology"}),
        frozenset({"grommet"}),
        frozenset(
            {
                "grommet-first-look",
                "grommet-first-hearing",
                "grommet-in-place",
                "grommet-never-tested",
                "grommet-not-tested-here",
            }
        ),
    ),
)
"""Who looks at, tests, cleans or clears what. A service for hearing that names no track tests
hearing; ENT that names none may be for anything. Wax that ENT has is not tried at here meanwhile.
An adult's test by risk, years apart, stays a question of ours: audiology discharges adults to come
back by themselves."""


def is_followed(rules: Iterable[str], side: Side, care: Iterable[UnderCare]) -> bool:
    """Return whether services that have an ear under their care do all that some rules ask."""
    rules = set(rules)
    theirs = [c for c in care if c.ear in (None, side)]
    done = {
        rule
        for each in FOLLOWED
        if any(c.of in each.by and c.track in each.care for c in theirs)
        for rule in each.ours
    }
    return bool(rules) and rules <= done


def wax_is_at_ent(side: Side, care: Iterable[UnderCare]) -> bool:
    """Return whether ENT has the wax of an ear under its care."""
    return any(c.of == "ent" and c.track == "wax" and c.ear in (None, side) for c in care)


def left_to_them(dues: Iterable[Due], care: Iterable[UnderCare]) -> list[Due]:
    """Return what stood open here, and a service that has the ear under its care does now."""
    care = tuple(care)
    found = []
    for due in dues:
        rules = {due.rule, *due.beaten} - {"retry"}
        if due.kind != "loop" and is_followed(rules, due.ear, care):
            found.append(due)
    return found
