"""The plan: everything open for a person after their last visit on or before a day."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

import msgspec

from recall.care.case import CASE_VERSION, Case, To, UnderCare, Visit
from recall.care.casefile import vague_dates
from recall.care.ear import SIDES, Side
from recall.protocol.loading import Protocol
from recall.protocol.rules import Rule
from recall.schedule.calendar import Calendar, say_day
from recall.schedule.combine import group
from recall.schedule.fold import Folding, folding
from recall.schedule.merging import RANK, merged
from recall.schedule.order import NO_EAR
from recall.schedule.own_cycle import Populations
from recall.schedule.plan import (
    BECAUSE_WORDS,
    Advice,
    Decision,
    Due,
    FollowUp,
    NothingDue,
    Plan,
    ProtocolUsed,
    Referral,
)
from recall.schedule.reading import tried_again

NOT_SIGNED = "Protocol not yet signed off by this practice."
TESTS_BOTH_EARS: frozenset[To] = frozenset({"paediatric_audiology"})
"""Services that test both ears of whoever comes, whichever they were asked about."""


def plan(
    case: Case,
    protocol: Protocol,
    on: date,
    *,
    calendar: Calendar | None = None,
    decisions: Sequence[Decision] = (),
    population: Populations = None,
) -> Plan:
    """Return the plan on a day; the same input always gives the same plan."""
    state = folding(case, protocol, on, decisions=decisions, population=population)
    notices = [] if protocol.signed_off else [NOT_SIGNED]
    dues = tuple(state.open.values())
    if calendar is None:
        follow_ups = tried_again(group(dues), on)
    else:
        late = state.last is not None and state.last.on < on
        first = on + timedelta(days=1) if late else on
        together = tried_again(group(dues, calendar.is_open), on)
        follow_ups, offered = offer(together, calendar, first)
        notices += offered
    notices += vague_dates(case, on)
    notices += state.notices
    notices += [_silent(*each) for each in state.judged.silent]
    notices += _known(state.asked.known)
    if state.asked.untested and protocol.file.untested is not None:
        notices.append(protocol.file.untested.says)
    return Plan(
        case_version=CASE_VERSION,
        protocol=ProtocolUsed(
            name=protocol.name, version=protocol.version, signed_off=protocol.signed_off
        ),
        on=state.last.on if state.last else on,
        follow_ups=follow_ups,
        referrals=referrals_together(state.referrals.values()),
        advice=_advice(state.asked.advice),
        unanswered=tuple(state.unanswered),
        nothing_due=_nothing_due(state),
        notices=tuple(dict.fromkeys(notices)),
    )


def offer(
    follow_ups: Iterable[FollowUp], calendar: Calendar, on: date
) -> tuple[tuple[FollowUp, ...], list[str]]:
    """Return the follow-ups with an open day to offer, and a notice for each without one.

    No day before `on` is offered: the day of the plan, or the day after it where the visit was
    earlier and the person is not here.
    """
    found, notices = [], []
    for follow_up in follow_ups:
        window = follow_up.earliest, follow_up.target, follow_up.latest
        offered = calendar.offer(*window, not_before=on)
        found.append(msgspec.structs.replace(follow_up, offer_on=offered.on))
        if offered.on is None:
            notices.append(offered.because)
    return tuple(found), notices


def referrals_together(referrals: Iterable[Referral]) -> tuple[Referral, ...]:
    """Return one referral for each service and day asked, most urgent first.

    Children's audiology tests a child's both ears at once: asked about one ear and later about
    the other, it is one line, as of the later day, with each stage at its earliest.
    """
    referrals = tuple(referrals)
    if len(referrals) < 2:
        return referrals
    together: dict[tuple[To, date | None], Referral] = {}
    for referral in sorted(referrals, key=lambda r: SIDES.index(r.ears[0])):
        key = (referral.to, None if referral.to in TESTS_BOTH_EARS else referral.asked_on)
        known = together.get(key)
        if known is not None:
            asked_on = max(known.asked_on, referral.asked_on)
            referral = msgspec.structs.replace(merged(known, referral), asked_on=asked_on)
        together[key] = referral
    return tuple(sorted(together.values(), key=_pressing_first))


def _pressing_first(referral: Referral) -> tuple[int, date, bool, To]:
    """A stroke service before another that is as urgent: it is the call that cannot wait."""
    return RANK[referral.urgency], referral.stages.seen_by, referral.to != "stroke", referral.to


def _known(known: Iterable[tuple[Side, Rule, UnderCare]]) -> list[str]:
    """Return what is not referred again: one sentence for each service and ears."""
    rules: dict[To, dict[Side, list[str]]] = {}
    for side, rule, care in known:
        rules.setdefault(care.of, {}).setdefault(side, []).append(rule.id)
    found = []
    for of, ears in rules.items():
        same: dict[tuple[str, ...], list[Side]] = {}
        for side, names in ears.items():
            same.setdefault(tuple(dict.fromkeys(names)), []).append(side)
        for which, sides in same.items():
            where = f"the {sides[0]} ear" if len(sides) == 1 else "both ears"
            what = ", ".join(which)
            found.append(
                f"Not referred again for {where} ({what}): already under the care of {of}."
            )
    return found


def _silent(side: Side, line: Due | Referral, decision: Decision) -> str:
    rule = line.rule if isinstance(line, Due) else line.reasons[0].rule
    why = BECAUSE_WORDS[decision.because] if decision.because else decision.why
    return (
        f"Not asked again for the {side} ear ({rule}): struck out on {say_day(decision.on)}, {why}."
    )


def _advice(given: Iterable[tuple[Side, Rule]]) -> tuple[Advice, ...]:
    ears: dict[str, tuple[Rule, list[Side]]] = {}
    for side, rule in given:
        ears.setdefault(rule.id, (rule, []))[1].append(side)
    return tuple(
        Advice(
            says=rule.says,
            rule=rule.id,
            source=rule.source,
            known_by=rule.known_by,
            ears=tuple(sides),
        )
        for rule, sides in ears.values()
    )


def _nothing_due(state: Folding) -> tuple[NothingDue, ...]:
    """Return the reason for each ear with findings that asks for nothing."""
    if state.last is None:
        return ()
    busy = {key[0] for some in (state.open, state.referrals) for key in some}
    busy |= {side for side, _ in state.asked.advice}
    if len(busy) == len(SIDES):
        return ()
    answered = {c.due.ear for c in state.closings if c.visit_on == state.last.on}
    known = {side for side, _, _ in state.asked.known}
    struck = {name[0] for name in state.judged.held if state.judged.struck(*name)}
    found = []
    for side in SIDES:
        if side in busy or _ear(state.last, side) in (None, NO_EAR):
            continue
        usual = False
        if side in known:
            because = "What was found is already under care elsewhere."
        elif side in struck:
            because = "What was found asks for something that somebody has struck out."
        else:
            because = (
                f"Nothing recorded for the {side} ear asks for a re-check under this protocol."
            )
            usual = side not in answered
        found.append(NothingDue(ear=side, because=because, is_usual=usual))
    return tuple(found)


def _ear(visit: Visit, side: Side) -> object:
    return visit.right if side == "right" else visit.left
