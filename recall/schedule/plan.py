"""What a plan is: the dues, follow-ups, referrals and reasons that stand after a visit."""

from __future__ import annotations

from datetime import date
from typing import Literal

import msgspec

from recall.care.case import Category, Do, To, Track, Urgency
from recall.care.ear import Side

Kind = Literal["recheck", "retry", "loop"]
"""A look again; a second try at one that could not be done; is care elsewhere still running?"""
Action = Literal["close", "move", "ask", "strike", "weigh"]
"""Close what is open; move it to other dates; ask by category alone; strike out what a rule asks
of an ear; make it more or less urgent."""
Because = Literal["known_elsewhere", "declines", "explained", "judgement"]
"""Why a line of the plan is struck out, moved, raised or lowered."""
BECAUSE_WORDS: dict[Because, str] = {
    "known_elsewhere": "known elsewhere",
    "declines": "the person declines",
    "explained": "what was found explains it",
    "judgement": "clinical judgement",
}
"""The short list of reasons, in the order in which they are offered."""
CloseReason = Literal[
    "answered",
    "resolved",
    "superseded",
    "informed_decline",
    "died",
    "transferred",
    "handed_back",
    "clinician_decision",
    "entered_in_error",
    "struck_out",
]
EndReason = CloseReason | Literal["under_care"]
"""How a referral ends: as a due does, or taken up by a service that has the person in its care."""
RULE_REASONS: frozenset[CloseReason] = frozenset({"answered", "resolved", "superseded"})
"""Closings that the fold may make by itself; all others need somebody who may decide."""


class _Part(msgspec.Struct, frozen=True, kw_only=True, gc=False):
    """What every part of a plan shares.

    Parts hold days, words and other finished parts, never themselves: the garbage collector,
    which would go over thousands of them, can leave them out.
    """


class Due(_Part, frozen=True, kw_only=True):
    """One ask that stands for one (ear, track, kind), with dates that never change."""

    ear: Side
    track: Track
    category: Category
    rule: str
    rule_version: int
    earliest: date
    target: date
    latest: date
    says: str
    source: str
    known_by: str
    kind: Kind = "recheck"
    urgency: Urgency = "medium"
    do: tuple[Do, ...] = ()
    needs: tuple[str, ...] = ()
    """What must have been looked at for a visit to answer this (names of `schedule.answering`)."""
    says_aloud: str = ""
    asked_on: date
    """The day of the visit that asked."""
    beaten: tuple[str, ...] = ()
    """Rules that asked for the same thing less pressingly."""
    cycle: str = ""
    """The person's own wax cycle in words, where it set the date."""
    anchor: date | msgspec.UnsetType = msgspec.UNSET
    """The day its window is counted from, where that is not the day it was asked on. It follows
    from the visits, and is not kept."""

    @property
    def counted_from(self) -> date:
        """Return the day that the window is counted from."""
        return self.anchor if isinstance(self.anchor, date) else self.asked_on


class FollowUp(_Part, frozen=True, kw_only=True):
    """Dues that share one contact run and one appointment."""

    earliest: date
    target: date
    latest: date
    offer_on: date | None
    urgency: Urgency
    tracks: tuple[Track, ...]
    ears: tuple[Side, ...]
    do: tuple[Do, ...]
    dues: tuple[Due, ...]
    reasons: tuple[str, ...] = ()


class Stages(_Part, frozen=True, kw_only=True):
    """The day by which each stage of a referral must be known."""

    sent_by: date
    accepted_by: date
    seen_by: date
    result_by: date


class Reason(_Part, frozen=True, kw_only=True):
    """One rule that asked for a referral."""

    ear: Side
    track: Track
    rule: str
    rule_version: int
    says: str
    source: str
    known_by: str
    category: Category = "refer"
    says_aloud: str = ""


class Referral(_Part, frozen=True, kw_only=True):
    """An onward referral with its stages."""

    to: To
    ears: tuple[Side, ...]
    urgency: Urgency
    within_days: int
    """Days from the visit within which the person should be seen there."""
    stages: Stages
    reasons: tuple[Reason, ...]
    asked_on: date


class Advice(_Part, frozen=True, kw_only=True):
    """Something to tell the person."""

    says: str
    rule: str
    source: str = ""
    known_by: str = ""
    ears: tuple[Side, ...] = ()


class Unanswered(_Part, frozen=True, kw_only=True):
    """A due that the last visit should have answered and did not."""

    track: Track
    ear: Side
    because: str
    latest: date


class NothingDue(_Part, frozen=True, kw_only=True):
    """Why an ear with findings asks for nothing."""

    ear: Side
    because: str
    is_usual: bool = False
    """Whether nothing was waited for in this ear: then people are not told of it."""


class ProtocolUsed(_Part, frozen=True, kw_only=True):
    """Which protocol made a plan."""

    name: str
    version: str
    signed_off: bool


class Plan(_Part, frozen=True, kw_only=True):
    """Everything open for a person after a visit."""

    case_version: int
    protocol: ProtocolUsed
    on: date
    follow_ups: tuple[FollowUp, ...] = ()
    referrals: tuple[Referral, ...] = ()
    advice: tuple[Advice, ...] = ()
    unanswered: tuple[Unanswered, ...] = ()
    nothing_due: tuple[NothingDue, ...] = ()
    notices: tuple[str, ...] = ()


class Closing(_Part, frozen=True, kw_only=True):
    """How one due ended."""

    due: Due
    on: date
    reason: CloseReason
    visit_on: date | None = None
    """The visit that closed it, where a visit did."""


class ReferralEnd(_Part, frozen=True, kw_only=True):
    """How one referral ended."""

    referral: Referral
    on: date
    reason: EndReason


class Decision(_Part, frozen=True, kw_only=True):
    """What somebody who may decide did to one open due or referral, between visits."""

    on: date
    ear: Side
    track: Track | None = None
    """The due's track, or None where a referral is meant."""
    to: To | None = None
    """The referral's service, or None where a due is meant."""
    kind: Kind = "recheck"
    asked_on: date | None = None
    """Only the one asked on this day, or whichever is open."""
    action: Action = "close"
    category: Category | None = None
    urgency: Urgency | None = None
    reason: CloseReason = "clinician_decision"
    earliest: date | None = None
    target: date | None = None
    latest: date | None = None
    why: str = ""
    rule: str = ""
    """The rule that is struck out or weighed anew; only what it asks is meant."""
    until: date | None = None
    """The day from which a struck line stands again; None: until something is worse or new.

    Of a referral that ends, the day until which what was found is meant; None: the day of it."""
    because: Because | None = None


class Ledger(_Part, frozen=True, kw_only=True):
    """The whole fold: what every visit asked and how each ask ended, for the records."""

    open: tuple[Due, ...]
    closings: tuple[Closing, ...]
    referrals: tuple[Referral, ...]
    """Open ones."""
    referral_ends: tuple[ReferralEnd, ...] = ()
