"""One re-check that was asked for, and the one state that it is in on a day."""

from __future__ import annotations

from datetime import date
from typing import Literal

import msgspec

from recall.accounts.states import BY_NAME, LOOKED, RecheckState
from recall.care.case import Category, Track, Urgency
from recall.care.ear import Side
from recall.schedule.plan import Action, CloseReason, Kind

RunStatus = Literal["", "booked", "lost", "look_through"]
"""How what is open stands on the day: an appointment, everything tried, or still to be looked
through, since it is from before the practice went live."""


class Recheck(msgspec.Struct, frozen=True, gc=False):
    """One ask of a visit about one ear: its window, and how it ended as far as is known."""

    number: int
    person: int
    ear: Side
    track: Track
    kind: Kind
    category: Category
    urgency: Urgency
    asked_on: date
    earliest: date
    latest: date
    born: date
    site: str = ""
    practitioner: str = ""
    """Who examined at the visit that asked."""
    ended_on: date | None = None
    reason: CloseReason | None = None
    at_visit: bool = False
    """A visit of ours ended it."""
    action: Action | None = None
    """What somebody decided on that day, where a decision ended it."""
    moved_to: date | None = None
    """The latest day that a decision gave it instead."""
    by: str = ""
    """Who decided, or took back the visit that asked."""
    status: RunStatus = ""
    """How its contact run stands, where it is not simply open."""

    @property
    def thing(self) -> tuple[int, Side, Track, Kind]:
        """Return what is to be looked at, whichever ask stands for it."""
        return self.person, self.ear, self.track, self.kind

    def over_by(self, on: date) -> bool:
        """Return whether it had ended by a day."""
        return self.ended_on is not None and self.ended_on <= on

    def missed_by(self, on: date, *, at_end: bool = False) -> bool:
        """Return whether its latest day went by, up to a day, before it was met or ended.

        `at_end`: that day is over, so that what is open and was due on it was missed.
        """
        if self.ended_on is not None and self.ended_on <= on:
            return self.latest < self.ended_on
        return self.latest <= on if at_end else self.latest < on


def recheck_state(ask: Recheck, on: date, *, at_end: bool = False) -> RecheckState:
    """Return the one state that an ask is in on a day, by how its contact run stands then."""
    if ask.over_by(on):
        return _ended(ask, missed=ask.missed_by(on))
    if ask.status in ("look_through", "lost"):
        return ask.status
    if on < ask.earliest:
        return "not_yet_due"
    if ask.missed_by(on, at_end=at_end):
        return "late_booked" if ask.status else "late"
    return "booked" if ask.status else "in_window"


def _ended(ask: Recheck, missed: bool) -> RecheckState:
    if ask.reason in LOOKED:
        if not ask.at_visit:
            return "elsewhere"
        return "met_late" if missed else "met_in_time"
    if ask.reason is None or ask.reason == "superseded":
        return _replaced(ask, missed)
    if missed and ask.reason == "entered_in_error":
        return "error_late"
    return BY_NAME[ask.reason]


def _replaced(ask: Recheck, missed: bool) -> RecheckState:
    """Tell what people moved from what another ask took the place of."""
    if ask.action == "move" and missed:
        return "moved_late"
    if ask.action in ("move", "weigh") and ask.moved_to is not None and ask.moved_to > ask.latest:
        return "moved_late" if missed else "moved_later"
    return "replaced_late" if missed else "replaced"
