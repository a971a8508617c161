"""The types of a protocol file: rules, what they ask, and the sections beside them."""

from __future__ import annotations

from datetime import date
from typing import Any, Literal

import msgspec

from recall.care.case import Category, Do, To, Track, Urgency

KnownBy = Literal["R", "R2", "C", "M-hi", "M-mid", "M-lo", "CP"]
"""How a value is known: read in the source, read as quoted, computed, from memory, practice."""


class _Section(msgspec.Struct, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """What every part of a protocol file shares."""


class WindowText(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A window as written: spans from the anchor."""

    earliest: str
    target: str
    latest: str


class CycleText(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The person's own wax cycle may set the target between these bounds."""

    quantile: float
    no_sooner: str
    no_later: str


class Recheck(
    _Section, frozen=True, forbid_unknown_fields=True, kw_only=True, tag_field="kind", tag="recheck"
):
    """Look again in a window counted from an anchor."""

    do: tuple[Do, ...]
    earliest: str
    target: str
    latest: str
    anchor: str = msgspec.field(default="visit", name="from")
    never: WindowText | None = None
    """The window from the visit where the anchor has not happened or is not recorded."""
    needs: tuple[str, ...] = ()
    """What a visit must have looked at to answer this; the track's own where left out."""
    cycle: CycleText | None = None


class Refer(
    _Section, frozen=True, forbid_unknown_fields=True, kw_only=True, tag_field="kind", tag="refer"
):
    """Refer onward; each stage where the urgency's default does not serve."""

    to: To
    sent: str | None = None
    accepted: str | None = None
    seen: str | None = None
    result: str | None = None


class Advise(
    _Section, frozen=True, forbid_unknown_fields=True, kw_only=True, tag_field="kind", tag="advise"
):
    """Tell the person something."""

    alone: bool = False
    """Said only where nothing else of its track stands for the ear, and nothing urgent does."""
    in_emergency: bool = False
    """Said only beside an emergency for which ENT or the emergency department sees into the ear."""


class KnownByAge(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """How a rule is known outside the ages that its source was written for."""

    age: str
    known_by: KnownBy


class Rule(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """One row of the protocol."""

    id: str
    version: int
    since: date
    category: Category
    track: Track
    when: dict[str, dict[str, Any]]
    ask: Recheck | Refer | Advise
    urgency: Urgency | None = None
    says: str
    says_aloud: str = ""
    source: str
    known_by: KnownBy
    known_by_age: tuple[KnownByAge, ...] = ()
    until: date | None = None
    unless: dict[str, dict[str, Any]] = {}
    unless_because: str = ""


class LeftOut(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A finding or row that no rule answers, on purpose."""

    what: str
    because: str
    words: tuple[str, ...] = ()
    """The values meant, like "ear.discharge = clear"."""


class RetryText(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The short second try at a look that could not be done."""

    adult: WindowText
    child: WindowText
    says: str
    says_aloud: str
    source: str
    known_by: KnownBy


class LoopText(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The question whether care elsewhere is still running."""

    window: WindowText
    says: str
    says_aloud: str
    source: str
    known_by: KnownBy


class UntestedText(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """Where no hearing test is known of: it is asked about, or left to who tests."""

    since: date
    by: tuple[To, ...]
    """The services that test hearing themselves."""
    says: str
    source: str
    known_by: KnownBy


class DefaultWindow(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """The window of a visit that was closed with a category alone."""

    track: Track
    do: tuple[Do, ...]
    adult: WindowText
    child: WindowText
    urgency: Urgency
    says: str
    says_aloud: str
    source: str
    known_by: KnownBy


class StageText(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """By when each stage of a referral must be known, counted from the visit."""

    sent: str
    accepted: str
    seen: str
    result: str


class ProtocolFile(_Section, frozen=True, forbid_unknown_fields=True, kw_only=True):
    """A whole protocol file."""

    name: str
    version: str
    now_latest: str
    """How long a look may wait that is asked for now."""
    rule: tuple[Rule, ...]
    retry: RetryText
    loop: LoopText
    untested: UntestedText | None = None
    restrained_from: date | None = None
    """The first day of visits after which what is gone, told or known leaves nothing open."""
    gives_way_from: date | None = None
    """The first day of visits with no try of our own at an ear that ENT sees into today, and with
    one test for fluid that began later in the other ear."""
    one_place_from: date | None = None
    """The first day of visits after which what one service sees no later is asked of no other, and
    of us no more, whenever either was asked for."""
    sure_from: date | None = None
    """The first day of visits after which only what is sure silences what presses: a level beside
    that of the other ear, and care of which it is said what it is for."""
    own_place_from: date | None = None
    """The first day of visits after which a test that is repeated for one ear takes the place of
    none of the other's, and an ear that care hurt is looked at by whoever sees it today alone."""
    stages: dict[Urgency, StageText]
    category: dict[Category, DefaultWindow] = {}
    left_out: tuple[LeftOut, ...] = ()
