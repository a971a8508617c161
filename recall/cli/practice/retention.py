"""`recall retention`: whose record has been kept as long as the rules ask."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import FILE, acting, as_data, emit_data, emit_lines, say
from recall.schedule.calendar import say_day


@click.command()
@click.option("--rules", type=FILE, help="The practice's own rules, which outrank the published.")
@acting
@as_data
def retention(rules: Path | None, form: str | None, **given: Any) -> None:
    """List whose record has been kept as long as the rules ask; nothing is erased by it.

    Nobody for whom something is open is on it. Before anybody is erased, look whether the
    record has to be kept all the same: local policy, a claim, an inquiry, safeguarding.
    """
    from recall.desk.practice.retention import KeptLongEnough, kept_long_enough

    with opened(given) as desk:
        rows = kept_long_enough(desk, rules)
    if form:
        emit_data(form, KeptLongEnough, rows)
        return
    for row in rows:
        emit_lines(f"{row.reference}  {row.name}, born {say_day(row.born)}")
        emit_lines(f"    last entry {say_day(row.last)}, kept until {say_day(row.kept_until)}")
        emit_lines(f"    {row.rule}")
    say(f"{len(rows)} records have been kept as long as the rules ask. Nothing was erased.")
