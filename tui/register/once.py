"""Something that is done once, a while later, however busy the machine is meanwhile.

Textual's own timer for it asks the time twice when it begins and, where its whole span went by
between the two, takes its one turn for missed and does nothing. On a busy machine that happens to
a span of a hundredth of a second: the keys that waited for it would wait for ever.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable

from textual.message_pump import MessagePump
from textual.timer import Timer


def once(node: MessagePump, seconds: float, do: Callable[[], Awaitable[None] | None]) -> Timer:
    """Do something after so many seconds, among the messages of `node`, while that is there."""
    timer = node.set_timer(seconds, do)
    # Private, and in this one place only: a timer can be told not to skip a turn when it is made,
    # but the only public way to begin one does not hand that on. It begins after this.
    timer._skip = False
    return timer
