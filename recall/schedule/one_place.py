"""One place for one thing: what a service is asked to see no later is asked of nobody else.

Of an ear that ENT looks into within days or two weeks no short look of our own is asked for as
well, whichever was asked for first; nor a test for a concern that audiology or ENT tests. A loss
that is measured with a concern told is ENT's alone where ENT is asked about every such ear. All of
it is common practice, no source; NICE NG98 (2018) 1.1.1 has one assessment, then further referral.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from typing import NamedTuple

from recall.care.case import To, Track
from recall.care.ear import Ear, Side
from recall.protocol.loading import Protocol
from recall.schedule.answering import missing
from recall.schedule.merging import RANK
from recall.schedule.plan import Due, Referral

PAIN_LOOKS = frozenset({"pain-look", "pain-look-undated", "bad-pain-look-undated"})
SHORT_LOOKS = PAIN_LOOKS | {
    "discharge-look",
    "canal-ill-at-risk",
    "canal-ill-frail",
    "only-ear-canal",
    "canal-hidden-at-risk",
    "canal-hidden-frail",
    "canal-inflamed",
    "canal-fungal",
    "canal-shut-look",
    "immune-discharge-early",
    "pus-hides-drum",
    "acute-infection-look",
    "keratin-plug-hides",
    "view-adult",
    "view-child",
}
"""Short looks of our own into an ear, which somebody who looks into it no later does for us; but
a canal that was shut is looked into here once it is open, for its drum was never seen."""
FLUID_LOOKS = frozenset({"fluid-adult-look", "trace-flat"})
CONCERN_TESTS = frozenset({"concern-adult", "concern-after-wax", "barotrauma-test"})
OBJECT_LOOKS = frozenset({"object-look"})
LEFT_IN = frozenset({"object-stays", "object-child-hidden"})
"""An object that nobody took out, and that ENT is asked to."""
WAX_TRIES = frozenset(
    {
        "wax-failed",
        "wax-left-blocking",
        "wax-left-part",
        "wax-left-part-felt",
        "wax-found-not-cleared",
    }
)
"""Tries at wax: an object that did not come out goes to ENT first, and the wax with it."""
FOR_LIFE = frozenset(
    {
        "down-under-six",
        "down-six-on",
        "down-six-on-loss",
        "cleft-under-five",
        "cleft-five-to-ten",
        "cleft-over-ten",
    }
)
"""Tests of a child by risk alone: they give way to one of children's audiology, and come back."""
TESTS_AT_RISK = FOR_LIFE | {"fluid-child-second-visit", "fluid-child-both", "fluid-child-concern"}
"""Tests of a child with fluid whose risk has children's audiology test that hearing itself."""
THEIR_TESTS = frozenset(
    {
        "loss-child",
        "fluid-child-second-visit",
        "fluid-child-both",
        "fluid-child-concern",
        "fluid-child-loss",
        "fluid-child-loss-better-ear",
        "fluid-long-hearing",
        "fluid-long-untested",
        "fluid-told-long-untested",
    }
)
"""Tests of a child that children's audiology does itself of whom it has under its care."""
CHILD_TESTS = THEIR_TESTS | frozenset(
    {
        "grommet-blocked-hearing",
        "grommet-out-hearing",
        "screen-not-passed-child",
        "hearing-not-back",
        "concern-after-suction",
        "worse-after-suction",
    }
)
"""Tests of a child's hearing: one service tests one child. They give way to an assessment that
children's audiology is asked for, also where it is later, and come back if it is not given."""
CONCERN_AT_AUDIOLOGY = frozenset(
    {
        "concern-adult-loss",
        "concern-known-loss",
        "concern-high-tones",
        "concern-known-high-tones",
        "concern-one-tone",
        "tinnitus-one-sided",
    }
)


class Place(NamedTuple):
    """Who does what some of our own looks or tests are for, asked by tracks or by rules."""

    ours: frozenset[str]
    to: To
    tracks: frozenset[Track] = frozenset()
    rules: frozenset[str] = frozenset()
    both_ears: bool = False
    """Whether the service sees both ears of whoever is sent for one."""
    later: bool = False
    """Whether it takes the place of ours also where it is later, as long as it is not overdue."""


PLACES = (
    Place(
        SHORT_LOOKS - {"canal-shut-look"},
        "ent",
        frozenset({"drum", "canal_skin", "fluid", "retraction", "perforation", "cavity"}),
    ),
    Place(
        PAIN_LOOKS,
        "gp",
        rules=frozenset({"pain-long", "pain-long-forty", "night-pain-long", "severe-pain-long"}),
    ),
    Place(
        FLUID_LOOKS,
        "ent",
        rules=frozenset(
            {
                "fluid-over-forty",
                "fluid-over-forty-again",
                "fluid-over-forty-stays",
                "fluid-origin-loss",
                "fluid-origin-told",
                "fluid-after-radiotherapy",
            }
        ),
    ),
    Place(CONCERN_TESTS | {"sudden-loss-one-tone"}, "ent", frozenset({"hearing", "fluid"})),
    Place(
        TESTS_AT_RISK,
        "paediatric_audiology",
        rules=frozenset({"fluid-at-risk-refer"}),
        both_ears=True,
    ),
    Place(
        CONCERN_TESTS | {"fluctuating-test"}, "audiology", rules=frozenset({"tinnitus-one-sided"})
    ),
    Place(WAX_TRIES, "ent", rules=LEFT_IN | {"object-failed", "object-ill", "object-pain"}),
    Place(OBJECT_LOOKS, "ent", rules=LEFT_IN | {"object-ill", "object-pain"}),
    Place(
        CHILD_TESTS,
        "paediatric_audiology",
        rules=frozenset(
            {
                "concern-child",
                "concern-child-still",
                "loss-child-refer",
                "loss-child-concern",
                "loss-child-severe",
                "loss-child-large",
                "loss-child-again",
                "screen-not-passed-twice-child",
                "first-hearing-aid-child",
            }
        ),
        both_ears=True,
        later=True,
    ),
)
TESTED_AT_ENT: frozenset[Track] = frozenset(
    {"hearing", "fluid", "retraction", "perforation", "drum", "cavity", "grommet"}
)
"""Tracks of referrals to ENT for which the hearing of that ear is tested there."""


_PLACES_OF: dict[tuple[To, str], tuple[Place, ...]] = {
    (to, rule): tuple(p for p in PLACES if p.to == to and rule in p.ours)
    for to, rule in {(place.to, rule) for place in PLACES for rule in place.ours}
}
"""The same by where, and by what is asked of us: it is looked up for each line of each plan."""


class Elsewhere(NamedTuple):
    """The referrals that stand on a day."""

    referrals: tuple[Referral, ...]
    on: date


def in_one_place(protocol: Protocol, on: date) -> bool:
    """Return whether a day is judged so."""
    since = protocol.file.one_place_from
    return since is not None and since <= on


def seen_there(due: Due, elsewhere: Elsewhere, later: timedelta = timedelta(0)) -> bool:
    """Return whether other services see no later, and as pressingly, all that a due is for.

    Args:
        due: a look or a test of our own.
        elsewhere: what they are asked; a referral that is late already takes nothing over.
        later: how much later may still be, where a visit has just looked itself.
    """
    rules = {due.rule, *due.beaten} - {"retry"}
    if due.kind == "loop" or not rules:
        return False
    return all(any(_takes(r, rule, due, elsewhere.on, later) for r in elsewhere.referrals)
               for rule in rules)  # fmt: skip


def _takes(referral: Referral, rule: str, due: Due, on: date, later: timedelta) -> bool:
    if referral.stages.seen_by < on or RANK[referral.urgency] > RANK[due.urgency]:
        return False
    in_time = referral.stages.seen_by <= due.latest + later
    return any(
        (in_time or place.later)
        and any(
            (place.both_ears or x.ear == due.ear)
            and (x.track in place.tracks or x.rule in place.rules)
            for x in referral.reasons
        )
        for place in _PLACES_OF.get((referral.to, rule), ())
    )


def left_to_others(
    dues: Iterable[Due], elsewhere: Elsewhere, ears: Mapping[Side, Ear | None], protocol: Protocol
) -> list[Due]:
    """Return what stood open, and another service does now that it is asked."""
    on = elsewhere.on
    if not in_one_place(protocol, on):
        return []
    found = []
    for due in dues:
        looked = due.asked_on < on and not missing(due.needs, ears[due.ear])
        later = on - due.asked_on if looked else timedelta(0)
        if seen_there(due, elsewhere, later):
            found.append(due)
    return found


def concern_at_ent(referral: Referral, asked: Iterable[Referral]) -> bool:
    """Return whether ENT tests no later the ears that audiology would for a concern alone."""
    if referral.to != "audiology" or not CONCERN_AT_AUDIOLOGY.issuperset(
        x.rule for x in referral.reasons
    ):
        return False
    tested = {
        x.ear
        for r in asked
        if r.to == "ent"
        and r.stages.seen_by <= referral.stages.seen_by
        and RANK[r.urgency] <= RANK[referral.urgency]
        for x in r.reasons
        if x.track in TESTED_AT_ENT
    }
    return tested.issuperset(referral.ears)


def left_to_ent(asked: Iterable[Referral]) -> list[Referral]:
    """Return the referrals of a concern that ENT answers: of every ear that it is of, or none.

    A loss of both ears of which ENT is asked about one is audiology's as well, for what can help;
    and audiology that is asked for something else is told of the concern.
    """
    asked = list(asked)
    there = [r for r in asked if r.to == "audiology"]
    return there if all(concern_at_ent(r, asked) for r in there) else []
