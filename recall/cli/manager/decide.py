"""`recall decide`: who is meant is shown first; then it is done, all of it or none."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import opened, show
from recall.cli.shared.common import DAY, acting, agreed, emit_lines, gathered
from recall.cli.shared.numbers import NUMBER
from recall.cli.shared.whose import follow_ups_of
from recall.errors import InputError

if TYPE_CHECKING:
    from recall.desk.plans.decisions import Decided, Meant


def _decided(decision: str, why: str, considered: bool, **days: date | None) -> Decided:
    """Return what the options of a decision say."""
    from recall.desk.plans.decisions import Dates, Decided

    given = {name: day for name, day in days.items() if day is not None}
    if given and len(given) < len(days):
        raise InputError("A move needs --earliest, --target and --latest.")
    dates = Dates(**given) if given else None
    return Decided(decision.replace("-", "_"), why, considered, dates)


@click.command()
@gathered(
    "decided",
    _decided,
    click.argument("decision"),
    click.option("--why", default="", help="The reason in words."),
    click.option("--considered", is_flag=True, help="The prompt that is shown was considered."),
    click.option("--earliest", type=DAY, help="For a move."),
    click.option("--target", type=DAY, help="For a move."),
    click.option("--latest", type=DAY, help="For a move."),
)
@click.argument("meant", metavar="FOLLOW_UP|REF...", nargs=-1, required=True)
@click.option("--yes", is_flag=True, help="Go ahead without asking.")
@click.option("--number", type=NUMBER, help="With --yes about several: how many were shown.")
@click.option("--show", "only_show", is_flag=True, help="Show who is meant, and do nothing.")
@acting
def decide(
    decided: Decided, meant: tuple[str, ...], yes: bool, only_show: bool, **given: Any
) -> None:
    """Decide about follow-ups: carry-on, keep-trying, hand-back, informed-decline,
    transferred, died, clinician-decision, move.
    """
    from recall.desk.plans import decisions

    number = given.pop("number")
    with opened(given) as desk:
        if not only_show:
            decisions.may_decide(desk, decided.what)
        follow_ups = follow_ups_of(desk, meant)
        shown = decisions.preview(desk, follow_ups, decided.what)
        for one in shown:
            emit_lines(_line(one))
        if yes and not only_show and len(shown) > 1 and number != len(shown):
            raise InputError(
                f"It is about {len(shown)} follow-ups: say so.", hint=f"Add --number {len(shown)}."
            )
        if only_show or not agreed(f"{len(shown)} follow-up(s): go ahead?", yes):
            return
        versions = {one.follow_up_id: one.version for one in shown}
        for done in decisions.decide(desk, follow_ups, decided, versions):
            show(done, desk)


def _line(meant: Meant) -> str:
    """Return one follow-up that is meant, for somebody to look at."""
    lines = [
        f"[{meant.follow_up_id}] {meant.ref} {meant.name}, born {meant.born}",
        f"    {', '.join(meant.what)}; latest {meant.latest} ({meant.urgency})",
        f"    {meant.decision}" + (f"; letter: {meant.letter}" if meant.letter else ""),
    ]
    if meant.because:
        lines.append(f"    Not allowed yet. {meant.because}")
    if meant.furthest:
        lines.append(f"    Among others it may go to {meant.furthest} at most.")
    if meant.prompt:
        lines.append(f"    Consider: {meant.prompt}")
    return "\n".join(lines) + "\n"
