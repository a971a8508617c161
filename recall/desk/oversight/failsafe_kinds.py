"""What the failsafe finds: breaks, which must never be, and backlog, which somebody works off.

A break means that the register itself would let somebody fall out: aim zero. Backlog is work that
is on somebody's list and late there; it is counted, and not listed a second time.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

BACKLOG: dict[str, str] = {
    "step_past": "contact steps past their day",
    "cannot_be_contacted": "due, and no way to reach them",
    "referral_past_chase": "referrals past the day to be chased",
    "booking_without_outcome": "appointments of which nobody said whether they came",
    "booking_for_nothing": "appointments for what is closed",
    "letter_not_followed_up": "letters neither posted nor pulled",
    "owner_left": "waiting for somebody who has left",
    "not_planned": "changed, and not planned again yet",
    "clock_set_back": "the machine's clock was set back",
}
"""Each kind of backlog, in words; whatever is not here is a break."""
UNREADABLE = "cannot_be_read"
"""The kind of a row that cannot be read: its person's line is lost until a backup is put back."""


def is_break(kind: str) -> bool:
    """Return whether a kind of finding must never be; one that nobody knows is taken for one."""
    return kind not in BACKLOG


@dataclass(frozen=True)
class Tally:
    """One kind of backlog: how much of it, by urgency, and what changed since the last check."""

    kind: str
    says: str
    count: int
    urgencies: Counter[str] = field(default_factory=Counter)
    new: int = 0
    gone: int = 0
    people: int = 0
    """How many people it is about: what lies in both ears of one is one call, or one question."""


@dataclass(frozen=True)
class Found:
    """Something found, as far as it is counted: of which kind and urgency, whether new, whose."""

    kind: str
    urgency: str
    is_new: bool
    whose: str = ""


def tallies(found: Iterable[Found], gone: Iterable[str]) -> tuple[Tally, ...]:
    """Return every kind of backlog that there is or was, in the order of the table."""
    some, left = list(found), Counter(gone)
    return tuple(
        Tally(
            kind,
            says,
            len(mine),
            Counter(one.urgency for one in mine if one.urgency),
            sum(one.is_new for one in mine),
            left[kind],
            len({one.whose for one in mine if one.whose}),
        )
        for kind, says in BACKLOG.items()
        if (mine := [one for one in some if one.kind == kind]) or left[kind]
    )
