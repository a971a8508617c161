"""What is known about one follow-up: its window, the person, and what happened, in order.

`events` stand in the order in which they happened; one that was undone is simply left out.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from typing import Literal

import msgspec

from recall.care.case import Urgency
from recall.care.dates import is_child
from recall.loop.outcomes import BY_ID, CALLS, Channel, OutcomeId
from recall.protocol.contact import PRESSING
from recall.protocol.contact_steps import StepKind
from recall.schedule.plan import CloseReason, FollowUp

Ending = Literal[
    "attended",
    "did_not_attend",
    "was_not_brought",
    "moved_by_person",
    "moved_by_practice",
    "cancelled_by_person",
    "cancelled_by_practice",
]
"""How a booking ended. For a child "by the person" is by whoever brings them."""
WRITTEN: frozenset[Channel] = frozenset({"letter", "email"})
"""Channels by which letters go."""


WRITTEN_UP = timedelta(days=7)
"""What is entered later than so long after its day is told, and proves nothing: whoever wants to
close something could write down anything by then. Common practice, no source."""


class _Fact(msgspec.Struct, frozen=True, kw_only=True, tag=True):
    """What every event shares: the day it happened, and when somebody entered it."""

    on: date
    recorded_at: datetime | None = None
    """By the machine; None for what a file brought."""

    @property
    def entered_on(self) -> date:
        """Return the day on which it was entered, in UTC; its own where a file brought it."""
        return max(self.on, self.recorded_at.date()) if self.recorded_at else self.on

    @property
    def is_late(self) -> bool:
        """Return whether it was entered on a later day than it happened."""
        return self.entered_on > self.on

    @property
    def proves(self) -> bool:
        """Return whether it was entered soon enough to count as having been done."""
        return self.entered_on - self.on <= WRITTEN_UP


class Contact(_Fact, frozen=True, kw_only=True):
    """One attempt to reach the person."""

    channel: Channel
    outcome: OutcomeId
    until: date | None = None
    """The day agreed, where the outcome asks for one; of a call that comes back, that same day."""
    until_at: time | None = None
    """The hour of that day, on the practice's wall clock."""
    by_them: bool = False
    """They rang, wrote or walked in: no attempt of ours."""

    @property
    def comes_back(self) -> bool:
        """Whether it is rung once more on the same day: the two are one try."""
        return self.until == self.on and not BY_ID[self.outcome].reached


class Posted(_Fact, frozen=True, kw_only=True):
    """A letter left the house, by post or by e-mail for those who need that."""

    kind: StepKind
    by: Literal["letter", "email"] = "letter"


class Returned(_Fact, frozen=True, kw_only=True):
    """A letter came back."""

    posted_on: date


class Booked(_Fact, frozen=True, kw_only=True):
    """An appointment was made."""

    booking: int
    day: date
    why_late: str = ""
    """The reason, where the day lies after the latest."""


class BookingEnded(_Fact, frozen=True, kw_only=True):
    """An appointment was kept, missed, moved or cancelled."""

    booking: int
    how: Ending
    with_visit: bool = False
    """They came, and the visit is known that was closed then."""


class Looked(_Fact, frozen=True, kw_only=True):
    """A clinician looked at the list before the letters."""


class AddressChecked(_Fact, frozen=True, kw_only=True):
    """Somebody checked the address and numbers."""


class GpTold(_Fact, frozen=True, kw_only=True):
    """The GP, or whoever referred, was told that the person cannot be reached."""


class Held(_Fact, frozen=True, kw_only=True):
    """Somebody held contact back until a day."""

    until: date
    why: str


class Decided(_Fact, frozen=True, kw_only=True):
    """A named clinician decided to carry on where things stood, or to try a new round."""

    what: Literal["carry_on", "keep_trying"]


class Closed(_Fact, frozen=True, kw_only=True):
    """It ended, for a known reason."""

    reason: CloseReason


Event = (
    Contact
    | Posted
    | Returned
    | Booked
    | BookingEnded
    | Looked
    | AddressChecked
    | GpTold
    | Held
    | Decided
    | Closed
)


class Facts(msgspec.Struct, frozen=True, kw_only=True):
    """Everything that decides what must be done next about one follow-up."""

    asked_on: date
    """The day of the visit that asked, the last one where several did."""
    earliest: date
    target: date
    latest: date
    urgency: Urgency
    born: date
    dependent: bool = False
    """An adult who depends on others to bring them."""
    died_on: date | None = None
    objected_on: date | None = None
    unsafe_on: date | None = None
    moved_on: date | None = None
    """Known to have left the address, the new one not known."""
    channels: frozenset[Channel] = frozenset({"phone", "letter"})
    """Ways that are recorded and safe."""
    one_number: bool = False
    """There is one number to ring and no other."""
    own_one_number: bool = False
    """The same from the 16th birthday on, without those of responsible adults."""
    own_channels: frozenset[Channel] | None = None
    """Those from the 16th birthday on, where a responsible adult has others; None: the same."""
    gp_agreed: bool | None = None
    """Whether the person agreed to the GP or referrer being told; None: not asked."""
    all_by: date = date.min
    """The last day of the part that may wait longest, where that is known."""
    from_file: bool = False
    """Everything in it was asked for by visits that a file brought."""
    visited_on: date | None = None
    """The person's last visit that was closed here, not brought by a file."""
    seen_on: date | None = None
    """The person's last visit, wherever it was recorded."""
    joined_on: date | None = None
    """Where a part of it came to a follow-up that was there: from that day its evidence counts."""
    events: tuple[Event, ...] = ()

    @property
    def evidence_from(self) -> date:
        """Return the day from which what was done is about everything that this holds."""
        return max(self.asked_on, self.joined_on or self.asked_on)

    @property
    def presses(self) -> bool:
        """Whether this is an emergency or urgent."""
        return self.urgency in PRESSING

    @property
    def can_write(self) -> bool:
        """Whether a letter step can be done, by post or by e-mail."""
        return not self.channels.isdisjoint(WRITTEN)

    @property
    def call_channels(self) -> frozenset[Channel]:
        """Return the channels that make up a call: a text only for those without a telephone."""
        return CALLS if "phone" in self.channels else CALLS | {"text"}

    @property
    def can_call(self) -> bool:
        """Whether a call step can be done, by telephone or else by text."""
        return not self.channels.isdisjoint(("phone", "text"))

    def pause(self, days: int) -> timedelta:
        """Return how long an attempt is left to work: hardly at all for what presses."""
        most = {"emergency": 0, "urgent": 1}.get(self.urgency, days)
        return timedelta(days=min(days, most))

    def usable_on(self, on: date) -> Facts:
        """Return the facts with the ways that can be used on a day.

        Nobody writes to whoever has moved, and nobody rings or writes to the adults of a child
        about somebody of 16.
        """
        ways = self.ways_on(on)
        one = self.one_number if is_child(self.born, on) else self.own_one_number
        if self.moved_on is not None and self.moved_on <= on:
            ways -= WRITTEN
        if (ways, one) == (self.channels, self.one_number):
            return self
        return msgspec.structs.replace(self, channels=ways, one_number=one)

    def ways_on(self, on: date) -> frozenset[Channel]:
        """Return the ways that are recorded of whoever is rung and written to on a day."""
        if self.own_channels is None or is_child(self.born, on):
            return self.channels
        return self.own_channels

    def with_events(self, *events: Event) -> Facts:
        """Return the facts with more events, to keep or to see what would come of them."""
        return msgspec.structs.replace(self, events=(*self.events, *events))


def facts_of(follow_up: FollowUp, *, born: date, events: tuple[Event, ...] = ()) -> Facts:
    """Return the facts of a planned follow-up, for somebody about whom nothing more is known."""
    return Facts(
        asked_on=max(due.asked_on for due in follow_up.dues),
        earliest=follow_up.earliest,
        target=follow_up.target,
        latest=follow_up.latest,
        urgency=follow_up.urgency,
        born=born,
        events=events,
    )
