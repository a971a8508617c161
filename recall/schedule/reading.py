"""A plan as people read it: one finding in both ears is one line, and a reason is said once.

The dues themselves stay one for each ear.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from itertools import chain

import msgspec

from recall.care.case import Track
from recall.care.ear import SIDES, Side
from recall.schedule.again import LATE
from recall.schedule.calendar import say_day
from recall.schedule.merging import RANK
from recall.schedule.plan import Due, FollowUp, Plan, Reason

Ears = tuple[Side, ...]
PAIN_IN_BONE = (
    "canal-risk-severe-pain",
    "canal-risk-pain-lasts",
    "canal-risk-hidden-pain",
    "canal-risk-runs-pain",
    "canal-frail-severe-pain",
    "canal-frail-pain-lasts",
    "canal-frail-hidden-pain",
    "canal-frail-hidden-lasts",
    "canal-severe-pain",
)
ONE_THING = (
    PAIN_IN_BONE,
    ("canal-risk-not-better", "canal-frail-not-better"),
    ("canal-risk-granulation", "canal-frail-granulation", "disease-granulation"),
    ("object-stays", "object-child-hidden"),
    ("object-pain", "object-child-hidden"),
    ("object-ill", "object-child-hidden"),
)
"""Rules that say one thing of an ear: the first of those that hold says it for the others."""
OVER_FORTY = frozenset({"fluid-over-forty-again", "fluid-over-forty-stays"})
_BY_THE_FIRST = {
    rule: frozenset(
        first
        for several in ONE_THING
        if rule in several
        for first in several[: several.index(rule)]
    )
    for rule in chain.from_iterable(ONE_THING)
}
SAID_BY: Mapping[str, frozenset[str]] = {
    **_BY_THE_FIRST,
    "fluid-both-long-loss-ear": frozenset({"fluid-both-long-loss"}),
    "fluid-over-forty": OVER_FORTY,
    "fluid-over-forty-again": frozenset({"fluid-over-forty-stays"}),
    "fluid-adult-again": OVER_FORTY,
    "canal-untreated": frozenset({"canal-untreated-at-risk"}),
    "canal-untreated-runs": frozenset({"canal-untreated-at-risk", "pus-untreated"}),
    "canal-untreated-fungal": frozenset(
        {"canal-untreated", "canal-untreated-at-risk", "canal-untreated-runs"}
    ),
}
"""Rules that say of an ear nearly what another one says: beside it they are not said again."""


def tried_again(follow_ups: Sequence[FollowUp], on: date) -> tuple[FollowUp, ...]:
    """Return appointments in which a look whose days have gone by is with the second try at it.

    It is met by that one, on the days of that one; its own last day stays with it.
    """
    tries = {(d.ear, d.track): n for n, f in enumerate(follow_ups) for d in f.dues if _again(d)}
    late = [f for f in follow_ups if f.latest < on and not any(_again(d) for d in f.dues)]
    gone = [f for f in late if all((d.ear, d.track) in tries for d in f.dues)]
    more: dict[int, list[Due]] = {}
    for due in [due for one in gone for due in one.dues]:
        more.setdefault(tries[due.ear, due.track], []).append(due)
    return tuple(
        _with_late(one, more.get(n, ())) for n, one in enumerate(follow_ups) if one not in gone
    )


def _with_late(one: FollowUp, late: Sequence[Due]) -> FollowUp:
    """Return an appointment that meets what is late as well, as urgent as the most pressing."""
    if not late:
        return one
    urgency = min((one.urgency, *(due.urgency for due in late)), key=RANK.__getitem__)
    return msgspec.structs.replace(one, dues=(*late, *one.dues), urgency=urgency)


def _again(due: Due) -> bool:
    return due.kind == "retry"


def follow_ups_read(plan: Plan) -> list[FollowUp]:
    """Return the appointments of a plan without those that second tries stand for.

    A look whose days have gone by is not booked any more once a second try at it is open: that
    says since when it is late.
    """
    dues = [due for one in plan.follow_ups for due in one.dues]
    tries = {(due.ear, due.track) for due in dues if due.kind == "retry"}
    late = {
        (due.ear, due.track): due.latest
        for due in dues
        if due.kind == "recheck" and due.latest < plan.on and (due.ear, due.track) in tries
    }
    kept = [(one, tuple(d for d in one.dues if not _is_late(d, late))) for one in plan.follow_ups]
    return [msgspec.structs.replace(one, dues=_with_days(dues, late)) for one, dues in kept if dues]


def as_read(plan: Plan) -> Plan:
    """Return a plan with its appointments as people read them."""
    return msgspec.structs.replace(plan, follow_ups=tuple(follow_ups_read(plan)))


def _is_late(due: Due, late: Mapping[tuple[Side, Track], date]) -> bool:
    return due.kind == "recheck" and (due.ear, due.track) in late


def _with_days(dues: tuple[Due, ...], late: Mapping[tuple[Side, Track], date]) -> tuple[Due, ...]:
    """Return dues of which each second try says since when its look is late."""
    return tuple(
        msgspec.structs.replace(due, says=f"{due.says}{LATE}{say_day(late[due.ear, due.track])}.")
        if due.kind == "retry" and (due.ear, due.track) in late and LATE not in due.says
        else due
        for due in dues
    )


def dues_read(dues: Iterable[Due]) -> list[tuple[Ears, Due]]:
    """Return each thing to be done once, with the ears that it is due for.

    A look and the second try at it, in one appointment, are one thing.
    """
    found: dict[tuple[object, ...], list[Due]] = {}
    dues = list(dues)
    looks = {(due.ear, due.track) for due in dues if due.kind == "recheck"}
    for due in dues:
        if due.kind == "retry" and (due.ear, due.track) in looks:
            continue
        what = (due.track, due.kind, due.rule, due.says, due.latest, due.cycle)
        found.setdefault(what, []).append(due)
    return [(_ears(d.ear for d in several), several[0]) for several in found.values()]


def reasons_read(reasons: Iterable[Reason]) -> list[tuple[Ears, Reason]]:
    """Return each reason of a referral once, with the ears that it holds for.

    What another reason of the same ear says as well is left out, and so is what an older version
    of the same rule said.
    """
    newest: dict[tuple[Side, str], Reason] = {}
    for reason in reasons:
        key = reason.ear, reason.rule
        if key not in newest or newest[key].rule_version < reason.rule_version:
            newest[key] = reason
    found: dict[str, list[Reason]] = {}
    for (ear, rule), reason in newest.items():
        if all((ear, other) not in newest for other in SAID_BY.get(rule, ())):
            found.setdefault(reason.says, []).append(reason)
    return [(_ears(r.ear for r in several), several[0]) for several in found.values()]


def _ears(found: Iterable[Side]) -> Ears:
    meant = set(found)
    return tuple(side for side in SIDES if side in meant)
