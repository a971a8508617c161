"""The rule cases of tests/cases: read, planned, and mirrored from ear to ear."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import msgspec
from msgspec.structs import replace

from recall.care.case import Case
from recall.care.casefile import decode_case
from recall.cycle.population import Population
from recall.protocol.loading import Protocol, load
from recall.schedule.fold import Folding, folding
from recall.schedule.plan import Decision
from recall.schedule.planning import referrals_together

FOLDER = Path(__file__).parents[1] / "cases"
OTHER = {"right": "left", "left": "right"}


def _wax(shape: float, scale_days: float) -> Population:
    return Population(
        shape=shape,
        scale_days=scale_days,
        frailty=0,
        fitted_on=date(2020, 1, 1),
        people=9,
        spells=9,
    )


WAX = {"quickly": _wax(3.0, 20.0), "evenly": _wax(2.0, 365.0), "slowly": _wax(3.0, 4000.0)}
"""How wax comes back in the practice, where a case says `wax_comes_back`: alike in everybody."""


@dataclass(frozen=True, eq=False)
class RuleCase:
    """One history with what must come of it."""

    file: str
    name: str
    given: dict[str, Any]
    on: date
    expect: dict[str, Any]
    source: str
    closed_as: tuple[Decision, ...] = ()
    """Visits closed with a category alone, without findings; or what else was decided."""
    wax_comes_back: str | None = None

    @property
    def id(self) -> str:
        return f"{self.file}: {self.name}"

    def case(self) -> Case:
        return decode_case(msgspec.json.encode(self.given))


def _day(text: Any) -> date:
    return text if isinstance(text, date) else date.fromisoformat(text)


@cache
def all_cases() -> tuple[RuleCase, ...]:
    """Return every case of every file, in order."""
    found = []
    for path in sorted(FOLDER.glob("*.toml")):
        for row in tomllib.loads(path.read_text(encoding="utf-8"))["case"]:
            days = [v["on"] for v in row["given"]["visits"]]
            on = row.get("on") or max(days, key=_day)
            closed = tuple(
                msgspec.convert({"action": "ask", **c}, Decision) for c in row.get("closed_as", ())
            )
            parts = row["given"], _day(on), row["expect"], row["source"]
            wax = row.get("wax_comes_back")
            found.append(RuleCase(path.stem, row["name"], *parts, closed, wax))
    return tuple(found)


def mirrored(part: Any) -> Any:
    """Return a case, or what is expected of it, with right and left changed over."""
    if isinstance(part, dict):
        return {OTHER.get(key, key): mirrored(value) for key, value in part.items()}
    if isinstance(part, list):
        return [mirrored(value) for value in part]
    return OTHER.get(part, part) if isinstance(part, str) else part


def other_way(case: RuleCase) -> RuleCase:
    """Return a case with the ears changed over, in what is given and in what is expected."""
    closed = tuple(replace(c, ear=OTHER[c.ear]) for c in case.closed_as)
    changed = mirrored(case.given), case.on, mirrored(case.expect), case.source
    return RuleCase(case.file, case.name, *changed, closed, case.wax_comes_back)


def state_of(case: RuleCase, protocol: Protocol | None = None, on: date | None = None) -> Folding:
    """Return what a case comes to, by its own last day or by another."""
    return folding(
        case.case(),
        protocol or load(),
        on or case.on,
        decisions=case.closed_as,
        population=WAX[case.wax_comes_back] if case.wax_comes_back else None,
    )


def versions_fired(state: Folding) -> frozenset[tuple[str, int]]:
    """Return the rules that matched at the last visit with their versions, won or not."""
    asked = state.asked
    rules = {(d.rule, d.rule_version) for d in asked.dues}
    rules |= {(r.rule, r.rule_version) for one in asked.referrals for r in one.reasons}
    rules |= {(r.id, r.version) for _, r in asked.advice}
    return frozenset(rules | {(r.id, r.version) for _, r, _ in asked.known})


def fired(state: Folding) -> frozenset[str]:
    """Return the rules that matched at the last visit, whether or not they won."""
    taken_in = {rule for due in state.asked.dues for rule in due.beaten}
    return frozenset({rule for rule, _ in versions_fired(state)} | taken_in)


def referrals_as_written(state: Folding) -> list[dict[str, Any]]:
    """Return the open referrals as a case file writes them."""
    rows = []
    for referral in referrals_together(state.referrals.values()):
        stages = [getattr(referral.stages, n) for n in referral.stages.__struct_fields__]
        rows.append(
            {
                "to": referral.to,
                "ears": sorted(referral.ears),
                "urgency": referral.urgency,
                "rules": sorted({r.rule for r in referral.reasons}),
                "stages": [day.isoformat() for day in stages],
            }
        )
    return rows
