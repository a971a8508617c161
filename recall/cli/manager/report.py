"""`recall report`, `recall backup` and `recall restore`."""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import (
    PAST_DAY,
    acting,
    by_whom,
    desk,
    emit,
    emit_csv,
    emit_data,
    emit_lines,
    in_config,
    say,
    settings,
)
from recall.cli.shared.numbers import NUMBER, AtLeast
from recall.cli.shared.signed import named_or_signed
from recall.errors import InputError

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.records.database.restoring import Comparison


class _Month(click.ParamType[date]):
    name = "month"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> date:
        """Return a day of the month."""
        whole = isinstance(value, str) and _WHOLE.fullmatch(value.strip())
        return PAST_DAY.convert(f"{value.strip()}-01" if whole else value, param, ctx)


_WHOLE, MONTH = re.compile(r"[0-9]{4}-[0-9]{2}"), _Month()


@click.command()
@click.option(
    "--month", type=MONTH, help="2026-09, or any day of it; the last whole one where left out."
)
@click.option("--appointments", type=AtLeast(0), help="The practice's own count in it.")
@click.option("--csv", "as_table", is_flag=True, help="Print as CSV.")
@click.option("--charts", is_flag=True, help="The twelve months up to it as bars: what to change.")
@click.option("--pdf", type=click.Path(path_type=Path), help="A file to print, with the bars.")
@acting
def report(month: date | None, appointments: int | None, **given: Any) -> None:
    """Print the register's month: how everybody stood, who came back in time, what was missed.

    With --appointments the visits on record are compared with the practice's own count, so that
    visits that never reached the register are noticed.
    """
    from datetime import timedelta

    from recall.desk.oversight.month_paper import print_month
    from recall.desk.oversight.report import register_report
    from recall.desk.oversight.report_text import as_csv, as_text

    as_table, charts, pdf = (given.pop(name) for name in ("as_table", "charts", "pdf"))
    with opened(given, reading=True) as desk:
        day = month or desk.today.replace(day=1) - timedelta(days=1)
        if charts and pdf is None:
            _charts(desk, day, as_table)
            return
        found = register_report(desk, day, appointments)
        name = desk.config.practice.name
        if pdf is not None:
            print_month(desk, found, pdf)
            emit(f"{pdf}\n")
            return
    if as_table:
        emit_csv(as_csv(found))
    else:
        emit_lines(as_text(found, name))


def _charts(desk: Desk, day: date, as_table: bool) -> None:
    """Print the figures, as bars or as CSV."""
    from recall.desk.oversight.month_figures import FigureRow, figures, rows_of
    from recall.desk.oversight.month_paper import as_bars

    found = figures(desk, day)
    if as_table:
        emit_data("csv", FigureRow, rows_of(found))
    else:
        emit_lines(as_bars(found))


@click.command()
@in_config
@click.option("--to", type=click.Path(path_type=Path), help="A folder; files.backups if left out.")
def backup(config: Path | None, to: Path | None) -> None:
    """Copy the database while it is in use, and check the copy.

    Copying the file by hand is no backup: the newest rows may lie beside it.
    """
    from recall.desk.practice.backups import back_up

    with desk(config, None, None, reading=True) as opened:
        made = back_up(opened, to)
    emit(f"{made.path}\n")
    say(f"{sum(made.rows.values())} rows, checked.")


@click.command()
@click.argument("backup", type=click.Path(path_type=Path, dir_okay=False))
@in_config
@by_whom
@click.option("--expect", type=AtLeast(0), help="The number that was shown; goes ahead.")
def restore(backup: Path, config: Path | None, by: str | None, expect: int | None) -> None:
    """Put a backup in the register's place: tried aside first, and what would be lost shown.

    Close all desks and jobs. The file that is in place stays beside it under another name.
    """
    from recall.desk.practice import restoring

    practice = settings(config)
    who = (named_or_signed(practice, by) or "").strip()
    compared = restoring.rehearse(practice, backup)
    for line in _compared(compared):
        say(line)
    if expect is None:
        expect = _asked_for(compared.number)
    if not who:
        raise InputError("Nobody is named as acting.", hint="Add --by HANDLE.")
    done = restoring.restore(practice, backup, who, expect)
    say(f"{backup.name} is in place.")
    if done.old is not None:
        say(f"What was there is kept as {done.old}.")
    if done.erased:
        say(f"{done.erased} people who were erased after the backup are erased again.")
    if done.letters or done.unknown:
        say(f"{done.letters} letters that left since are known again; {done.unknown} are about")
        say("what the backup does not hold: another one of that step is held back.")


def _compared(compared: Comparison) -> Iterator[str]:
    """Say what a backup holds and what would be lost, one line each."""
    then, now = compared.then, compared.now
    yield f"The backup goes to line {then.number} of the history, of {then.on or 'no day'}."
    if now is None:
        yield "What is in place cannot be read: nothing can be compared with it."
        return
    yield f"The register in place goes to line {now.number}, of {now.on or 'no day'}."
    if not compared.same_history:
        yield "The two are not one history: all of the register in place would be lost."
    told = ", ".join(f"{count} {words}" for words, count in compared.lost.items())
    yield f"Lost would be {compared.number} lines: {told or 'no whole rows, only changes'}."


def _asked_for(number: int) -> int:
    """Ask for the number that was shown; without a terminal only the option does."""
    if not sys.stdin.isatty():
        raise InputError(
            "Nobody is there to answer.", hint=f"Nothing was changed; --expect {number} goes ahead."
        )
    given: int = click.prompt("Type the number of lines to go ahead", type=NUMBER, err=True)
    return given
