"""What visits create again: how often, and how soon, one kind of re-check asks for another.

Taken from this register's own visits: of each person the newest one about a kind, so that people
are the unit; the 95 per cent interval of the share is Wilson's. Kinds of which too little is known
are counted together.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping

import msgspec

from recall.accounts.rates import Share, share_of

LEAST = 10
"""People of a kind below which all kinds together speak for it: common practice, no source."""
ALL = ""
"""The name of all kinds together."""


class Look(msgspec.Struct, frozen=True, gc=False):
    """A visit that answered a kind of re-check, with what it asked for next."""

    person: int
    kind: str
    after_days: int | None
    """Until the target of the soonest; None where it asked for no look."""
    minutes: int = 0


class Again(msgspec.Struct, frozen=True):
    """What the visits about one kind created."""

    share: Share
    after_weeks: Mapping[int, float]
    """Whole weeks until the next one, with their part of those that came again."""
    minutes: float
    """Of an appointment of those, in the middle."""


def agains(looks: Iterable[Look]) -> dict[str, Again]:
    """Return by kind what visits create again, and for all kinds together; the newest look last."""
    newest = {(look.kind, look.person): look for look in looks}
    by: dict[str, list[Look]] = defaultdict(list)
    for look in newest.values():
        by[look.kind].append(look)
    told = {kind: _again(found) for kind, found in by.items() if len(found) >= LEAST}
    return {**told, ALL: _again(list(newest.values()))}


def _again(looks: list[Look]) -> Again:
    came = [look for look in looks if look.after_days is not None]
    weeks = Counter(max(0, look.after_days or 0) // 7 for look in came)
    minutes = sum(look.minutes for look in came) / len(came) if came else 0.0
    after = {week: count / len(came) for week, count in sorted(weeks.items())}
    return Again(share_of(len(came), len(looks)), after, minutes)


class Expected(msgspec.Struct, frozen=True):
    """Minutes that visits of these weeks are expected to create, with their spread."""

    minutes: float = 0.0
    low: float = 0.0
    high: float = 0.0


def created(
    seen: Iterable[Mapping[str, int]], known: Mapping[str, Again], weeks: int
) -> list[Expected]:
    """Return week by week what visits of the same weeks create again.

    What those create in turn is not counted.

    Args:
        seen: for each week, how many people are to be seen about each kind.
        known: what each kind creates.
        weeks: how many weeks.
    """
    sums = [[0.0, 0.0, 0.0] for _ in range(weeks)]
    for week, kinds in enumerate(seen):
        for kind, count in kinds.items():
            again = known.get(kind) or known.get(ALL)
            if again is None or again.share.share is None:
                continue
            shares = again.share.share, again.share.low, again.share.high
            for after, part in again.after_weeks.items():
                if week + after < weeks:
                    for n, share in enumerate(shares):
                        sums[week + after][n] += count * share * part * again.minutes
    return [Expected(*each) for each in sums]
