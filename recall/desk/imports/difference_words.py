"""What a file would do, in words: how it is understood, what it would add and take away."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator
from typing import Any

from recall.desk.imports.lost_letters import LOST
from recall.desk.imports.proposing import Proposal
from recall.desk.imports.taking_away import counted, named
from recall.schedule.calendar import say_day

SHOWN = 8
_REASONS, _CELLS, _CELL = 5, 4, 30
"""Why rows go back: so many reasons are shown, with so many cells, and so much of each."""
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
    yield from _sent_back(proposal)
    if proposal.answered:
        yield f"Newer visits would answer {proposal.answered:,} of what is asked for now."


def _sent_back(proposal: Proposal[Any]) -> Iterator[str]:
    """Give why rows go back, the most frequent reason first, with a few of the cells."""
    cells: dict[str, Counter[str]] = defaultdict(Counter)
    for problem in (p for read in proposal.found.refused for p in read.problems if not p.kept):
        where = f"{problem.column}: " if problem.column else ""
        cells[f"{where}{problem.wrong}"][problem.value[:_CELL]] += 1
    reasons = sorted(cells.items(), key=lambda item: -item[1].total())
    for reason, found in reasons[:_REASONS]:
        which = ", ".join(cell for cell, _count in found.most_common(_CELLS) if cell)
        more = ", …" if len(found) > _CELLS else ""
        yield f"  {found.total():,} × {reason}{f' ({which}{more})' if which else ''}"
    if len(reasons) > _REASONS:
        rest = sum(found.total() for _reason, found in reasons[_REASONS:])
        yield f"  {rest:,} for other reasons, in the file of the rows sent back"


def recognises(proposal: Proposal[Any], shown: int = SHOWN) -> Iterator[str]:
    """Give what of a file is known already, moved, or gone at the source."""
    told = [*dict.fromkeys(proposal.told)]
    if told:
        yield f"Recognised: {len(told):,}."
    for line in told[:shown]:
        yield f"  {line}"
    if len(told) > shown:
        yield f"  … and {len(told) - shown:,} more."


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
    if lost := sum(loss.what == LOST for loss in losses):
        yield (
            f"{lost:,} with “?” in a name: letters were lost as the file was made. Have it "
            "exported again as UTF-8; letters would be addressed as the names stand there."
        )
