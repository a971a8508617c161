"""What a file would do, in words: how it is understood, what it would add and take away."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from recall.desk.imports.proposing import Proposal
from recall.desk.imports.taking_away import counted, named
from recall.schedule.calendar import say_day

SHOWN = 8
MARKS = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "upright strokes"}


def understood(proposal: Proposal[Any]) -> Iterator[str]:
    """Give how a file was read: its letters and marks, and from when to when it goes."""
    looks, delimiter = proposal.looks, proposal.found.reading.table.delimiter
    apart = MARKS.get(delimiter, delimiter)
    how = f"{looks.encoding}, its cells apart by {apart}"
    yield f"{proposal.path.name} ({proposal.kind}), read as {how}."
    if absent := proposal.found.reading.absent:
        headings = ", ".join(map(repr, absent))
        yield f"Mapped, and not in it: {headings}. What they would say stays as it is."
    if looks.accents:
        yield f"Letters with accents: {', '.join(looks.accents)}."
    if looks.first_day and looks.last_day:
        dated = proposal.found.importer.dated
        yield f"{dated}: from {say_day(looks.first_day)} to {say_day(looks.last_day)}."


def does(proposal: Proposal[Any]) -> Iterator[str]:
    """Give what a file would add and change."""
    yield (
        f"It would add {proposal.added:,}, change {proposal.changed:,}, leave "
        f"{proposal.unchanged:,} as they are and send {proposal.rejected:,} back."
    )
    if proposal.answered:
        yield f"Newer visits would answer {proposal.answered:,} of what is asked for now."


def takes_away(proposal: Proposal[Any], shown: int = SHOWN) -> Iterator[str]:
    """Give what a file would take away: how much of what, then the most pressing by name."""
    losses = proposal.losses
    if not losses:
        yield "It would take nothing away."
        return
    yield f"It would take away {len(losses):,}: {counted(losses)}."
    for line in named(losses)[:shown]:
        yield f"  {line}"
    if len(losses) > shown:
        yield f"  … and {len(losses) - shown:,} more."
