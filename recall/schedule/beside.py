"""What is not said, or not asked, beside something that stands for the same ear."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from recall.care.case import Track
from recall.care.ear import Ear, Side
from recall.protocol.loading import Protocol
from recall.protocol.rules import Advise, Rule
from recall.schedule.combine import PRESSING
from recall.schedule.plan import Due, Referral

GIVE_WAY = frozenset({"canal-untreated", "canal-untreated-runs", "canal-untreated-fungal"})
"""Rules that send an infected canal to the GP."""
Said = tuple[Side, Rule]


def heard_alone(
    advice: Iterable[Said], dues: Iterable[Due], referrals: Iterable[Referral]
) -> list[Said]:
    """Return the advice that may be given beside what stands open.

    What is said only alone is left out beside anything of its track in the same ear, and beside
    anything there that presses.
    """
    standing = [(d.ear, d.track, d.urgency) for d in dues]
    standing += [(r.ear, r.track, one.urgency) for one in referrals for r in one.reasons]
    return [
        (side, rule)
        for side, rule in advice
        if not (isinstance(rule.ask, Advise) and rule.ask.alone)
        or not any(
            ear == side and (track == rule.track or urgency in PRESSING)
            for ear, track, urgency in standing
        )
    ]


def emergencies_first(asked: Iterable[Referral]) -> tuple[list[Referral], list[Referral]]:
    """Return what is referred, and what an emergency of the same canal takes the place of.

    Somebody who is seen today for an infected canal is not sent to the GP for it tomorrow. Nothing
    else gives way: what is seen on the drum stays a matter of its own beside an object, say.
    """
    asked = list(asked)
    held = [r for r in asked if _treats_canal(r) and not free_again([r], asked)]
    return [r for r in asked if r not in held], held


def free_again(held: Iterable[Referral], standing: Iterable[Referral]) -> list[Referral]:
    """Return what was held back for an emergency that stands no more."""
    now = {place for one in standing if one.urgency == "emergency" for place in _places(one)}
    return [r for r in held if not _places(r) <= now]


def _treats_canal(referral: Referral) -> bool:
    """Return whether nothing but an infection of the canal is referred.

    By rule: skin of the outer ear that may be cancer is of the same track, and never gives way.
    """
    calm = referral.urgency != "emergency" and referral.to == "gp"
    return calm and all(reason.rule in GIVE_WAY for reason in referral.reasons)


def _places(referral: Referral) -> set[tuple[Side, Track]]:
    return {(reason.ear, reason.track) for reason in referral.reasons}


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
