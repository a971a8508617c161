"""Looks that are asked for once more: one that a visit could not do, and one done in part."""

from __future__ import annotations

from datetime import date

import msgspec

from recall.protocol.loading import Protocol, Window
from recall.schedule.plan import Due
from recall.schedule.windows import from_anchor


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
    )


def same_again(due: Due, on: date, protocol: Protocol, child: bool) -> Due:
    """Return a look that was done in part, with its rule's own window counted from this visit."""
    dates = from_anchor(_window(due, protocol, child), on)
    return msgspec.structs.replace(
        due,
        earliest=dates.earliest,
        target=dates.target,
        latest=dates.latest,
        asked_on=on,
        beaten=(),
        cycle="",
    )


def _window(due: Due, protocol: Protocol, child: bool) -> Window:
    """Return a due's window; what was asked by category alone has the category's."""
    asks = protocol.asks.get((due.rule, due.rule_version))
    if asks is not None and asks.window is not None:
        return asks.window
    _, adult_window, child_window = protocol.categories[due.category]
    return child_window if child else adult_window
