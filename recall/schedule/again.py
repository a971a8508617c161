"""What is asked for once more: a look that could not be done or was done in part, and care."""

from __future__ import annotations

from datetime import date

import msgspec

from recall.protocol.loading import Protocol, Window
from recall.schedule.calendar import say_day
from recall.schedule.open_ledger import Key
from recall.schedule.plan import Due
from recall.schedule.windows import from_anchor, said_by

CARE_RULE = "care-elsewhere"
"""What asks whether care elsewhere is still running."""
LATE = " Late since "
"""What is said before the last day of the first second try that came to nothing."""


def second_try(due: Due, on: date, protocol: Protocol, child: bool) -> Due:
    """Return the short second try at a look that a visit could not do."""
    text = protocol.file.retry
    dates = from_anchor(protocol.retry_child if child else protocol.retry_adult, on)
    return msgspec.structs.replace(
        due,
        kind="retry",
        rule="retry",
        rule_version=1,
        earliest=dates.earliest,
        target=dates.target,
        latest=dates.latest,
        says=text.says,
        says_aloud=text.says_aloud,
        source=text.source,
        known_by=text.known_by,
        asked_on=on,
        beaten=(due.rule,),
        cycle="",
        anchor=msgspec.UNSET,
    )


def back_again(due: Due, on: date, protocol: Protocol) -> Due:
    """Return a test that gave way to a service which did not do it, to be done from this day on."""
    dates = from_anchor(protocol.retry_child, on)
    if due.latest >= dates.latest:
        return msgspec.structs.replace(due, asked_on=on, anchor=due.counted_from)
    return msgspec.structs.replace(due, **dates.days, asked_on=on, anchor=msgspec.UNSET)


def late(retry: Due, earlier: Due) -> Due:
    """Return a second try that takes the place of one whose days have gone by, and says so."""
    _, said, since = earlier.says.partition(LATE)
    told = since if said else f"{say_day(earlier.latest)}."
    return msgspec.structs.replace(retry, says=f"{retry.says}{LATE}{told}")


def same_again(due: Due, on: date, protocol: Protocol, child: bool) -> Due:
    """Return a look that was done in part, with its rule's own window counted from this visit."""
    dates = from_anchor(_window(due, protocol, child), on)
    return msgspec.structs.replace(
        due,
        **dates.days,
        asked_on=on,
        beaten=(),
        cycle="",
        anchor=msgspec.UNSET,
    )


def after_care(key: Key, on: date, protocol: Protocol) -> Due:
    """Return the question whether care elsewhere is still running."""
    side, track, kind = key
    text, dates = protocol.file.loop, from_anchor(protocol.loop_window, on)
    return Due(
        ear=side,
        track=track,
        kind=kind,
        category="refer",
        rule=CARE_RULE,
        rule_version=1,
        **dates.days,
        **said_by(text),
        urgency="low",
        do=("ask_after_care",),
        asked_on=on,
    )


def _window(due: Due, protocol: Protocol, child: bool) -> Window:
    """Return a due's window; what was asked by category alone has the category's."""
    asks = protocol.asks.get((due.rule, due.rule_version))
    if asks is not None and asks.window is not None:
        return asks.window
    _, adult_window, child_window = protocol.categories[due.category]
    return child_window if child else adult_window
