"""What `recall person` changes or ends by the number on the card; and who looked at it."""

from __future__ import annotations

from typing import Any
from zoneinfo import ZoneInfo

import click

from recall.cli.people.held import HELD
from recall.cli.shared.acts import act, opened
from recall.cli.shared.common import acting, as_data, emit_data, emit_lines, say
from recall.cli.shared.numbers import NUMBER
from recall.cli.shared.whose import emit_whose

_number = click.argument("number", type=NUMBER)
_why = click.option("--why", required=True, help="In words.")


@click.command("reach-change")
@_number
@click.option("--safe", type=click.Choice(["yes", "only_this", "no"]))
@click.option("--label", help="home, work, …")
@click.option("--checked", is_flag=True, help="It was checked today.")
@acting
def reach_change(number: int, **given: Any) -> None:
    """Change a way to reach them, by its NUMBER on the card."""
    from recall.desk.contacts.contact_points import edit_contact_point

    changed = {name: given.pop(name) for name in ("safe", "label", "checked")}
    act(given, lambda d: edit_contact_point(d, number, **changed))


@click.command("reach-ended")
@_number
@_why
@acting
def reach_ended(number: int, why: str, **given: Any) -> None:
    """Record that a number or address is right no longer, by its NUMBER on the card."""
    from recall.desk.contacts.contact_points import end_contact_point

    act(given, lambda d: end_contact_point(d, number, why))


@click.command("adult-ended")
@_number
@_why
@acting
def adult_ended(number: int, why: str, **given: Any) -> None:
    """Record that somebody answers for them no longer, by the NUMBER on the card."""
    from recall.desk.people.editing import end_adult

    act(given, lambda d: end_adult(d, number, why))


@click.command("risk-ended")
@_number
@_why
@click.option("--until", help="The day or month until which it held; else it was never so.")
@acting
def risk_ended(number: int, why: str, until: str | None, **given: Any) -> None:
    """Record that a risk is one no longer, by its NUMBER on the card."""
    from recall.desk.people.editing import end_risk

    act(given, lambda d: end_risk(d, number, why, until))


@click.command()
@click.argument("ref")
@click.option("--language", help="en, cy, ur and the like.")
@click.option("--letters", "format", help="standard, large, email or spoken.")
@click.option("--before-contact", "caller_note", help="What whoever rings must know first.")
@click.option("--site", help="The site they belong to, where there are several; empty: all.")
@acting
def details(ref: str, **given: Any) -> None:
    """Change the language, the form of letters, what to know before ringing."""
    from recall.desk.people.editing import edit_details

    asked = {name: given.pop(name) for name in ("language", "format", "caller_note", "site")}
    changed = {name: value for name, value in asked.items() if value is not None}
    act(given, lambda d: edit_details(d, ref, None, **changed))


@click.command("looked")
@click.argument("ref")
@acting
@as_data
def looked(ref: str, form: str | None, **given: Any) -> None:
    """Tell who opened their record, when and from where; for them, on request."""
    from recall.desk.people.looked_at import Look, who_looked

    with opened(given, reading=True) as desk:
        zone, looks, signed = ZoneInfo(desk.clock.zone), who_looked(desk, ref), desk.is_signed
        if not form:
            emit_whose(desk, ref)
    if form:
        emit_data(form, Look, looks)
        return
    for each in looks:
        role = each.role.replace("_", " ")
        at = each.at.astimezone(zone)
        emit_lines(f"{at:%Y-%m-%d %H:%M} {each.by} {each.name} ({role}), {each.place}")
    if not signed:
        say("Nobody signs in here, so that looks are not written down.")


CHANGES = (reach_change, reach_ended, adult_ended, risk_ended, details, looked, *HELD)
