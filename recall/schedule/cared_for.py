"""What somebody else's care takes in: one thing under all of its names, but nothing new.

A pocket, a cavity, a hole at the drum's edge and what is seen on the drum are one thing to the
service that has them under its care. A sign that an earlier look here did not find is new, and is
referred whoever has the ear under care; so is every emergency. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Mapping, Sequence
from datetime import date, timedelta

from msgspec.structs import replace

from recall.care.case import To, Track, UnderCare, Urgency
from recall.care.course import LOSS_FROM_DB
from recall.care.ear import Ear, Side
from recall.protocol.context import Circumstance, words_told
from recall.protocol.loading import Protocol
from recall.protocol.onset import Onset
from recall.protocol.rules import Refer, Rule
from recall.schedule.merging import winner
from recall.schedule.one_place import in_one_place
from recall.schedule.plan import Due, Referral

OF_THE_DRUM: frozenset[Track] = frozenset({"retraction", "cavity", "drum"})
OF_HEARING: frozenset[Track] = frozenset({"hearing", "surveillance"})
_EDGE: tuple[Track, ...] = ("perforation",)
AT_THE_EDGE = ("marginal", "attic")
"""Holes that belong to what is seen on the drum; one in its middle is a thing of its own."""
DISEASE = ("disease-", "pocket-unseen-")
"""How the names of the rules begin that suspect cholesteatoma."""
OWN_LOOKS = frozenset(
    {"disease-own-look", "after-cholesteatoma-adult", "after-cholesteatoma-child"}
)
"""Looks of our own at a drum until another service has taken over, or for good."""
NEVER_TAKEN_IN = frozenset({"pinna-lesion"})
"""What no care takes in: skin that may be cancer is the GP's the same day, whatever else the GP has
of that ear. Where that very lesion is known there, the line is struck out by name."""
NEVER_KNOWN = frozenset(
    {
        "canal-untreated",
        "canal-untreated-runs",
        "canal-untreated-fungal",
        "canal-untreated-at-risk",
        "canal-untreated-again",
        "acute-infection-untreated",
        "red-fluid-pain-child",
        "pus-untreated",
        "object-failed",
        "object-stays",
        "object-child-hidden",
    }
)
"""What no care that ran before takes in: an infection that nobody has treated, and an object that
did not come out. Care that begins afterwards does: then somebody has it."""
TESTS_HEARING: tuple[To, ...] = ("audiology", "paediatric_audiology")
AT_AUDIOLOGY = frozenset({"asymmetry", "asymmetry-tested-alone"})
"""Rules that ask ENT about what audiology, which has that hearing under its care, knows."""
OF_FLUID = frozenset({"concern-child"})
"""Rules that ask children's audiology about what ENT, which has that fluid, tests itself."""
AT_RISK = frozenset({"fluid-at-risk-refer"})
"""Rules that ask children's audiology to test a child whom it has under its care anyway."""
TOLD_TO_THEM = frozenset(
    {
        "hearing_concern",
        "speech_concern",
        "fluctuating_hearing",
        "worsening_hearing_loss",
        "sudden_hearing_loss",
    }
)
LASTS = timedelta(weeks=12)
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


def silences(care: UnderCare, urgency: str | None, rules: Iterable[str]) -> bool:
    """Return whether somebody's care is sure enough of its thing to take in what rules refer.

    Care of which nobody said what it is for takes in nothing urgent.
    """
    known = urgency != "urgent" or care.track is not None
    return known and NEVER_TAKEN_IN.isdisjoint(rules)


def known_at_audiology(rule: Rule, side: Side, care: Iterable[UnderCare]) -> UnderCare | None:
    """Return the care of audiology that knows a difference between the ears, and refers it itself.

    British Academy of Audiology, onward referral of adults, 2023: audiology decides on it.
    """
    if rule.id not in AT_AUDIOLOGY:
        return None
    return next(
        (
            c
            for c in care
            if c.of == "audiology" and c.ear in (None, side) and c.track in OF_HEARING
        ),
        None,
    )


def fluid_known_at_ent(
    rule: Rule, side: Side, care: Iterable[UnderCare], ear: Ear | None
) -> UnderCare | None:
    """Return the care of ENT for the fluid that dulls an ear, which tests that hearing itself."""
    if rule.id not in OF_FLUID or ear is None or ear.effusion not in ("suspected", "present"):
        return None
    return next(
        (c for c in care if c.of == "ent" and c.ear in (None, side) and c.track == "fluid"), None
    )


def fluid_known_at_audiology(
    rule: Rule, side: Side, care: Iterable[UnderCare], ear: Ear | None, seen: Circumstance
) -> UnderCare | None:
    """Return the care of children's audiology, which tests a child at risk with fluid anyway.

    A concern that is told beside it, a loss that is measured, or fluid that has stayed for three
    months is told to it. Common practice, no source; three months as NICE NG233 (2023) has them.
    """
    if rule.id not in AT_RISK or ear is None or not TOLD_TO_THEM.isdisjoint(seen.reports):
        return None
    if ear.hearing_screen == "not_passed" or (seen.course.mean_today or 0) >= LOSS_FROM_DB:
        return None
    since = seen.course.fluid_since
    lasts = since is not None and seen.on - since >= LASTS
    return next(
        (
            c
            for c in care
            if c.of == "paediatric_audiology"
            and c.ear in (None, side)
            and (c.track == "fluid" or (not lasts and c.track in (None, *OF_HEARING)))
        ),
        None,
    )


def is_new_to(
    care: UnderCare, began: date | None, rule: Rule, reports: Mapping[str, Onset], met: bool
) -> bool:
    """Return whether a rule refers for what care that runs cannot know of, or does not do.

    That is what none takes in, and a complaint that is dated after that care began. One without a
    day is taken for known to it, but where it is urgent and was not referred before (`met`). A
    service that tests hearing and has it under its care is not asked again for a concern about it.
    """
    if not isinstance(rule.ask, Refer):
        return False
    if rule.id in NEVER_KNOWN:
        return True
    urgent = rule.urgency == "urgent"
    if not urgent and care.of in TESTS_HEARING:
        return False
    told = [reports[word] for word in words_told(rule.when) if word in reports]
    return any(_after(began, onset, urgent) or (urgent and not met and _undated(began, onset))
               for onset in told)  # fmt: skip


def _undated(began: date | None, onset: Onset) -> bool:
    return began is None or onset.since is None


def _after(began: date | None, onset: Onset, urgent: bool) -> bool:
    """Return whether a complaint came after care began; where urgent, whether it may have."""
    if began is None or onset.since is None:
        return False
    return (onset.surely_since or onset.since) >= began if urgent else onset.since > began


def is_sign(rule: Rule) -> bool:
    """Return whether a rule refers for something serious that was seen or measured in the ear."""
    return rule.urgency in SERIOUS and "ear" in rule.when


def one_look(
    dues: Iterable[Due],
    side: Side,
    care: Sequence[UnderCare],
    ear: Ear | None,
    referrals: Iterable[Referral] = (),
    watches: Container[str] = OWN_LOOKS,
) -> tuple[Due, list[Due]] | None:
    """Return one look in the place of several at a thing that is under care, and those it replaces.

    So it is where disease of the drum is referred; a short look for what else it shows, such as an
    ear that runs, then stands by itself. The one look has the earliest last day of them, and all
    that the others needed and were to do. `watches` are the rules whose looks at a drum it takes
    in.
    """
    looks = [d for d in dues if d.ear == side and d.kind == "recheck"]
    names = [names_of(one.track, ear) for one in care if one.ear in (None, side)]
    several = [[d for d in looks if d.track in same] for same in names if same & OF_THE_DRUM]
    if any(x.ear == side and is_disease(x.rule) for r in referrals for x in r.reasons):
        drum = names_of("drum", ear)
        several.append([d for d in looks if d.track in drum and _is_watch(d, watches)])
    found = next((some for some in several if len(some) > 1), None)
    return (winner(found), found) if found else None


def watched_with(protocol: Protocol, on: date) -> Container[str]:
    """Return the rules whose looks at a drum one look takes in: those it took in before, too."""
    return OWN_LOOKS | protocol.off_the_drum if in_one_place(protocol, on) else OWN_LOOKS


def counted_anew(due: Due, on: date) -> Due:
    """Return a due as it is kept at a visit, counted from where it was."""
    anchor = due.anchor if due.asked_on == on else due.counted_from
    return replace(due, asked_on=on, anchor=anchor)


def is_disease(rule: str) -> bool:
    """Return whether a rule suspects cholesteatoma."""
    return rule.startswith(DISEASE)


def left_to_care(
    dues: Iterable[Due],
    known: Iterable[tuple[Side, Rule, UnderCare]],
    ears: Mapping[Side, Ear | None],
) -> list[Due]:
    """Return the looks of our own that ENT does, which has under care what would be referred.

    Whether that care still runs is asked for all the same. An ear that runs, or that is cleaned
    here, stays ours as well.
    """
    names: dict[Side, frozenset[Track | None]] = {}
    for side, rule, care in known:
        same = names_of("drum", ears[side])
        if care.of == "ent" and care.track is not None and rule.track in same:
            names[side] = same
    return [d for d in dues if d.track in names.get(d.ear, ()) and _is_watch(d)]


def _is_watch(due: Due, watches: Container[str] = OWN_LOOKS) -> bool:
    watch = due.track != "drum" or all(r in watches for r in (due.rule, *due.beaten))
    return due.kind == "recheck" and watch and "clean" not in due.do
