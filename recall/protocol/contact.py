"""Types of the contact steps that a practice adopts with its protocol; the data are contact.toml.

A run is a row of steps, each dated from the visit, from the window of what is due, or from
the start of a later round; the first run that fits is taken.
"""

from __future__ import annotations

import tomllib
from datetime import date, timedelta
from functools import lru_cache
from importlib.resources import files
from typing import Literal, get_args

import msgspec

from recall.care.case import Urgency
from recall.errors import ProtocolError
from recall.protocol.contact_steps import STEP, StepKind
from recall.protocol.spans import Span, span

FILE = "contact.toml"
Anchor = Literal["visit", "earliest", "target", "halfway", "latest", "round"]
"""`halfway` lies between target and latest; `round` is the day somebody decided to keep trying."""
PRESSING: frozenset[Urgency] = frozenset({"emergency", "urgent"})

_span = lru_cache(maxsize=64)(span)


class _Part(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What every part of the contact data shares."""


class StepRule(_Part, frozen=True, kw_only=True, rename={"anchor": "from"}):
    """One step of a run: what is done, and so long before or after which day."""

    kind: StepKind
    anchor: Anchor
    before: str = "0 days"
    after: str = "0 days"
    not_before: str | None = None
    """At the earliest so long after the visit; a lapsing step is then left out instead."""
    wait: str = "1 week"
    """At the earliest so long after the last letter was posted."""
    tries: int = 1
    """Calls that make up this step while nobody is reached."""

    def __post_init__(self) -> None:
        """Refuse a step that can never be done, and spans that cannot be read."""
        if self.kind not in STEP or not STEP[self.kind].in_run:
            raise ValueError(f"no step of a run is called {self.kind!r}")
        if self.tries < 1:
            raise ValueError("tries must be 1 or more")
        if _span(self.before).unit not in ("days", "weeks"):
            raise ValueError("before is written in days or weeks")
        for text in (self.after, self.wait, self.not_before or "0 days"):
            _span(text)

    def day(self, anchor: date) -> date:
        """Return the day that the step falls on, counted from its anchor."""
        back = _span(self.before)
        days = back.count * (7 if back.unit == "weeks" else 1)
        return _span(self.after).after(anchor) - timedelta(days=days)

    def floor(self, visit_on: date) -> date:
        """Return the earliest day for this step after the visit."""
        return _span(self.not_before or "0 days").after(visit_on)

    def waited(self, posted_on: date) -> date:
        """Return the earliest day for this step after a letter was posted."""
        return _span(self.wait).after(posted_on)


class Run(_Part, frozen=True, kw_only=True):
    """A row of contact steps for some urgencies."""

    name: str
    urgency: tuple[Urgency, ...]
    steps: tuple[StepRule, ...]
    source: str
    known_by: str
    round: Literal["first", "again"] = "first"
    latest_within: str | None = None
    """Only where the latest day lies within so long after the visit."""

    def __post_init__(self) -> None:
        """Refuse a run that could end in nothing, or that leaves what presses to the post."""
        steps = [STEP[step.kind] for step in self.steps]
        if [n for n, step in enumerate(steps, 1) if step.ends_run] != [len(steps)]:
            raise ValueError(f"run {self.name!r} must end in its one decision")
        if self.round == "first" and any(step.anchor == "round" for step in self.steps):
            raise ValueError(f"run {self.name!r}: a first round has no day to count from")
        if PRESSING.isdisjoint(self.urgency):
            return
        said = [step for step in steps if step.is_call or step.is_letter]
        if not said or not said[0].is_call:
            raise ValueError(f"run {self.name!r} must call first: urgent, never by letter alone")

    def fits(self, urgency: Urgency, again: bool, visit_on: date, latest: date) -> bool:
        """Return whether this run is for such a follow-up."""
        if urgency not in self.urgency or (self.round == "again") != again:
            return False
        return not self.latest_within or latest <= _span(self.latest_within).after(visit_on)


class LostRule(_Part, frozen=True, kw_only=True):
    """What must have been tried before somebody may be called lost."""

    contacts: int
    channels: int
    source: str
    known_by: str


class MissedRule(_Part, frozen=True, kw_only=True):
    """How many appointments missed in a row put the case before a named clinician."""

    child: int
    adult: int
    call: str
    """The call after an appointment that was not kept."""
    letter: str
    """The letter after it, where the call did not lead to another booking."""
    source: str
    known_by: str


class CallWords(_Part, frozen=True, kw_only=True):
    """What whoever calls, or decides, is reminded of."""

    identity: str
    voicemail: str
    worse: str
    safeguarding: str


class Chase(_Part, frozen=True, kw_only=True):
    """How a referral is chased beyond the days of its stages."""

    gp_acted: str
    """Where it goes through the GP: so long after asking, the GP must be known to have referred."""
    again: str
    """How long after a chase without news it is chased again."""
    source: str
    known_by: str


class ContactProtocol(_Part, frozen=True, kw_only=True):
    """The whole of contact.toml."""

    review: str
    """How long until somebody who may not be contacted is decided on again."""
    own_contact_asked: str
    """How long before the birthday of 16 a young person's own contact is asked for."""
    join_within: str = "8 weeks"
    """What opens so soon is in reach: a contact about something else is about it too."""
    lost: LostRule
    missed: MissedRule
    words: CallWords
    run: tuple[Run, ...]
    chase: dict[Urgency, Chase]

    def __post_init__(self) -> None:
        """Refuse data under which some follow-up would have no run, or some referral no chase."""
        for text in (
            self.review,
            self.own_contact_asked,
            self.join_within,
            self.missed.call,
            self.missed.letter,
        ):
            _span(text)
        for urgency in get_args(Urgency):
            if urgency not in self.chase:
                raise ValueError(f"no chase for {urgency}")
            for again in (False, True):
                if not any(r.fits(urgency, again, date.min, date.max) for r in self.run):
                    raise ValueError(f"no run for every {urgency} follow-up, again: {again}")

    def run_for(self, urgency: Urgency, again: bool, visit_on: date, latest: date) -> Run:
        """Return the first run that fits."""
        for run in self.run:
            if run.fits(urgency, again, visit_on, latest):
                return run
        raise AssertionError("refused when it was read: every urgency has a run")

    def span(self, text: str) -> Span:
        """Return a length of time written in these data."""
        return _span(text)

    def live_from(self) -> date | None:
        """Return the day on which the practice went live with this register, where it says so."""
        return None

    def in_use_from(self, went_live: date | None) -> ContactProtocol:
        """Return the same data for a practice that went live on a day; its setting, no content."""
        if went_live is None:
            return self
        written = {name: getattr(self, name) for name in ContactProtocol.__struct_fields__}
        return _InUse(**written, went_live=went_live)

    @classmethod
    def load(cls) -> ContactProtocol:
        """Return the contact data that come with the program."""
        return decode_contact((files("recall.protocol") / FILE).read_bytes(), FILE)


class _InUse(ContactProtocol, frozen=True, kw_only=True):
    """The contact data as one practice uses them."""

    went_live: date

    def live_from(self) -> date | None:
        """Return the day on which the practice went live with this register."""
        return self.went_live


def decode_contact(text: bytes, where: str) -> ContactProtocol:
    """Return the contact data of a TOML file.

    Raises:
        ProtocolError: the data cannot be used as they are; the message names the place.
    """
    try:
        return msgspec.convert(tomllib.loads(text.decode("utf-8")), ContactProtocol)
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as problem:
        raise ProtocolError(f"{where} is not a TOML file: {problem}.") from None
    except msgspec.ValidationError as problem:
        raise ProtocolError(f"{where}: {problem}.") from None
