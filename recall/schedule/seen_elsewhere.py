"""What another service is asked to see no later than we would: it is not looked at here as well."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from msgspec.structs import replace

from recall.protocol.loading import Protocol
from recall.schedule.cared_for import is_disease
from recall.schedule.ending import gives_way
from recall.schedule.merging import RANK
from recall.schedule.one_place import in_one_place
from recall.schedule.plan import Due, Referral

SEEN_ELSEWHERE = {
    "canal-inflamed": ("ent", frozenset({"canal-treated-long"})),
    "fluctuating-test": ("audiology", frozenset({"tinnitus-one-sided"})),
}
"""Looks and tests of our own, and who is asked, by which rules, about the same of that ear."""
BONE_GRANULATES = frozenset({"canal-risk-granulation", "canal-frail-granulation"})
GRANULATION_ALONE = frozenset({"disease-granulation"})
OWN_LOOK = "disease-own-look"
RUNS = "discharge-look"
OF_DISEASE = frozenset({RUNS, "disease-own-look"})
IN_A_POCKET = frozenset({"attic-discharge-look", "tensa-discharge-look"})
"""Looks at a pocket that runs, which stand until another service has taken over."""


def seen_elsewhere(due: Due, referrals: Iterable[Referral], protocol: Protocol) -> bool:
    """Return whether another service is asked, to see it no later, about what a due is for."""
    if due.beaten or due.rule not in SEEN_ELSEWHERE or not gives_way(protocol, due.asked_on):
        return False
    to, rules = SEEN_ELSEWHERE[due.rule]
    return any(r.to == to and _asks(r, due, rules) for r in referrals)


def granulates_by_bone(due: Due, referrals: Collection[Referral], protocol: Protocol) -> bool:
    """Return whether ENT sees an ear today for bone that granulates, and for no other disease.

    A look at signs of cholesteatoma in three months says the opposite of that; what became of it is
    asked by the steps of the referral itself, from the next day on: common practice, no source.
    """
    if due.beaten or due.rule != OWN_LOOK or not in_one_place(protocol, due.asked_on):
        return False
    rules = {x.rule for r in referrals for x in r.reasons if x.ear == due.ear}
    disease = {rule for rule in rules if is_disease(rule)}
    today = {
        x.rule for r in referrals if r.urgency == "emergency" for x in r.reasons if x.ear == due.ear
    }
    return disease <= GRANULATION_ALONE and not today.isdisjoint(BONE_GRANULATES)


def one_look_at_a_pocket(
    asked: Sequence[Due],
    standing: Iterable[Due],
    referrals: Sequence[Referral],
    protocol: Protocol,
) -> tuple[list[Due], list[Due]]:
    """Return what is asked, and the looks at a running pocket that ENT is asked about as disease.

    The look until ENT has it stays, and takes in what the other looked at but the discharge.
    """
    kept, standing = list(asked), list(standing)
    held = [d for d in kept if _disease_seen(d, referrals, protocol)]
    for look in list(held):
        watch = next((d for d in (*kept, *standing) if _is_of_pocket(d, look)), None)
        if watch is None:
            held.remove(look)
        else:
            kept = [_with_all(d, look) if d is watch else d for d in kept if d is not look]
    return kept, held


def _disease_seen(due: Due, referrals: Iterable[Referral], protocol: Protocol) -> bool:
    """Return whether ENT sees an ear for disease no later than we would look why it runs."""
    if due.rule != RUNS or not OF_DISEASE.issuperset(due.beaten):
        return False
    rules = {x.rule for r in referrals for x in r.reasons if is_disease(x.rule)}
    asked = gives_way(protocol, due.asked_on)
    return asked and any(r.to == "ent" and _asks(r, due, rules) for r in referrals)


def _asks(referral: Referral, due: Due, rules: Collection[str]) -> bool:
    """Return whether a service sees a due's ear, by some rules, no later and no less pressingly."""
    about = any(x.ear == due.ear and x.rule in rules for x in referral.reasons)
    soon = referral.stages.seen_by <= due.latest
    return about and soon and RANK[referral.urgency] <= RANK[due.urgency]


def _is_of_pocket(due: Due, look: Due) -> bool:
    """Return whether a due is the look at the pocket that runs, asked for with another look."""
    same = (due.ear, due.kind, due.asked_on) == (look.ear, "recheck", look.asked_on)
    return same and not IN_A_POCKET.isdisjoint({due.rule, *due.beaten})


def _with_all(watch: Due, look: Due) -> Due:
    """Return the look that stays, with all that the other was for but the discharge."""
    do = tuple(dict.fromkeys((*watch.do, *look.do)))
    needs = tuple(dict.fromkeys((*watch.needs, *look.needs)))
    beaten = tuple(sorted({*watch.beaten, *look.beaten}))
    return replace(watch, do=do, needs=needs, beaten=beaten)
