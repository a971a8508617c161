"""What is not said, or not asked, beside something that stands for the same ear."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date

from msgspec.structs import replace

from recall.care.case import Track, UnderCare, Urgency
from recall.care.ear import Ear, Side
from recall.protocol.loading import Protocol
from recall.protocol.rules import Advise, Rule
from recall.schedule.at_the_gp import (
    FACE_AT_ENT,
    FACE_AT_THE_GP,
    MAY_GIVE_WAY,
    ONE_ILLNESS_AT_ENT,
    PULSE_AT_ENT,
    PULSE_AT_THE_GP,
    VERTIGO_AT_ENT,
    VERTIGO_AT_THE_GP,
)
from recall.schedule.combine import PRESSING
from recall.schedule.ending import gives_way
from recall.schedule.explained import only_sure
from recall.schedule.merging import winner
from recall.schedule.one_place import (
    FLUID_LOOKS,
    SHORT_LOOKS,
    Elsewhere,
    concern_at_ent,
    in_one_place,
    left_to_ent,
    seen_there,
)
from recall.schedule.one_test import FLUID_TESTS, is_test, own_place, tested_anyway
from recall.schedule.plan import Due, Referral
from recall.schedule.seen_elsewhere import (
    OWN_LOOK,
    SEEN_ELSEWHERE,
    granulates_by_bone,
    one_look_at_a_pocket,
    seen_elsewhere,
)

TRIED_TODAY: frozenset[Track] = frozenset({"drum", "canal_skin", "hearing"})
"""Tracks of emergencies for which ENT or the emergency department clears the ear to see it today:
no try of our own at its wax or at an object in it waits beside them (common practice)."""
ONLY_EAR_TRIES = frozenset({"only-ear-blocked", "only-ear-wax-left"})
"""Tries at wax in the only ear that hears: they wait for nobody else (common practice)."""
PUS_HIDES = "pus-hides-drum"
AT_A_RUNNING_EAR = frozenset(
    {"discharge-look", "immune-discharge-early", "canal-hidden-at-risk", "canal-hidden-frail"}
)
HURT_TODAY = frozenset({"hurt-by-care-look", "bled-look", "dizzy-worse-call"})
"""Looks and calls after care that hurt: whoever sees that ear today as an emergency does them."""
NOT_TRIED = frozenset({"wax-found-not-cleared"})
"""A first try at wax that nobody has tried yet: the drum behind it is looked at then."""
HELD_RULES = (
    SHORT_LOOKS
    | HURT_TODAY
    | FLUID_LOOKS
    | FLUID_TESTS
    | AT_A_RUNNING_EAR
    | {PUS_HIDES, OWN_LOOK, *SEEN_ELSEWHERE}
)
"""Rules of looks and tests that something else may take the place of."""
OF_EAR: frozenset[Track] = frozenset({"drum", "canal_skin"})
NO_DROPS = frozenset(
    {
        "no-drops",
        "no-drops-earlier",
        "no-drops-lately",
        "no-drops-trace",
        "no-drops-pain",
        "no-drops-operated",
    }
)
SAID_ANYHOW = NO_DROPS | {
    "aid-part-advice",
    "hurt-by-care-advice",
    "own-injury-advice",
    "view-refused",
}
"""Advice that keeps from harm, or is the person's due, whatever presses beside it."""
TELLS_TO_WAIT = frozenset(
    {
        "blocked-feeling-advice",
        "tinnitus-one-sided-advice",
        "pain-advice",
        "drops-first",
        "drops-first-found",
    }
)
"""Advice that could keep somebody from going at once, as days of drops could, which dim what is to
be seen there besides: common practice, no source."""
WAITS = ("wax-waits", 2)
"""Advice, and the version from which it says itself that no drops go in."""
NEEDS_NO_LOOK = frozenset({"hole-quiet-advice", "blocked-feeling-advice"})
"""Advice that an ear needs no look, or that nothing is left in it: never beside a look of it."""
SAYS_GP = frozenset({"pain-advice"})
"""Advice to go to the GP if it gets worse: not beside the GP, who is asked about the ear anyway."""
OF_PERSON = frozenset({"vertigo-from-care", "dizzy-after-care-advice"})
"""That it is of cool water, of whichever ear: never beside an emergency of either."""
LOOKED_AT: frozenset[Track] = frozenset(
    {"view", "drum", "fluid", "retraction", "perforation", "grommet", "cavity", "canal_skin"}
)
AT_ONCE_DAYS = 2
"""Seen as soon by ENT, an infection needs no GP before: common practice, no source."""
Said = tuple[Side, Rule]


def heard_alone(
    advice: Collection[Said],
    dues: Iterable[Due],
    referrals: Collection[Referral],
    elsewhere: Iterable[tuple[Side, Rule, UnderCare]] = (),
) -> list[Said]:
    """Return the advice that may be given beside what stands open.

    What is said only alone is left out beside anything of its track in the same ear, and beside
    anything there that presses. Beside an emergency of the ear's canal or drum nothing of those is
    said but what keeps from harm, and beside any emergency of the ear nothing that tells to wait.
    That an ear needs no look is never said beside a look of it. What would be referred and is
    under somebody's care already, as `elsewhere`, speaks as loudly as the referral would.
    """
    dues = list(dues)
    advice = [
        said
        for said in advice
        if _in_place(*said, referrals) and not _gainsaid(*said, dues, referrals)
    ]
    waits = {side for side, rule in advice if rule.id == WAITS[0] and rule.version >= WAITS[1]}
    advice = [said for said in advice if said[0] not in waits or said[1].id not in NO_DROPS]
    today = [(r.ear, r.track) for one in referrals if _at_once(one) for r in one.reasons]
    advice = [said for said in advice if not today or said[1].id not in OF_PERSON]
    doubtful = [
        (side, rule)
        for side, rule in advice
        if (isinstance(rule.ask, Advise) and rule.ask.alone)
        or (today and _quiet(rule, {track for ear, track in today if ear == side}))
    ]
    if not doubtful:
        return list(advice)
    standing: list[tuple[Side, Track, Urgency | None]] = [(d.ear, d.track, d.urgency) for d in dues]
    standing += [(r.ear, r.track, one.urgency) for one in referrals for r in one.reasons]
    standing += [(side, rule.track, rule.urgency) for side, rule, _ in elsewhere]
    loud = {(ear, track) for ear, track, _ in standing}
    pressed = {ear for ear, _, urgency in standing if urgency in PRESSING}
    left_out = [(s, r) for s, r in doubtful if s in pressed or (s, r.track) in loud]
    return [said for said in advice if said not in left_out]


def _gainsaid(side: Side, rule: Rule, dues: Iterable[Due], referrals: Iterable[Referral]) -> bool:
    """Return whether what is asked for the same ear says the opposite of some advice."""
    if rule.id in NEEDS_NO_LOOK:
        return any(d.ear == side and _is_look(d) for d in dues)
    if rule.id in SAYS_GP:
        return any(r.to == "gp" and x.ear == side for r in referrals for x in r.reasons)
    return False


def _in_place(side: Side, rule: Rule, referrals: Collection[Referral]) -> bool:
    """Return whether advice for emergencies stands beside one for which that ear is seen into."""
    bare = not (isinstance(rule.ask, Advise) and rule.ask.in_emergency)
    return bare or taken_today(side, referrals)


def _is_look(due: Due) -> bool:
    """Return whether a due is a look at the drum or the canal, or at wax that stayed in."""
    return due.kind != "loop" and (due.track in LOOKED_AT or due.category == "wax_retry")


def _quiet(rule: Rule, today: Collection[Track]) -> bool:
    """Return whether advice is left out beside emergencies of some tracks of its ear."""
    if not today or rule.id in SAID_ANYHOW:
        return False
    return rule.id in TELLS_TO_WAIT or (rule.track in OF_EAR and not OF_EAR.isdisjoint(today))


def emergencies_first(
    asked: Iterable[Referral], protocol: Protocol, on: date
) -> tuple[list[Referral], list[Referral]]:
    """Return what is referred, and the referrals that give way to others.

    Somebody whom ENT sees at once for an ear is not sent to the GP for an infection of it
    tomorrow, nor for a numb face or a noise with the pulse that ENT is asked about, nor for vertigo
    that ENT sees as soon.
    Where ENT sees it within 18 weeks and the GP within 4, both are asked: NICE NG98 (2018) 1.1.6
    gives ENT no time, and what the GP can treat does not wait for it. Nothing else gives way: skin
    that may be cancer is the GP's, whatever presses beside it; but a concern about hearing is not
    audiology's where ENT tests every ear that it is of.
    """
    asked = list(asked)
    held = [r for r in asked if _is_of_gp(r) and not free_again([r], asked)]
    if not own_place(protocol, on):
        held = [r for r in held if not _rules(r) & PULSE_AT_THE_GP]
    if in_one_place(protocol, on):
        held += left_to_ent(asked)
    if not held:
        return asked, held
    return [r for r in asked if r not in held], held


def free_again(held: Iterable[Referral], standing: Iterable[Referral]) -> list[Referral]:
    """Return what was held back for something that stands no more."""
    standing = list(standing)
    return [
        r
        for r in held
        if not concern_at_ent(r, standing)
        and not all(_elsewhere(r, rule, standing) for rule in _rules(r))
    ]


def _is_of_gp(referral: Referral) -> bool:
    """Return whether nothing but what may give way is referred to the GP, by rule."""
    return referral.to == "gp" and _rules(referral) <= MAY_GIVE_WAY


def _elsewhere(referral: Referral, rule: str, standing: Iterable[Referral]) -> bool:
    """Return whether others are asked, at least as soon as need be, about what a rule refers."""
    if rule in VERTIGO_AT_THE_GP:
        return any(
            _at_once(r)
            or _rules(r) & ONE_ILLNESS_AT_ENT
            or (_rules(r) & VERTIGO_AT_ENT and _no_later_there(r, referral))
            for r in standing
        )
    if rule in PULSE_AT_THE_GP:
        return any(_rules(r) & PULSE_AT_ENT and {*referral.ears} <= {*r.ears} for r in standing)
    if rule in FACE_AT_THE_GP:
        return any(_rules(r) & FACE_AT_ENT for r in standing)
    return any(
        r.to == "ent" and r.within_days <= AT_ONCE_DAYS and _about_ear(r, referral.ears)
        for r in standing
    )


def _no_later_there(first: Referral, second: Referral) -> bool:
    """Return whether somebody is seen by the one service at the latest when by the other."""
    return first.stages.seen_by <= second.stages.seen_by


def _at_once(referral: Referral) -> bool:
    return referral.urgency == "emergency"


def _about_ear(referral: Referral, ears: Iterable[Side]) -> bool:
    """Return whether a referral is about the canal or the drum of each of some ears."""
    return set(ears) <= {r.ear for r in referral.reasons if r.track in OF_EAR}


def taken_today(ear: Side, referrals: Iterable[Referral]) -> bool:
    """Return whether ENT or the emergency department sees into an ear today."""
    return any(
        _at_once(r)
        and r.to in ("ent", "emergency")
        and any(x.ear == ear and x.track in TRIED_TODAY for x in r.reasons)
        for r in referrals
    )


def _is_try(due: Due, protocol: Protocol) -> bool:
    """Return whether a due is a try at wax, or at an object."""
    return due.category == "wax_retry" or due.rule in protocol.of_object


def _rules(referral: Referral) -> set[str]:
    return {reason.rule for reason in referral.reasons}


def looks_give_way(
    asked: Iterable[Due],
    referrals: Iterable[Referral],
    standing: Iterable[Due],
    protocol: Protocol,
    elsewhere: Elsewhere,
) -> tuple[list[Due], list[Due]]:
    """Return what is asked, and the looks and tests that something else takes the place of.

    An ear that is seen today as an emergency is not looked at here for the same on another day,
    nor is its wax, or an object in it, tried again here. A test gives way to one that is asked for
    anyway, where only nobody knows of one, or where fluid of the other ear asks for it. The look
    for an object in front of a drum takes in the look for that drum: it is not answered before the
    drum was seen, too. So is the look at an ear that runs one with the look for the drum that its
    pus hides, on the days of whichever comes first. What ENT or audiology is asked to see in that
    ear, no later, is not looked at or tested here as well; of a pocket that runs, and that ENT is
    asked about as disease, the one look until ENT has it stays.

    Args:
        asked: the dues of the day.
        referrals: its referrals.
        standing: the dues that stood open before.
        protocol: that by which they were asked for.
        elsewhere: every referral that stands, and the day.
    """
    asked, referrals = list(asked), list(referrals)
    if not any(_may_be_held(due, protocol) for due in asked):
        return asked, []
    there = elsewhere if in_one_place(protocol, elsewhere.on) else elsewhere._replace(referrals=())
    held = [due for due in asked if _seen(due, referrals, there, protocol)]
    ours = [due for due in asked if due not in held]
    # a test that somebody else does is no reason to leave out another
    tests = [d for d in (*ours, *standing) if is_test(d) and not seen_there(d, there)]
    held += [due for due in ours if tested_anyway(due, tests, protocol)]
    kept = [due for due in ours if due not in held]
    kept, pockets = one_look_at_a_pocket(kept, standing, referrals, protocol)
    held += pockets
    kept, views = _one_look_for_a_view(kept, protocol)
    return kept, held + views


def _one_look_for_a_view(asked: Sequence[Due], protocol: Protocol) -> tuple[list[Due], list[Due]]:
    """Return what is asked, and the looks for a drum that another look of its ear takes in."""
    kept, held = list(asked), list[Due]()
    for view in [due for due in kept if due.track == "view"]:
        if (look := _in_front(kept, view, protocol)) is not None:
            kept[kept.index(look)] = winner([look, view])
            kept.remove(view)
            held.append(view)
    for side in {due.ear for due in kept if due.rule == PUS_HIDES}:
        if (look := next((d for d in kept if _is_of_running_ear(d, side)), None)) is not None:
            views = [due for due in kept if due.ear == side and due.track == "view"]
            kept[kept.index(look)] = replace(winner([look, *views]), track=look.track)
            kept = [due for due in kept if due not in views]
            held += views
    return kept, held


def _may_be_held(due: Due, protocol: Protocol) -> bool:
    """Return whether anything could take the place of a due: a look, a test or a try."""
    named = due.rule in HELD_RULES or not HELD_RULES.isdisjoint(due.beaten)
    return named or "hearing" in due.needs or _is_try(due, protocol)


def _seen(due: Due, referrals: Sequence[Referral], there: Elsewhere, protocol: Protocol) -> bool:
    """Return whether somebody else sees what a due is for, today or no later."""
    if _seen_today(due, referrals, protocol) or seen_there(due, there):
        return True
    return seen_elsewhere(due, referrals, protocol) or granulates_by_bone(due, referrals, protocol)


def _is_of_hurt(due: Due, protocol: Protocol) -> bool:
    """Return whether a due is for nothing but what care hurt, or a short look beside it."""
    rules = {due.rule, *due.beaten}
    hurt = not HURT_TODAY.isdisjoint(rules) and rules <= HURT_TODAY | SHORT_LOOKS
    return hurt and own_place(protocol, due.asked_on)


def _seen_today(due: Due, referrals: Sequence[Referral], protocol: Protocol) -> bool:
    """Return whether an emergency takes the place of a short look, or of a try, of our own."""
    if due.rule in SHORT_LOOKS and any(
        _at_once(r) and _about_ear(r, (due.ear,)) for r in referrals
    ):
        return True
    if _is_of_hurt(due, protocol) and taken_today(due.ear, referrals):
        return True
    if due.rule in ONLY_EAR_TRIES and only_sure(protocol, due.asked_on):
        return False
    tried = gives_way(protocol, due.asked_on) and _is_try(due, protocol)
    return tried and taken_today(due.ear, referrals)


def _in_front(asked: Iterable[Due], view: Due, protocol: Protocol) -> Due | None:
    """Return the look at an object, or at wax, in front of a drum, where that is no later."""
    for due in asked:
        first = due.rule in protocol.of_object or (
            due.rule in NOT_TRIED and own_place(protocol, due.asked_on)
        )
        if due.ear == view.ear and first and due.latest <= view.latest:
            return due
    return None


def _is_of_running_ear(due: Due, side: Side) -> bool:
    """Return whether a due is the look at an ear that runs, which its drum's look may join."""
    return due.ear == side and due.rule in AT_A_RUNNING_EAR


def tries_over(
    dues: Iterable[Due], ears: Mapping[Side, Ear | None], protocol: Protocol
) -> Iterator[Due]:
    """Yield what was open for an object alone, in ears where a try at it has failed now.

    Further tries do harm, so that a look that was asked for before the try ends with it.
    """
    failed = {side for side, ear in ears.items() if ear is not None and _failed(ear)}
    for due in dues:
        rules = {due.rule, *due.beaten} if due.kind == "recheck" else set()
        if due.ear in failed and rules and rules <= protocol.of_object:
            yield due


def _failed(ear: Ear) -> bool:
    return ear.clearance == "failed" and ear.foreign_body not in (None, "none")
