"""What each rule of the protocol has asked for in this register, and what came of it.

For the clinical lead: a rule that seldom finds anything may ask too often or too early, one
that is often struck out may be wrong, and a referral that becomes groundless before anybody saw
the person was asked too soon. Few looks show little: each share has its interval.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

import msgspec
from sqlalchemy import and_, func, select
from sqlalchemy.orm import Session

from recall.accounts.referral import RECORDED
from recall.care.ear import Ear, Side
from recall.cycle.curve import wilson
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.records import tables
from recall.records.facts.cases import stands
from recall.records.tables.statements import many
from recall.schedule.found import found_by
from recall.schedule.plan import BECAUSE_WORDS, RULE_REASONS, CloseReason, Reason

STRUCK: CloseReason = "struck_out"
"""Counted by its decision, which tells the reason, and is there for a line that never stood."""
LOOKED = ("answered", "resolved")
"""How a due ends when somebody looked."""
_ear = msgspec.json.Decoder(Ear)
_reasons = msgspec.json.Decoder(tuple[Reason, ...])


@dataclass(frozen=True)
class RuleLine:
    """One rule, over its versions: what it asked for and what came of it."""

    rule: str
    asked: int
    """Re-checks asked for."""
    looked: int
    """Of these, answered by a look."""
    found: int
    """Of those, at which what was looked for was there."""
    low: float
    high: float
    """The share found with its 95 per cent interval (Wilson)."""
    struck: int
    """Re-checks and referrals that a named person ended."""
    struck_why: str
    referred: int
    """Referrals asked for."""
    sent: int
    seen: int
    results: int
    groundless: int
    """Referrals of which the reason had gone before anybody saw the person there."""


@dataclass
class _Tally:
    """The counts of one rule while they are counted."""

    asked: int = 0
    looked: int = 0
    found: int = 0
    struck: Counter[str] = field(default_factory=Counter)
    referred: int = 0
    stages: Counter[str] = field(default_factory=Counter)

    def line(self, rule: str) -> RuleLine:
        """Return it as a line of the list."""
        low, high = wilson(self.found, self.looked)
        why = ", ".join(f"{w.replace('_', ' ')} {n}" for w, n in self.struck.most_common())
        return RuleLine(
            rule=rule,
            asked=self.asked,
            looked=self.looked,
            found=self.found,
            low=low,
            high=high,
            struck=self.struck.total(),
            struck_why=why,
            referred=self.referred,
            sent=self.stages["sent"],
            seen=self.stages["seen"],
            results=self.stages["result"],
            groundless=self.stages["groundless"],
        )


class _Ended(NamedTuple):
    """A due, and how it ended where it did."""

    rule: str
    ear: Side
    needs: tuple[str, ...]
    reason: str | None
    """None: it is open."""
    visit_id: int | None
    person_id: int


@needs(Right.LOOK)
def audit(desk: Desk, since: date = date.min) -> tuple[RuleLine, ...]:
    """Return each rule that asked for anything since a day, in the order of the protocol."""
    tallies: dict[str, _Tally] = defaultdict(_Tally)
    with desk.store.read() as session:
        _count_dues(tallies, session, since)
        _count_referrals(tallies, session, since)
        _count_struck(tallies, session, since)
    order = {rule.id: n for n, rule in enumerate(desk.protocol.rules)}
    known = sorted(tallies, key=lambda rule: (order.get(rule, len(order)), rule))
    return tuple(tallies[rule].line(rule) for rule in known)


def _count_dues(tallies: dict[str, _Tally], session: Session, since: date) -> None:
    dues = list(_dues(session, since))
    ears = _ears(session, {d.visit_id for d in dues if d.visit_id is not None})
    for due in dues:
        tally = tallies[due.rule]
        tally.asked += 1
        if due.reason is None:
            continue
        if due.reason in LOOKED:
            ear = ears.get((due.visit_id, due.ear))
            tally.looked += 1
            tally.found += ear is not None and bool(found_by(due.needs, ear))
        elif due.reason not in (*RULE_REASONS, STRUCK):
            tally.struck[due.reason] += 1


def _dues(session: Session, since: date) -> Iterator[_Ended]:
    d, e = tables.Due, tables.DueEvent
    last = (
        select(e.due_id, func.max(e.id).label("id"))
        .where(e.what == "closed", stands(tables.DueEvent))
        .group_by(e.due_id)
        .subquery()
    )
    wanted = (
        select(d.rule, d.ear, d.needs, e.reason, e.visit_id, d.person_id)
        .select_from(d)
        .outerjoin(last, and_(last.c.due_id == d.id, d.is_open.is_(False)))
        .outerjoin(e, e.id == last.c.id)
        .where(d.kind == "recheck", d.asked_on >= since, stands(tables.Due))
    )
    return (_Ended(*row) for row in many(session, wanted))


def _ears(session: Session, visits: Iterable[int]) -> dict[tuple[int | None, Side], Ear]:
    """Return what was recorded of the ears at some visits."""
    wanted, found = set(visits), tables.Findings
    rows = many(session, select(found.visit_id, found.ear, found.content))
    return {(visit, ear): _ear.decode(text) for visit, ear, text in rows if visit in wanted}


def _count_referrals(tallies: dict[str, _Tally], session: Session, since: date) -> None:
    stages = _stages(session)
    r = tables.Referral
    wanted = select(r.id, r.reasons, r.end_reason).where(
        r.asked_on >= since, stands(tables.Referral)
    )
    for number, reasons, ended in many(session, wanted):
        known = stages.get(number, frozenset())
        for rule in {reason.rule for reason in _reasons.decode(reasons)}:
            tally = tallies[rule]
            tally.referred += 1
            tally.stages.update(_came_of(known, ended))
            if "result" not in known and ended not in (None, *RULE_REASONS, "under_care", STRUCK):
                tally.struck[str(ended)] += 1


def _count_struck(tallies: dict[str, _Tally], session: Session, since: date) -> None:
    d = tables.Decision
    wanted = select(d.rule, d.because).where(d.action == "strike", d.on >= since, stands(d))
    for rule, because in many(session, wanted):
        if because is not None:
            tallies[rule].struck[f"struck out, {BECAUSE_WORDS[because]}"] += 1


def _came_of(known: frozenset[str], ended: str | None) -> Iterator[str]:
    """Yield how far a referral came; sent is a day of sending on record."""
    if known & RECORDED["sent"]:
        yield "sent"
    if known & {"seen", "result"}:
        yield "seen"
    if "result" in known:
        yield "result"
    elif "no_longer_asked" in known or ended == "resolved":
        yield "groundless"


def _stages(session: Session) -> dict[int, frozenset[str]]:
    """Return what became known of each referral."""
    e = tables.ReferralEvent
    found: dict[int, set[str]] = defaultdict(set)
    for number, what in many(session, select(e.referral_id, e.what).where(stands(e))):
        found[number].add(what)
    return {number: frozenset(words) for number, words in found.items()}
