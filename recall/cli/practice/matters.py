"""`recall matters`: what somebody has to see to that is no recall."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import ListFirst, act, opened
from recall.cli.shared.common import (
    CONTEXT,
    DAY,
    acting,
    as_data,
    at_site,
    days,
    emit,
    emit_data,
    emit_lines,
)
from recall.cli.shared.numbers import NUMBER
from recall.loop.matters import BY_HAND
from recall.schedule.calendar import say_day

if TYPE_CHECKING:
    from recall.desk.worklists.matter_list import Answered, MatterLine

NOBODY = "-"
"""In the place of a reference: it is about nobody in the register."""
_number = click.argument("number", metavar="MATTER", type=NUMBER)
_due = click.option("--due", type=DAY, help="By when, as YYYY-MM-DD.")


def _word(text: str) -> str:
    return text.replace("-", "_")


@click.group(cls=ListFirst, context_settings=CONTEXT)
def matters() -> None:
    """Interpreters, complaints, incidents, messages: whose they are, by when, how they end."""


@matters.command("list")
@click.option("--all", "everybody", is_flag=True, help="Everybody's, not only your own.")
@at_site
@acting
@as_data
def list_(everybody: bool, form: str | None, **given: Any) -> None:
    """List what is yours to see to, the longest due first; then what was answered to you."""
    from recall.desk.worklists.matter_list import MatterLine, answered_lately
    from recall.desk.worklists.matter_list import matters as rows_of

    with opened(given, reading=True) as desk:
        rows, today, who = rows_of(desk, everybody=everybody), desk.today, desk.by.handle
        answered = answered_lately(desk)
    if form:
        emit_data(form, MatterLine, rows)
        return
    whose = "Everybody's matters" if everybody else f"Matters for {who}"
    emit(f"{whose} on {say_day(today, weekday=True)}: {len(rows)}\n")
    for row in rows:
        emit_lines("\n" + text_of(row, today))
    for each in answered:
        emit_lines("\n" + answer_of(each))


@matters.command()
@click.argument("kind", type=click.Choice(BY_HAND))
@click.argument("ref")
@click.argument("text", nargs=-1, required=True)
@click.option("--for", "owner", default="", metavar="WHO", help="A handle or a role.")
@_due
@acting
def add(
    kind: str, ref: str, text: tuple[str, ...], owner: str, due: date | None, **given: Any
) -> None:
    """Write a matter of a KIND down about REF; a dash for nobody in the register."""
    from recall.desk.practice.matters import Entry, write_down

    entry = Entry(kind, " ".join(text), owner, due)
    act(given, lambda d: write_down(d, None if ref == NOBODY else ref, entry))


@matters.command("pass")
@_number
@click.argument("to", metavar="WHO")
@_due
@click.option("--why", default="", help="In words.")
@acting
def pass_(number: int, to: str, due: date | None, why: str, **given: Any) -> None:
    """Pass a matter to WHO: a handle, or a role such as clinical-lead."""
    from recall.desk.practice.matters import pass_on

    act(given, lambda d: pass_on(d, number, to, due=due, why=why))


@matters.command()
@_number
@click.argument("how", type=_word, metavar="HOW")
@click.option("--text", default="", help="The answer, or what was found.")
@acting
def close(number: int, how: str, text: str, **given: Any) -> None:
    """Close a matter: booked, answered, tell-them, looked-into, done, not-needed and others."""
    from recall.desk.practice.matters import close as ended

    act(given, lambda d: ended(d, number, how, text))


def answer_of(row: Answered) -> str:
    """Return what was answered to something that one wrote down, as a few lines."""
    how = f"{row.closed} by {row.closed_by} on {say_day(row.closed_on)}"
    about = [f"    {row.reference}  {row.name}"] if row.reference else []
    told = [f"    {row.answer}"] if row.answer else []
    asked = "    you wrote: " + " ".join(row.text.split())
    return "\n".join([f"[{row.number}] {row.title}: {how}", *about, *told, asked])


def text_of(row: MatterLine, today: date) -> str:
    """Return a matter as a few lines."""
    late = f", {days(row.late_by_days)} late" if row.late_by_days else ""
    due = f"by {say_day(row.due_on, weekday=True)}{late}, for {row.owner}"
    lines = [f"[{row.number}] {row.title}: {due}"]
    if row.reference:
        born = f", born {say_day(row.born)}" if row.born else ""
        lines.append(f"    {row.reference}  {row.name}{born}, {row.postcode or 'no postcode'}")
    lines.append("    " + " ".join(row.text.split()))
    if row.contact_stopped:
        lines.append(f"    ! {row.contact_stopped}")
    elif row.ring:
        lines.append(f"    ask for {row.ask_for}, {row.ring}")
    lines.append(f"    taken by {row.taken_by} on {say_day(row.taken_on)}")
    return "\n".join(lines)
