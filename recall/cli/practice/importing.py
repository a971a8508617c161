"""`recall import`: files in, and `recall replan`: whoever waits is planned."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import FILE, acting, agreed, emit, say
from recall.cli.shared.numbers import NUMBER
from recall.cli.shared.progress import Progress

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.imports.importing import ImportSummary, Kind
    from recall.exchange.day_order import Order

SENT_BACK = 2
"""Exit status where rows were sent back: whoever exported the file must act."""
SHOWN = 5
KINDS = ("people", "visits", "contacts", "bookings", "referrals", "tests")


@click.command("import")
@click.argument("words", nargs=-1, metavar="[KIND] FILE")
@click.option("--rejects", type=FILE, help="Where refused rows go; beside the file if left out.")
@click.option("--yes", is_flag=True, help="Let it land where it takes nothing away.")
@click.option("--takes-away", type=NUMBER, metavar="N", help="How much the file may take away.")
@click.option("--day-first", "order", flag_value="day", help="In its dates the day comes first.")
@click.option("--month-first", "order", flag_value="month", help="In its dates the month does.")
@click.option("--look", is_flag=True, help="Only guess how the file is mapped, and print that.")
@click.option("--take-back", type=NUMBER, metavar="RUN", help="Take a whole run back, by number.")
@click.option("--no-plan", is_flag=True, help="Leave planning to a later `recall replan`.")
@acting
def import_(
    words: tuple[str, ...], look: bool, take_back: int | None, no_plan: bool, **given: Any
) -> int:
    """Take in a CSV file of people, visits, contacts, bookings, referrals or tests.

    KIND is told by the file's name or headings where it is left out. First it shows how the
    file is understood and what it would do; then it asks, and without a terminal --yes says
    that it may land. Where anything would be taken away (a number, a risk, a finding, a due),
    nothing lands until its count is given. Rows that are wrong go to a rejects file with what
    would be right; correct them there and import that file. What a column that is missing
    would say stays as it is. The same file again changes nothing. Ends with status 2 where
    rows were sent back. --look takes nothing in: it reads the headings and words of a file and
    prints the [import] part of a configuration, for you to check.
    """
    from recall.desk.imports.importing import kind_of

    if take_back is not None and not words:
        return _take_back(take_back, no_plan, given)
    if (
        not words
        or take_back is not None
        or len(words) > 2
        or (len(words) == 2 and words[0] not in KINDS)
    ):
        raise click.UsageError(f"Give [KIND] FILE, where KIND is one of {', '.join(KINDS)}")
    path = Path(words[-1])
    if look:
        return _look(path, words[:-1])
    with opened(given) as desk:
        kind = words[0] if len(words) == 2 else kind_of(path, desk)
        summary = _take_in(desk, path, kind, **given)  # type: ignore[arg-type]
        if not no_plan:
            plan_waiting(desk, summary)
    return SENT_BACK if summary.rejected else 0


def _look(path: Path, kind: tuple[str, ...]) -> int:
    """Print how a file would be mapped; nobody need be named, and no register be there."""
    from recall.clock import Clock
    from recall.exchange import looking
    from recall.exchange.cells import Cells
    from recall.exchange.columns import KINDS as OURS

    cells = Cells("DD/MM/YYYY", "GB", Clock().today())
    found = looking.look_at(path, [OURS[k] for k in kind or KINDS], cells)
    emit(looking.as_toml([found], looking.order_guessed(found, cells.date_format)))
    unknown = sum(len(words) for words in found.unknown.values())
    say(
        f"{path.name} ({found.kind.name}): {len(found.headings)} headings and "
        f"{sum(map(len, found.values.values())):,} words were guessed, {unknown:,} words are not "
        f"known, and nothing is read from {len(found.left)} headings. Check it all."
    )
    return 0


def _take_back(run: int, no_plan: bool, given: dict[str, Any]) -> int:
    """Show what taking a run back comes to, and do it once that is agreed to."""
    from recall.cli.practice import difference
    from recall.desk.imports.taking_back import look_at_taking_back, take_back

    with opened(given) as desk:
        difference.show_taken_back(look_at_taking_back(desk, run), "would be")
        if not agreed(f"Take run {run} back?", given["yes"]):
            raise click.Abort
        done = take_back(desk, run)
        say(f"Run {run} ({done.file_name}) is taken back.")
        if not no_plan:
            plan_waiting(desk)
    return 0


def _take_in(
    desk: Desk, path: Path, kind: Kind, *, order: Order | None, **given: Any
) -> ImportSummary:
    """Show what a file would do, and let it land once that is agreed to."""
    from recall.cli.practice import difference
    from recall.desk.imports.asking_order import WhichOrder
    from recall.desk.imports.landing import land
    from recall.desk.imports.proposing import propose
    from recall.records.database.bulk import seldom_collected

    progress = Progress(f"{kind.capitalize()}:")
    with seldom_collected():
        try:
            proposal = propose(desk, path, kind, progress, order=order)
        except WhichOrder as question:
            proposal = propose(desk, path, kind, progress, order=difference.order(question))
        progress.end()
        difference.show(proposal)
        takes_away = difference.agreed(proposal, given["yes"], given["takes_away"])
        progress = Progress(f"{kind.capitalize()}, landed:")
        try:
            summary = land(desk, proposal, takes_away, progress, rejects_path=given["rejects"])
        except KeyboardInterrupt:
            say(f"Stopped. What has landed stays: with {path.name} again it goes on from there.")
            raise
    progress.end()
    tell(path, summary)
    return summary


@click.command()
@click.option("--everybody", is_flag=True, help="Plan the whole register, not only who waits.")
@acting
def replan(everybody: bool, **given: Any) -> None:
    """Plan whoever waits to be planned; a run that was stopped goes on where it was."""
    from recall.desk.core.replanning import mark_everybody

    with opened(given) as desk:
        if everybody:
            mark_everybody(desk)
        plan_waiting(desk)


def plan_waiting(opened: Desk, landed: ImportSummary | None = None) -> None:
    """Plan whoever waits, and say what came of it, and of planning them as a file landed."""
    from recall.desk.core.replanning import replan as plan_all
    from recall.desk.plans.passing_time import settle

    progress = Progress("Planned:")
    done = plan_all(opened, progress)
    progress.end()
    settle(opened)
    if done.people:
        done = done.with_those_of(landed.planned) if landed else done
        again = f"{done.asked_again:,} that had ended asked again, " if done.asked_again else ""
        say(
            f"Planned {done.people:,} people: {done.dues_asked:,} new asks, {again}"
            f"{done.dues_closed:,} of them and of older ones answered or closed."
        )


def tell(path: Path, summary: ImportSummary) -> None:
    """Say what became of a file."""
    say(
        f"{path.name} ({summary.kind}): {summary.added:,} added, {summary.changed:,} changed, "
        f"{summary.unchanged:,} unchanged, {summary.rejected:,} sent back."
    )
    if summary.run is not None:
        say(f"This is run {summary.run}.")
    if summary.ignored:
        say(f"Nothing is read from: {', '.join(summary.ignored)}.")
    _some(
        [f"line {p.line}, {p.column}: {p.wrong}; {p.right}" for p in summary.kept_aside],
        "Kept aside, and not used until corrected",
    )
    _some(list(summary.told), "Recognised, and left as it is")
    _some(
        [" and ".join(t.refs) for t in summary.possible_duplicates],
        "Possibly the same person (nothing was merged)",
    )
    if summary.rejects_path:
        say(f"Sent back: {summary.rejects_path}. Correct the rows there and import that file.")


def _some(lines: list[str], heading: str) -> None:
    """Say the first few of some lines under a heading that counts them all."""
    if not lines:
        return
    say(f"{heading}: {len(lines):,}")
    for line in lines[:SHOWN]:
        say(f"  {line}")
    if len(lines) > SHOWN:
        say(f"  … and {len(lines) - SHOWN:,} more.")
