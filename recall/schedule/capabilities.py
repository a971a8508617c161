"""What a practice cannot do itself is asked of another service, at the same time at the latest.

This is laid over what one visit asks, before that joins what stands open, and only for visits
from the day on that the settings name. What was asked before that day is ours and stays open
until it is answered; only what a later visit asks anew goes elsewhere.

Nothing is dropped, nothing is later, nothing is less urgent. A hearing test that comes back for
life also stays a question of our own on its days, for a referral ends with its result. An
infection that nobody has treated keeps its referral until the treatment is written down. To whom
each thing goes is common practice, no source: local pathways say it better.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import NamedTuple

from msgspec.structs import replace

from recall.care.case import Do, To
from recall.care.dates import ADULT_FROM
from recall.protocol.capabilities import Able
from recall.protocol.loading import Protocol
from recall.protocol.rules import Advise, Refer, Rule
from recall.schedule.answering import NEEDS
from recall.schedule.calendar import say_day
from recall.schedule.merging import most_pressing
from recall.schedule.plan import Due, Reason, Referral, Stages
from recall.schedule.windows import stage_days

OPERATED = "previous_ear_surgery"
TREAT_HERE = (
    "This practice prescribes: treat it here today, and write down that it is treated; it is not "
    "referred then."
)
_NEEDED_FOR: dict[Do | None, str] = {"hearing_test": "hearing", "tympanometry": "trace"}
"""What a visit needs not have looked at where it cannot be done here."""


class Elsewhere(NamedTuple):
    """One thing that the practice cannot do, and who is asked for it."""

    does: Do | None
    """What falls out of the re-check; None: all of it."""
    to: To
    because: str


class Split(NamedTuple):
    """What stays of a re-check of our own, and what is asked of others in its place."""

    due: Due | None
    referrals: tuple[Referral, ...] = ()


def split(
    due: Due, able: Able, age: int, rules: Sequence[Rule], protocol: Protocol, on: date
) -> Split:
    """Return a re-check as far as the practice can do it, and the referrals for the rest.

    `rules` are its own, and the advice for that ear.
    """
    found = _beyond(due, able, age, rules)
    referrals = tuple(_referral(due, one, protocol, on) for one in found)
    kept = _without(due, {one.does for one in found}, able)
    if kept is None and not referrals:
        alone = Elsewhere(None, _audiology(age), "This practice does no tympanometry.")
        referrals = (_referral(due, alone, protocol, on),)
    return Split(kept, referrals)


def treat_here(rule: Rule, able: Able) -> Rule | None:
    """Return the advice to treat an infection here, where a rule refers one untreated."""
    untreated = rule.unless.get("ear", {}).get("treated") is True
    to_gp = isinstance(rule.ask, Refer) and rule.ask.to == "gp"
    if not (able.prescribing and untreated and to_gp):
        return None
    return replace(rule, ask=Advise(), category="come_back_if", says=TREAT_HERE)


def _beyond(due: Due, able: Able, age: int, rules: Sequence[Rule]) -> list[Elsewhere]:
    """Return what of a re-check the practice cannot do."""
    found = []
    if "hearing_test" in due.do and age < able.audiometry_from_age:
        words = f"This practice does not test hearing under {able.audiometry_from_age} years."
        found.append(Elsewhere("hearing_test", _audiology(age), words))
    if not able.suction:
        words = "This practice does not clear ears by suction."
        if "clean" in due.do:
            found.append(Elsewhere("clean", "ear_care", words))
        if "clear_wax" in due.do and due.category == "wax_retry" and any(map(_bars_water, rules)):
            found.append(Elsewhere("clear_wax", "ear_care", words))
    if not able.removing_objects and any(_of_an_object(r, due) for r in rules):
        found.append(Elsewhere(None, "ent", "This practice does not remove objects from ears."))
    return found


def _audiology(age: int) -> To:
    return "paediatric_audiology" if age < ADULT_FROM else "audiology"


def _bars_water(rule: Rule) -> bool:
    """Return whether a rule says that wax still in may only be cleared without water."""
    if rule.track != "wax" or not isinstance(rule.ask, Advise):
        return False
    operated = OPERATED in rule.when.get("person", {}).get("risk", ())
    return operated or rule.when.get("ear", {}).get("no_drops") is True


def _of_an_object(rule: Rule, due: Due) -> bool:
    """Return whether a rule asks for this re-check because something is in the canal."""
    return rule.id == due.rule and "foreign_body" in rule.when.get("ear", {})


def _without(due: Due, gone: set[Do | None], able: Able) -> Due | None:
    """Return what is left of a re-check; None where what it was for is gone.

    What stands first in `do` is what it was for.
    """
    for_life = due.track == "surveillance"
    if not for_life and not gone.isdisjoint((None, *due.do[:1])):
        return None
    missing: set[Do | None] = gone if able.tympanometry else {*gone, "tympanometry"}
    do = tuple(d for d in due.do if d not in missing)
    if not do and not for_life:
        return None
    lacking = {_NEEDED_FOR.get(d) for d in missing} if not for_life else set()
    needs = tuple(n for n in due.needs if n not in lacking) or NEEDS[due.track]
    return replace(due, do=do or ("ask_after_care",), needs=needs)


def _referral(due: Due, one: Elsewhere, protocol: Protocol, on: date) -> Referral:
    """Return the referral for what the practice cannot do, by the re-check's own last day."""
    urgency = most_pressing([due.urgency, "high"]) if one.to == "ent" else due.urgency
    usual = stage_days(protocol.stages_for(urgency, Refer(to=one.to)), on)
    seen = due.latest
    stages = Stages(
        sent_by=min(usual.sent_by, seen),
        accepted_by=min(usual.accepted_by, seen),
        seen_by=seen,
        result_by=seen + (usual.result_by - usual.seen_by),
    )
    days = f" Wanted from {say_day(due.earliest)} to {say_day(seen)}." if due.earliest > on else ""
    reason = Reason(
        ear=due.ear,
        track=due.track,
        rule=due.rule,
        rule_version=due.rule_version,
        says=f"{due.says} {one.because}{days}",
        source=due.source,
        known_by=due.known_by,
        says_aloud=due.says_aloud,
    )
    return Referral(
        to=one.to,
        ears=(due.ear,),
        urgency=urgency,
        within_days=(seen - on).days,
        stages=stages,
        reasons=(reason,),
        asked_on=on,
    )
