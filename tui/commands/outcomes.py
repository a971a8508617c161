"""The outcomes of a call as commands of the call list, each with its key."""

from __future__ import annotations

from recall.loop.outcomes import OUTCOMES, Outcome
from tui.commands.kinds import Command

KEYED_OUTCOMES = tuple(outcome for outcome in OUTCOMES if outcome.key)
"""`booked` has no key of its own: making the booking records it."""


def opens_sheet(outcome: Outcome) -> bool:
    """Return whether something is asked first; *worse* is recorded while its sheet opens."""
    return outcome.asks_day or outcome.asks_first or outcome.is_grave


OUTCOME_COMMANDS: tuple[Command, ...] = tuple(
    Command(
        f"queue.{outcome.id}",
        outcome.key,
        outcome.short,
        f"{outcome.words}.",
        1 if outcome is KEYED_OUTCOMES[0] else 0,
        f"screen.outcome('{outcome.id}')",
        "" if opens_sheet(outcome) else "marked",
    )
    for outcome in KEYED_OUTCOMES
)
