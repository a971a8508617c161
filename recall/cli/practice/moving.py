"""`recall move-to`."""

from __future__ import annotations

from pathlib import Path

import click

from recall.cli.shared.common import by_whom, in_config, say, settings
from recall.cli.shared.signed import named_or_signed
from recall.errors import InputError


@click.command("move-to")
@click.argument("place")
@in_config
@by_whom
def move_to(place: str, config: Path | None, by: str | None) -> None:
    """Copy the register into an empty database and prove that it is the same.

    PLACE is written as in recall.toml: a new file, or an address of a PostgreSQL database. Close
    all desks and jobs. The old register is left as it was, and is not opened any more.
    """
    from recall.config import FILE_NAME
    from recall.desk.practice import moving

    practice = settings(config)
    who = (named_or_signed(practice, by) or "").strip()
    if not who:
        raise InputError("Nobody is named as acting.", hint="Add --by HANDLE.")
    folder = (config or Path(FILE_NAME)).absolute().parent
    done = moving.move_to(practice, moving.files_at(practice.files, place, folder), who)
    say(f"{sum(done.rows.values())} rows are in {done.new}.")
    say(
        f"Found equal in both: the rows of {len(done.rows)} tables, {done.lines} lines of the "
        f"history, link by link, and {done.asks} open asks as they stand on "
        f"{len(moving.SAMPLE)} days."
    )
    say(f"The old one, {done.old}, is left as it was; it is not opened any more.")
    say("Now write the new place as `database` in recall.toml.")
