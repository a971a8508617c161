"""What somebody else's care takes in: one thing under all of its names, but nothing new.

A pocket, a cavity, a hole at the drum's edge and what is seen on the drum are one thing to the
service that has them under its care. A sign that an earlier look here did not find is new, and is
referred whoever has the ear under care; so is every emergency. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from recall.care.case import Track, UnderCare, Urgency
from recall.care.ear import Ear, Side
from recall.protocol.rules import Rule
from recall.schedule.merging import winner
from recall.schedule.plan import Due

OF_THE_DRUM: frozenset[Track] = frozenset({"retraction", "cavity", "drum"})
OF_HEARING: frozenset[Track] = frozenset({"hearing", "surveillance"})
_EDGE: tuple[Track, ...] = ("perforation",)
AT_THE_EDGE = ("marginal", "attic")
"""Holes that belong to what is seen on the drum; one in its middle is a thing of its own."""
SERIOUS: tuple[Urgency, ...] = ("urgent", "high")


def names_of(track: Track | None, ear: Ear | None) -> frozenset[Track | None]:
    """Return the tracks that mean one thing with a track, in an ear as it was last seen."""
    if track is None:
        return frozenset()
    edge = ear is not None and ear.perforation in AT_THE_EDGE
    drum = {*OF_THE_DRUM, *(_EDGE if edge else ())}
    for names in (drum, OF_HEARING):
        if track in names:
            return frozenset(names)
    return frozenset({"wax", "view"}) if track == "wax" else frozenset({track})


def covers(
    care: UnderCare,
    side: Side,
    to: str,
    track: Track,
    urgency: str | None,
    names: frozenset[Track | None] = frozenset(),
) -> bool:
    """Return whether somebody's care takes in a referral for an ear and a track.

    `names` are the tracks that mean one thing with the care's own. Care that names neither an
    ear nor a track does not take in anything urgent: a new suspicion must not be silenced by an
    old appointment for something else.
    """
    if care.of != to or care.ear not in (None, side):
        return False
    if care.track not in (None, track) and track not in names:
        return False
    return urgency != "urgent" or care.ear is not None or care.track is not None


def is_sign(rule: Rule) -> bool:
    """Return whether a rule refers for something serious that was seen or measured in the ear."""
    return rule.urgency in SERIOUS and "ear" in rule.when


def one_look(
    dues: Iterable[Due], side: Side, care: Sequence[UnderCare], ear: Ear | None
) -> tuple[Due, list[Due]] | None:
    """Return one look in the place of several at a thing that is under care, and those it replaces.

    It has the earliest last day of them, and all that the others needed and were to do.
    """
    for one in care:
        names = names_of(one.track, ear)
        if one.ear not in (None, side) or not names & OF_THE_DRUM:
            continue
        looks = [d for d in dues if d.ear == side and d.kind == "recheck" and d.track in names]
        if len(looks) > 1:
            return winner(looks), looks
    return None
