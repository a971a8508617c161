"""The rule cases of tests/cases: read, planned, and mirrored from ear to ear."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import msgspec

from recall.care.case import Case
from recall.care.casefile import decode_case
from recall.protocol.loading import Protocol, load
from recall.schedule.fold import Folding, folding
from recall.schedule.plan import Due
from recall.schedule.planning import referrals_together

FOLDER = Path(__file__).parents[1] / "cases"
OTHER = {"right": "left", "left": "right"}


@dataclass(frozen=True)
class RuleCase:
    """One history with what must come of it."""

    file: str
    name: str
    given: dict[str, Any]
    on: date
    expect: dict[str, Any]
    source: str

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
            found.append(
                RuleCase(
                    path.stem, row["name"], row["given"], _day(on), row["expect"], row["source"]
                )
            )
    return tuple(found)


def mirrored(part: Any) -> Any:
    """Return a case, or what is expected of it, with right and left changed over."""
    if isinstance(part, dict):
        return {OTHER.get(key, key): mirrored(value) for key, value in part.items()}
    if isinstance(part, list):
        return [mirrored(value) for value in part]
    return OTHER.get(part, part) if isinstance(part, str) else part


def state_of(case: Case, on: date, protocol: Protocol | None = None) -> Folding:
    return folding(case, protocol or load(), on)


def fired(state: Folding) -> frozenset[str]:
    """Return the rules that matched at the last visit, whether or not they won."""
    asked = state.asked
    rules = {d.rule for d in asked.dues} | {r.id for _, r in asked.advice}
    rules |= {reason.rule for r in asked.referrals for reason in r.reasons}
    return frozenset(rules | {r.id for _, r, _ in asked.known})


def due_as_written(due: Due) -> dict[str, Any]:
    """Return a due as a case file writes it."""
    row: dict[str, Any] = {
        "ear": due.ear,
        "track": due.track,
        "rule": due.rule,
        "window": [due.earliest.isoformat(), due.target.isoformat(), due.latest.isoformat()],
        "urgency": due.urgency,
    }
    return row if due.kind == "recheck" else {**row, "kind": due.kind}


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
