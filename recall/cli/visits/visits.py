"""`recall close`, `correct`, `void`: a visit is closed, put right, or taken out."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

import click

from recall.care.case import Category, Visit
from recall.care.ear import SIDES
from recall.cli.shared.common import DAY, acting, agreed, desk, emit, read_bytes, say
from recall.cli.visits.plan_text import plan_text

if TYPE_CHECKING:
    from recall.desk.core.session import Desk
    from recall.desk.visits.drafts import Draft

_yes = click.option("--yes", is_flag=True, help="Accept the plan without being asked.")
_looked = click.option("--looked", is_flag=True, help="Every question was looked at.")
_findings = click.option(
    "--findings", metavar="FILE", help="The visit as in a case file, as JSON; - for stdin."
)
_category = click.option("--category", type=click.Choice(get_args(Category)))
_ear = click.option("--ear", "ears", multiple=True, type=click.Choice(SIDES))
_note = click.option("--note", help="Free words; searched for signs that press.")


_arranged = click.option(
    "--arranged-with", metavar="NAME", help="With whom an emergency was arranged by phone."
)


def _visit_options(command: Any) -> Any:
    return acting(_arranged(_yes(_looked(_findings(_category(_ear(_note(command))))))))


@click.command()
@click.argument("person", metavar="REF")
@click.option("--visit-on", type=DAY, help="The day of the visit, where it is not today.")
@click.option("--ref", "own_ref", help="The practice's own reference of the visit.")
@_visit_options
def close(
    person: str,
    visit_on: date | None,
    own_ref: str | None,
    findings: str | None,
    category: Category | None,
    ears: tuple[Any, ...],
    note: str | None,
    yes: bool,
    looked: bool,
    arranged_with: str | None,
    config: Path | None,
    by: str | None,
    on: date | None,
) -> None:
    """Close a visit of the person REF: with findings, or with a category alone.

    Shows the plan before it is accepted. An older visit plans the person again from that day.
    """
    from recall.desk.visits.closing import draft

    with desk(config, by, on) as opened:
        visit = _read(opened, person, findings, visit_on or opened.today)
        given = draft(opened, person, visit, category, note or "", ears=ears, ref=own_ref or None)
        _close(opened, given, yes, looked, arranged_with or "")


@click.command()
@click.argument("visit_ref", metavar="VISIT")
@_visit_options
def correct(
    visit_ref: str,
    findings: str | None,
    category: Category | None,
    ears: tuple[Any, ...],
    note: str | None,
    yes: bool,
    looked: bool,
    arranged_with: str | None,
    config: Path | None,
    by: str | None,
    on: date | None,
) -> None:
    """Put the VISIT right: its reference, or #number. What is left out stays as it was."""
    from recall.desk.visits.closing import correction, find_visit

    given = {"category": category, "ears": ears or None, "notes": note}
    with desk(config, by, on) as opened:
        number, old, person = find_visit(opened, visit_ref)
        visit = _read(opened, person, findings, old.on) if findings else old
        more = {name: value for name, value in given.items() if value is not None}
        made = correction(opened, number, visit, **more)
        _close(opened, made, yes, looked, arranged_with or "")


@click.command()
@click.argument("visit_ref", metavar="VISIT")
@click.option("--why", required=True, help="The reason; it stays with the visit.")
@_yes
@acting
def void(
    visit_ref: str, why: str, yes: bool, config: Path | None, by: str | None, on: date | None
) -> None:
    """Take a VISIT out that should not be there. The row stays, with the reason."""
    from recall.desk.visits.closing import find_visit, void_visit

    with desk(config, by, on) as opened:
        number, visit, person = find_visit(opened, visit_ref)
        if agreed(f"Void the visit of {person} on {visit.on}?", yes):
            say(void_visit(opened, number, why).words)


def _read(opened: Desk, person: str, findings: str | None, on: date) -> Visit:
    """Return the visit of a file; its day may be left out."""
    from recall.desk.visits.closing import read_visit

    if findings is None:
        return Visit(on=on)
    return read_visit(opened, person, read_bytes(findings), on)


def _close(opened: Desk, given: Draft, yes: bool, looked: bool, arranged: str) -> None:
    """Show the plan and the questions, ask, and store."""
    from recall.desk.visits.closing import close_visit

    emit(plan_text(given.plan))
    if given.category is None and given.suggested:
        say(f"Category: {given.suggested.replace('_', ' ')}.")
    for question in given.questions:
        say(f"? {question.says}")
    if given.questions and not looked:
        looked = agreed("Did you look at this again?", False, "--looked")
    if not agreed("Close the visit with this plan?", yes):
        say("Not closed; nothing was changed.")
        return
    done = close_visit(opened, given, acknowledged=looked, arranged_with=arranged)
    say(done.words)
