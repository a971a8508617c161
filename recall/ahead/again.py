"""What visits create again: how often, how soon and of which kind one re-check asks for another.

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
SETTLED = 84
"""Days after which whoever missed an appointment and has no other counts as having none: twelve
weeks, common practice, no source. Before that nothing is known of them yet."""
ALL = ""
"""The name of all kinds together."""


class Look(msgspec.Struct, frozen=True, gc=False):
    """A visit that answered a kind of re-check, with what it asked for next."""

    person: int
    kind: str
    after_days: int | None
    """Until the target of the soonest; None where it asked for no look."""
    minutes: int = 0
    next_kind: str = ALL
    """Of the soonest."""


class Again(msgspec.Struct, frozen=True):
    """What the visits about one kind created."""

    share: Share
    after: Mapping[tuple[int, str], float]
    """Whole weeks until the next one and its kind, with their part of those that came again."""
    minutes: float
    """Of an appointment of those, in the middle."""


class Missed(msgspec.Struct, frozen=True):
    """How often appointments are missed, and when whoever missed one has the next."""

    share: Share
    """Of people, by the first appointment of each that was kept or missed."""
    after: Mapping[int, float] = {}
    """Whole weeks until the next one, with their part of those of whom it is known."""

    @property
    def part(self) -> float:
        """Return the part of appointments that are missed; none where none is known."""
        return self.share.share or 0.0


NONE_MISSED = Missed(share_of(0, 0))


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
    weeks = Counter((max(0, look.after_days or 0) // 7, look.next_kind) for look in came)
    minutes = sum(look.minutes for look in came) / len(came) if came else 0.0
    after = {each: count / len(came) for each, count in sorted(weeks.items())}
    return Again(share_of(len(came), len(looks)), after, minutes)


class Kept(msgspec.Struct, frozen=True, gc=False):
    """The first appointment of somebody that was kept or missed."""

    person: int
    missed: bool
    next_after_days: int | None = None
    """Until the day of the next one; None where there is none."""
    days_ago: int = 2 * SETTLED


def missed_of(first_ones: Iterable[Kept]) -> Missed:
    """Return how often appointments are missed, one of each person."""
    found = list(first_ones)
    missed = [one for one in found if one.missed]
    again = [one.next_after_days for one in missed if one.next_after_days is not None]
    never = sum(one.next_after_days is None and one.days_ago >= SETTLED for one in missed)
    weeks = Counter(max(0, days) // 7 for days in again)
    after = {week: count / (len(again) + never) for week, count in sorted(weeks.items())}
    return Missed(share_of(len(missed), len(found)), after)
