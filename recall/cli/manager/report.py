"""`recall report` and `recall backup`."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import PAST_DAY, acting, desk, emit, emit_lines, in_config, say


@click.command()
@click.option(
    "--month", type=PAST_DAY, help="Any day of the month; the last whole one where left out."
)
@click.option("--appointments", type=click.IntRange(0), help="The practice's own count in it.")
@click.option("--csv", "as_table", is_flag=True, help="Print as CSV.")
@acting
def report(month: date | None, appointments: int | None, as_table: bool, **given: Any) -> None:
    """Print the register's month: how everybody stood, who came back in time, what was missed.

    With --appointments the visits on record are compared with the practice's own count, so that
    visits that never reached the register are noticed.
    """
    from datetime import timedelta

    from recall.desk.oversight.report import register_report
    from recall.desk.oversight.report_text import as_csv, as_text

    with opened(given, reading=True) as desk:
        day = month or desk.today.replace(day=1) - timedelta(days=1)
        found = register_report(desk, day, appointments)
        name = desk.config.practice.name
    if as_table:
        emit(as_csv(found))
    else:
        emit_lines(as_text(found, name))


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
