"""How fast keys come: which key that writes is meant, and which was typed or pasted by mistake.

A list has a key for each thing that it records, so a word typed into the wrong window would
record one thing after another, for one person after another. Three measures stand against that:
a key that writes waits a moment, in which no other may come; it acts only on what has been in
sight long enough to be read; and one that opens something waits as long as no hand needs from one
key to the next, so that of a pasted text not even the first letter opens a sheet.
"""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Literal, Protocol

from textual import events
from textual.message import Message
from textual.message_pump import MessagePump

from tui.commands.kinds import Writes
from tui.register.once import once

READ = 0.4
"""Seconds that somebody must have been in sight before a key writes about them. Common practice,
no published source."""
TOGETHER = 0.25
"""Seconds within which two keys count as typed or pasted. Common practice, no published source;
the mean between two keys of 168,000 people who typed sentences was 0.24 (Dhakal, Feit,
Kristensson and Oulasvirta, "Observations on typing from 136 million keystrokes", 2018)."""
PASTE = 0.02
"""Seconds within which two keys come from no hand: a terminal that marks no pasted text hands it
on as keys, one right after the other. Common practice, no published source."""
FOR_NOTHING = 1.0
"""Seconds within which a key goes on with a text that was begun for a sheet that did not open.
Common practice, no published source."""
TOO_FAST = "Keys came as fast as typing or pasting: nothing was recorded. Press one key alone."
TOO_EARLY = "Read first who is in hand now: that key came too soon and recorded nothing."
OTHER_IN_HAND = "Somebody else came into hand meanwhile: nothing was recorded."
NOT_SEEN = "This sheet has only just opened: read it, then once more. What you typed is here."
NO_SHEET = "No sheet opened: what was typed for it did nothing."
PASTED = "Pasted text does nothing here. Open a field first: / looks for somebody."

Verdict = Literal["go", "wait", "look", "too fast", "too early"]


class KeyClock:
    """The time by which keys are judged: the one that they are stamped with."""

    def now(self) -> float:
        """Return the seconds by now."""
        return Message().time

    def later(self, node: MessagePump, seconds: float, do: Callable[[], Awaitable[None]]) -> Later:
        """Do something after so many seconds, while `node` is there."""
        return once(node, seconds, do)


class Later(Protocol):
    """Something that will be done, and may be called off."""

    def stop(self) -> None:
        """Call it off."""


def is_typed(key: events.Key) -> bool:
    """Return whether a key is one of those that a typed or pasted text consists of."""
    return key.is_printable or key.key in ("enter", "tab")


class KeyPace:
    """What was typed last on one list, and since when what is marked there is in sight."""

    def __init__(self) -> None:
        """Begin with nothing in sight."""
        self._in_sight: object = None
        self._since = 0.0
        self._waits: float | None = None
        self._span = TOGETHER
        self._fast: float | None = None
        self._for_nothing: float | None = None

    def show(self, marked: object, at: float) -> None:
        """Take note of what is in sight now; None for nothing."""
        if marked != self._in_sight:
            self._in_sight, self._since = marked, at

    def has_read(self, marked: object, at: float) -> bool:
        """Return whether something has been in sight long enough to be read."""
        return marked is not None and marked == self._in_sight and at - self._since >= READ

    def judge(self, at: float, writes: Writes, marked: object, *, means: bool = True) -> Verdict:
        """Return what becomes of a key that a text could consist of.

        Args:
            at: when it was pressed.
            writes: whether it writes, and about what.
            marked: what is marked.
            means: the key does something here.
        """
        if self._is_near(self._waits, at, self._span) or self._is_near(self._fast, at):
            self._waits, self._fast = None, at
            return "too fast"
        if not means:
            self._fast = at
            return "go"
        if not writes:
            self._waits, self._span = at, PASTE
            return "look"
        if marked is None and writes == "marked":
            return "go"
        if writes == "marked" and not self.has_read(marked, at):
            return "too early"
        self._waits, self._span = at, TOGETHER
        return "wait"

    def no_sheet(self, at: float | None) -> None:
        """Take note of when a sheet was refused, whose text may be under way; None: no longer."""
        self._for_nothing = at

    def is_for_nothing(self, at: float) -> bool:
        """Return whether a key goes on with what is typed for a sheet that did not open."""
        goes_on = self._is_near(self._for_nothing, at, FOR_NOTHING)
        self._for_nothing = at if goes_on else None
        return goes_on

    def waited_alone(self, at: float) -> bool:
        """Return whether something waits for which no other key came in time."""
        return self._waits is not None and not self._is_near(self._waits, at, self._span)

    def done(self) -> None:
        """Take note that what waited is done, or never will be."""
        self._waits = None

    @staticmethod
    def _is_near(before: float | None, at: float, span: float = TOGETHER) -> bool:
        return before is not None and at - before < span
