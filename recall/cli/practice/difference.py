"""What a file would do, in lines for whoever takes it in, and the word or number that it needs."""

from __future__ import annotations

import sys
from textwrap import fill
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.common import WIDTH, say
from recall.errors import InputError

if TYPE_CHECKING:
    from recall.desk.imports.asking_order import WhichOrder
    from recall.desk.imports.proposing import Proposal
    from recall.desk.imports.taken_back import TakenBack
    from recall.exchange.day_order import Order

SHOWN = 8


def show(proposal: Proposal[Any]) -> None:
    """Say how a file is understood, and what it would add, change and take away."""
    from recall.desk.imports.difference_words import (
        does,
        recognises,
        takes_away,
        understood,
    )

    for line in understood(proposal):
        say(line)
    for row in proposal.looks.first_rows:
        say(fill(row, WIDTH, initial_indent="  ", subsequent_indent="    "))
    for line in (*does(proposal), *recognises(proposal), *takes_away(proposal)):
        say(line)


def show_taken_back(done: TakenBack, be: str) -> None:
    """Say what taking a run back comes to."""
    for words, counted in (("voided", done.voided), ("as they were", done.restored)):
        if counted:
            kinds = ", ".join(f"{n:,} × {what}" for what, n in sorted(counted.items()))
            say(f"Run {done.run} ({done.file_name}): {kinds} {be} {words}.")
    if done.stays:
        say(f"Touched since, and staying: {len(done.stays):,}.")
    for line in done.stays[:SHOWN]:
        say(f"  {line}")
    if len(done.stays) > SHOWN:
        say(f"  … and {len(done.stays) - SHOWN:,} more.")


def order(question: WhichOrder) -> Order:
    """Return which comes first in a file's dates, as somebody at the terminal says.

    Raises:
        WhichOrder: nobody is there to be asked.
    """
    if not sys.stdin.isatty():
        raise question
    say(question.message)
    answer: Order = click.prompt(
        "Which comes first in this file", type=click.Choice(("day", "month")), err=True
    )
    return answer


def agreed(proposal: Proposal[Any], yes: bool, takes_away: int | None) -> int | None:
    """Return the number that goes, once somebody has said that it may land.

    Raises:
        InputError: nobody is there to say so, and no option does.
        Abort: they said something else.
    """
    count = len(proposal.losses)
    if takes_away is not None or (count and yes):
        return takes_away  # whether it is the right number is seen when it lands
    if yes or not (proposal.changes_anything or count):
        return None
    option = f"--takes-away {count}" if count else "--yes"
    if not sys.stdin.isatty():
        raise InputError("Nothing has landed: this was a look.", hint=f"Take it in with {option}.")
    wanted = str(count) if count else "yes"
    question = f"Type {wanted} to let it land, anything else to leave it"
    if click.prompt(question, default="", show_default=False, err=True).strip() != wanted:
        raise click.Abort
    return count or None
