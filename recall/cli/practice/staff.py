"""`recall staff`: who acts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

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
from recall.config import ALL, Config, site_meant
from recall.errors import InputError

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


@dataclass(frozen=True)
class StaffOfSites(StaffLine):
    """The same where there are several sites."""

    works_for: str
    """The sites, with spaces between, or `all`; empty: their own."""


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
        rows = [_line(s, bool(practice.sites)) for s in everybody(store)]
    finally:
        store.close()
    if form:
        emit_data(form, StaffOfSites if practice.sites else StaffLine, rows)
        return
    for row in rows:
        left = f"left {row.left_on}" if row.left_on else ""
        parts = (row.role.replace("_", " "), row.title, row.registration, row.site, _for(row), left)
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
    practice = settings(config)
    site = site_meant(practice.sites, site)
    add(practice, StaffRow(0, handle, name, Role(role), title, registration, site), by)


@staff.command("sites")
@click.argument("handle")
@click.option("--own", help="Where they are: a site's handle or name; an empty one is nowhere.")
@click.option("--for", "named", multiple=True, metavar="SITE", help="A site they work for.")
@click.option("--for-all", "everywhere", is_flag=True, help="They work for all sites.")
@click.option("--for-own", "at_home", is_flag=True, help="They work for their own site alone.")
@in_config
@by_whom
def sites_command(
    handle: str, config: Path | None, by: str | None, own: str | None, **asked: Any
) -> None:
    """Say at which site somebody is and for which they work, where there are several.

    Lists show the people of the sites that somebody works for; a manager works for all until
    something else is said. With --for several times, they work for each.
    """
    from recall.desk.core.opening import open_register
    from recall.desk.practice.staff import set_sites

    practice = settings(config)
    store = open_register(practice.files)
    try:
        acting, clock = acting_handle(practice, store, by), Clock(practice.calendar.time_zone)
        if not practice.sites:
            hint = "Add [[sites]]: see config.example.toml."
            raise InputError("The configuration lists no sites.", hint=hint)
        own = None if own is None else site_meant(practice.sites, own)
        worked_for = _asked_for(practice, **asked)
        now = set_sites(store, clock, handle, own=own, sites=worked_for, by=acting)
    finally:
        store.close()
    at = f"at {now.site}" if now.site else "at no site of their own"
    does = f"works for {' and '.join(now.sites)}" if now.sites else "works for their own"
    say(f"{now.handle} is {at} and {does}.")


def _asked_for(
    practice: Config, named: tuple[str, ...], everywhere: bool, at_home: bool
) -> tuple[str, ...] | None:
    """Return the sites that the options name; None where none was given."""
    if bool(named) + everywhere + at_home > 1:
        raise InputError("Only one of --for, --for-all and --for-own can hold.")
    if everywhere:
        return (ALL,)
    if at_home:
        return ()
    return tuple(site_meant(practice.sites, one) for one in named) or None


def _line(member: StaffRow, of_sites: bool) -> StaffLine:
    named = (member.handle, member.name, member.role, member.title, member.registration)
    if not of_sites:
        return StaffLine(*named, member.site, member.left_on)
    return StaffOfSites(*named, member.site, member.left_on, " ".join(member.sites))


def _for(row: StaffLine) -> str:
    sites = row.works_for.split() if isinstance(row, StaffOfSites) else []
    return f"works for {' and '.join(sites)}" if sites else ""


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
