"""From what a rule asks to dates: windows from an anchor, and the stages of a referral."""

from __future__ import annotations

from datetime import date
from functools import lru_cache
from typing import Any

import msgspec

from recall.cycle.forecast import next_check_days
from recall.cycle.words import cycle_words
from recall.protocol.anchors import ANCHORS, LAST_DAY_STANDS
from recall.protocol.context import Circumstance
from recall.protocol.loading import Asks, Protocol, Window
from recall.protocol.loading import Stages as StageSpans
from recall.protocol.rules import CycleText, DefaultWindow, LoopText, Recheck, RetryText
from recall.protocol.spans import span
from recall.schedule.own_cycle import OwnCycle
from recall.schedule.plan import Stages


class Dates(msgspec.Struct, frozen=True, gc=False):
    """A window in days, and what the person's own wax cycle said of it."""

    earliest: date
    target: date
    latest: date
    cycle: str = ""

    @property
    def days(self) -> dict[str, Any]:
        """Return the days as a due has them, by their names."""
        return {"earliest": self.earliest, "target": self.target, "latest": self.latest}


def said_by(text: DefaultWindow | LoopText | RetryText) -> dict[str, Any]:
    """Return what a section of the protocol says, as a due has it, by its names."""
    return {name: getattr(text, name) for name in ("says", "says_aloud", "source", "known_by")}


@lru_cache(maxsize=1 << 15)
def from_anchor(window: Window, anchor: date) -> Dates:
    """Return a window counted from a day.

    Remembered, since a practice sees many people on one day. Spans of different units can
    cross at the end of February; target and latest then stand still rather than run
    backwards.
    """
    earliest = window.earliest.after(anchor)
    target = max(earliest, window.target.after(anchor))
    return Dates(earliest, target, max(target, window.latest.after(anchor)))


def not_before(dates: Dates, on: date, protocol: Protocol) -> Dates:
    """Return a window that asks for now where its target has passed, never for a day gone."""
    if dates.earliest >= on:
        return dates
    if dates.target >= on:
        return Dates(on, dates.target, dates.latest, dates.cycle)
    return Dates(on, on, max(dates.latest, protocol.now_latest.after(on)), dates.cycle)


def window_for(
    asks: Asks,
    circumstance: Circumstance,
    protocol: Protocol,
    cycle: OwnCycle | None,
) -> Dates:
    """Return the days of a re-check that a rule asks for at a visit."""
    ask = asks.rule.ask
    assert isinstance(ask, Recheck)
    assert asks.window is not None
    anchor = circumstance.on if ask.anchor == "visit" else ANCHORS[ask.anchor](circumstance)
    if anchor is None:
        assert asks.never is not None, "the loader lets no such rule through without one"
        return from_anchor(asks.never, circumstance.on)
    dates = from_anchor(asks.window, anchor)
    if ask.anchor in LAST_DAY_STANDS:
        return _last_day_stands(dates, asks.window, circumstance.on)
    if ask.cycle is not None and cycle is not None:
        dates = _by_cycle(dates, ask.cycle, cycle, circumstance.on)
    return not_before(dates, circumstance.on, protocol)


def _last_day_stands(dates: Dates, window: Window, on: date) -> Dates:
    """Return a window whose last day stands until it has gone; then it is counted from today."""
    if dates.latest < on:
        return from_anchor(window, on)
    return Dates(max(dates.earliest, on), max(dates.target, on), dates.latest)


def _by_cycle(dates: Dates, text: CycleText, cycle: OwnCycle, on: date) -> Dates:
    """Return the window around the person's own cycle, within the protocol's bounds."""
    soonest, last = span(text.no_sooner).after(on), span(text.no_later).after(on)
    days = next_check_days(
        cycle.forecast,
        text.quantile,
        (soonest - on).days,
        (last - on).days,
        clear_for_days=cycle.clear_for_days,
    )
    words = cycle_words(cycle.forecast, days)
    if days is None:
        return msgspec.structs.replace(dates, cycle=words)
    move = date.fromordinal(on.toordinal() + days) - dates.target
    return Dates(max(on, dates.earliest + move), dates.target + move, dates.latest + move, words)


def stage_days(spans: StageSpans, on: date) -> Stages:
    """Return by which day each stage of a referral must be known."""
    sent = spans.sent.after(on)
    accepted = max(sent, spans.accepted.after(on))
    seen = max(accepted, spans.seen.after(on))
    result = max(seen, spans.result.after(on))
    return Stages(sent_by=sent, accepted_by=accepted, seen_by=seen, result_by=result)
