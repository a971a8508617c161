"""What is known of a person beside their visits, with every date worked out once.

"Weeks before" counts back from the first visit here, the earliest day it can mean. A vague
date is read the way that asks for more: a risk from the first day it can mean to the last,
care elsewhere only while it is sure.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from recall.care.case import Case, Risk, RiskWord, ToldByOthers, UnderCare
from recall.care.casefile import first_visit_on
from recall.care.dates import When, add, resolve
from recall.care.ear import Side
from recall.protocol.words import RISKS_OF_BOTH_EARS


@dataclass(frozen=True, slots=True)
class Dated:
    """Something that holds for one ear or both, from a day and until another."""

    since: date | None
    until: date | None
    ear: Side | None

    def holds(self, side: Side, on: date) -> bool:
        """Return whether it holds for an ear on a day."""
        return self.ear in (None, side) and self.runs(on)

    def runs(self, on: date) -> bool:
        """Return whether it holds for any ear on a day."""
        return (self.since is None or self.since <= on) and (self.until is None or on < self.until)


@dataclass(frozen=True, slots=True)
class Known:
    """A person's risks, care elsewhere, what others told, and the end of a treatment."""

    risks: tuple[tuple[str, Dated], ...]
    care: tuple[tuple[UnderCare, Dated], ...]
    told: tuple[tuple[date, ToldByOthers], ...]
    treated_on: date | None

    def risk_words(self, side: Side, on: date) -> list[str]:
        """Return the risks that hold for an ear on a day."""
        return [word for word, dated in self.risks if dated.holds(side, on)]

    def care_on(self, on: date) -> list[UnderCare]:
        """Return who has the person under care on a day."""
        if not self.care:
            return []
        return [care for care, dated in self.care if dated.runs(on)]

    def treated_by(self, on: date) -> date | None:
        """Return the end of a treatment that has come by a day."""
        return self.treated_on if self.treated_on is not None and self.treated_on <= on else None

    def care_since(self, first: date, on: date) -> list[UnderCare]:
        """Return who has the person under care on a day, where that is known to have begun
        on an earlier day or after it."""
        return [
            care
            for care, dated in self.care
            if dated.runs(on) and dated.since is not None and dated.since >= first
        ]


NOTHING = Known((), (), (), None)


def known_of(case: Case) -> Known:
    """Return what is known of a person beside their visits."""
    if not (case.risks or case.under_care or case.told_by_others or case.loss_treated_on):
        return NOTHING
    first = first_visit_on(case)
    if first is None:
        return NOTHING
    return Known(
        tuple(_risk(risk, first) for risk in case.risks),
        tuple(_care(care, first) for care in case.under_care),
        tuple((resolve(told.on, first).on, told) for told in case.told_by_others),
        resolve(case.loss_treated_on, first).on if case.loss_treated_on is not None else None,
    )


def last_day(when: When, on: date) -> date:
    """Return the latest day that `when` can mean: what a vague date is sure of."""
    day = resolve(when, on)
    if not day.vague or not isinstance(when, str):
        return day.on
    return add(day.on, months=1, days=-1)


def _risk(risk: RiskWord | Risk, first: date) -> tuple[str, Dated]:
    if isinstance(risk, str):
        return risk, Dated(None, None, None)
    what, ear = risk.what, risk.ear
    since = resolve(risk.since, first).on if risk.since is not None else None
    until = last_day(risk.until, first) if risk.until is not None else None
    return what, Dated(since, until, None if what in RISKS_OF_BOTH_EARS else ear)


def _care(care: UnderCare, first: date) -> tuple[UnderCare, Dated]:
    since = last_day(care.since, first) if care.since is not None else None
    until = resolve(care.until, first).on if care.until is not None else None
    return care, Dated(since, until, care.ear)
