"""`recall staff`: who acts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path

import click

from recall.cli.shared.common import CONTEXT, DAY, as_data, by_whom, emit, in_config, say, settings
from recall.clock import Clock
from recall.config import Config

ROLES = ("clinician", "practitioner", "reception", "manager", "other")


@dataclass(frozen=True)
class StaffLine:
    """One member of staff, as listed."""

    handle: str
    name: str
    role: str
    may_decide: bool
    left_on: date | None


@click.group(context_settings=CONTEXT)
def staff() -> None:
    """Who acts. Everybody who may decide can close, override and confirm."""


@staff.command("list")
@in_config
@as_data
def list_(config: Path | None, form: str | None) -> None:
    """List everybody, those who have left included."""
    from recall.desk.core.session import staff as everybody
    from recall.exchange.out import to_csv, to_json
    from recall.records.database.store import open_store

    store = open_store(settings(config).files.database)
    rows = [StaffLine(s.handle, s.name, s.role, s.may_decide, s.left_on) for s in everybody(store)]
    store.close()
    if form:
        emit(to_csv(StaffLine, rows) if form == "csv" else to_json(rows))
        return
    for row in rows:
        decides = "may decide" if row.may_decide else ""
        left = f"left {row.left_on}" if row.left_on else ""
        more = ", ".join(filter(None, (row.role, decides, left)))
        emit(f"{row.handle:<12} {row.name} ({more})\n")


@staff.command("add")
@click.argument("handle")
@click.option("--name", required=True, help="As it is to be shown.")
@click.option("--role", type=click.Choice(ROLES), default="other", show_default=True)
@click.option("--may-decide", is_flag=True, help="May confirm, override and close.")
@in_config
@by_whom
def add_command(
    handle: str, name: str, role: str, may_decide: bool, config: Path | None, by: str | None
) -> None:
    """Add somebody under a short HANDLE, which they give as --by."""
    add(settings(config), handle, name, role, may_decide, by)


@staff.command("left")
@click.argument("handle")
@click.option("--on", type=DAY, help="The day; today where left out.")
@in_config
@by_whom
def left(handle: str, on: date | None, config: Path | None, by: str | None) -> None:
    """Record that somebody has left. What waits for them goes to the manager's list."""
    from recall.desk.practice.staff import mark_left
    from recall.records.database.store import open_store

    practice = settings(config)
    clock = Clock(practice.calendar.time_zone)
    store = open_store(practice.files.database)
    try:
        mark_left(
            store, clock, handle.lower(), on or clock.today(), by=by or practice.staff.default
        )
    finally:
        store.close()
    say(f"{handle} has left.")


def add(
    practice: Config, handle: str, name: str, role: str, may_decide: bool, by: str | None
) -> None:
    """Add somebody and say so."""
    from recall.desk.core.session import StaffRow
    from recall.desk.practice.staff import add_staff
    from recall.records.database.store import open_store

    store = open_store(practice.files.database)
    try:
        new = add_staff(
            store,
            Clock(practice.calendar.time_zone),
            StaffRow(0, handle, name, role, may_decide),
            by=by or practice.staff.default or None,
        )
    finally:
        store.close()
    say(f"{handle.lower()} was {'added' if new else 'there already'}.")
