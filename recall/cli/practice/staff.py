"""`recall staff`: who acts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import click

from recall.cli.shared.common import (
    CONTEXT,
    DAY,
    as_data,
    by_whom,
    emit_data,
    emit_lines,
    in_config,
    say,
    settings,
)
from recall.cli.shared.signed import acting_handle
from recall.clock import Clock
from recall.config import Config

if TYPE_CHECKING:
    from recall.desk.core.session import StaffRow

ROLES = ("reception", "practitioner", "clinical_lead", "manager")


@dataclass(frozen=True)
class StaffLine:
    """One member of staff, as listed."""

    handle: str
    name: str
    role: str
    title: str
    registration: str
    site: str
    left_on: date | None


@click.group(context_settings=CONTEXT)
def staff() -> None:
    """Who acts, and in which role. `recall manual manager` says what each role may do."""


@staff.command("list")
@in_config
@as_data
def list_(config: Path | None, form: str | None) -> None:
    """List everybody, those who have left included."""
    from recall.desk.core.opening import open_register
    from recall.desk.core.session import staff as everybody

    practice = settings(config)
    store = open_register(practice.files)
    try:
        acting_handle(practice, store, None)
        rows = [
            StaffLine(s.handle, s.name, s.role, s.title, s.registration, s.site, s.left_on)
            for s in everybody(store)
        ]
    finally:
        store.close()
    if form:
        emit_data(form, StaffLine, rows)
        return
    for row in rows:
        left = f"left {row.left_on}" if row.left_on else ""
        parts = (row.role.replace("_", " "), row.title, row.registration, row.site, left)
        more = ", ".join(filter(None, parts))
        emit_lines(f"{row.handle:<12} {row.name} ({more})")


@staff.command("add")
@click.argument("handle")
@click.option("--name", required=True, help="As it is to be shown.")
@click.option("--role", type=click.Choice(ROLES), required=True, help="What they may do.")
@click.option("--title", default="", help="What they sign with, such as their profession.")
@click.option("--registration", default="", help="With whom and under which number.")
@click.option("--site", default="", help="Where they work, where there are several sites.")
@in_config
@by_whom
def add_command(
    handle: str, config: Path | None, by: str | None, name: str, role: str, **details: str
) -> None:
    """Add somebody under a short HANDLE, which they give as --by."""
    from recall.desk.core.rights import Role
    from recall.desk.core.session import StaffRow

    title, registration, site = (details[each] for each in ("title", "registration", "site"))
    add(settings(config), StaffRow(0, handle, name, Role(role), title, registration, site), by)


@staff.command("left")
@click.argument("handle")
@click.option("--on", type=DAY, help="The day; today where left out.")
@click.option("--to", default="", metavar="HANDLE", help="Who takes over what they see to.")
@in_config
@by_whom
def left(handle: str, on: date | None, to: str, config: Path | None, by: str | None) -> None:
    """Record that somebody has left.

    Their open matters go to whoever is named, or to all who have their role; their decisions
    and referrals go to the manager's list.
    """
    from recall.desk.core.opening import open_register
    from recall.desk.practice.staff import mark_left

    practice = settings(config)
    clock = Clock(practice.calendar.time_zone)
    store = open_register(practice.files)
    try:
        acting = acting_handle(practice, store, by)
        went = mark_left(store, clock, handle.lower(), on or clock.today(), by=acting, to=to)
    finally:
        store.close()
    say(f"{handle} has left.")
    if went:
        say(f"Matters handed over to {to or 'whoever has the same role'}: {went}.")


def add(practice: Config, member: StaffRow, by: str | None) -> None:
    """Add somebody and say so."""
    from recall.desk.core.opening import open_register
    from recall.desk.practice.staff import add_staff

    store = open_register(practice.files)
    try:
        new = add_staff(
            store,
            Clock(practice.calendar.time_zone),
            member,
            by=acting_handle(practice, store, by, first=True),
        )
    finally:
        store.close()
    say(f"{member.handle.lower()} was {'added' if new else 'there already'}.")
