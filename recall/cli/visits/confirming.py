"""`recall confirm`: a clinician confirms plans that wait, after seeing counts and samples."""

from __future__ import annotations

from textwrap import fill
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import WIDTH, acting, as_data, at_site, emit, emit_data, say
from recall.cli.shared.numbers import AtLeast
from recall.cli.shared.whose import emit_whose
from recall.schedule.calendar import say_day

if TYPE_CHECKING:
    from recall.desk.plans.confirming import PlanLine, Waiting

SHOWN = 5


@click.command()
@click.argument("references", nargs=-1, metavar="[PERSON]...")
@click.option("--list", "listing", is_flag=True, help="Show each plan, the most pressing first.")
@click.option("--limit", type=AtLeast(1), default=20, show_default=True)
@click.option("--all", "everything", is_flag=True, help="Confirm all; needs --expect.")
@click.option("--expect", type=AtLeast(0), help="How many visits were shown to wait.")
@click.option("--alarms", type=AtLeast(0), help="Of how many people notes hold words of alarm.")
@at_site
@as_data
@acting
def confirm(
    references: tuple[str, ...],
    listing: bool,
    limit: int,
    everything: bool,
    expect: int | None,
    form: str | None,
    **given: Any,
) -> None:
    """Confirm the plans that wait for a clinician; no letter is made before.

    Without anything it shows what waits. PERSON confirms by reference, one or several;
    --all --expect N confirms everything, if it is still the N visits that were shown;
    with --alarms N, where notes of N people hold words of alarm and were read.
    Only somebody who may decide can confirm.
    """
    from recall.desk.plans import confirming

    if everything and (expect is None or references):
        raise click.UsageError("--all needs --expect N, the number that was shown, and no PERSON")
    acts, alarms = bool(everything or (references and not listing)), given.pop("alarms")
    with opened(given, reading=not acts) as desk:
        if everything:
            done = confirming.confirm_all(desk, expect or 0, alarms or 0)
        elif acts:
            done = confirming.confirm_people(desk, references)
            for each in references:
                emit_whose(desk, each)
        elif listing or form:
            _plans(confirming.plans(desk, limit, references or None), form)
            return
        else:
            emit(_counts(confirming.waiting(desk)))
            return
        say(f"Confirmed by {desk.by.name}: {done:,} visits.")


def _plans(plans: tuple[PlanLine, ...], form: str | None) -> None:
    from recall.desk.plans.confirming import PlanLine

    if form:
        emit_data(form, PlanLine, plans)
        return
    for plan in plans:
        emit(_plan(plan) + "\n")
    say("Confirm one: recall confirm PERSON. All: recall confirm --all --expect N.")


def _plan(plan: PlanLine) -> str:
    head = (
        f"{plan.reference}  {plan.name}  born {say_day(plan.born)}  "
        f"{plan.visits} visits, the last on {say_day(plan.last_visit_on)}"
    )
    lines = [fill(head, WIDTH, subsequent_indent="   ")]
    for ask in plan.asks:
        mark = f" ({ask.rule}; {ask.known_by})" if ask.rule else ""
        text = f"{ask.urgency}, {ask.ear} ear, {ask.earliest} to {ask.latest}: {ask.says}{mark}"
        lines.append(fill(text, WIDTH, initial_indent="   ", subsequent_indent="      "))
    if not plan.asks:
        lines.append("   Nothing is open.")
    if plan.alarm:
        lines.append(fill(f"! A note speaks of {plan.alarm}.", WIDTH, initial_indent="   "))
    for note in plan.notes:
        words = f"Note: {' '.join(note.split())}"
        lines.append(fill(words, WIDTH, initial_indent="   ", subsequent_indent="      "))
    return "\n".join(lines) + "\n"


def _counts(found: Waiting) -> str:
    if not found.visits:
        return "Nothing waits to be confirmed.\n"
    lines = [f"{found.visits:,} visits of {found.people:,} people wait to be confirmed."]
    if found.to_plan:
        lines.append(f"{found.to_plan:,} people are not planned yet: recall replan.")
    if found.alarms:
        shown = ", ".join(found.alarms[:SHOWN])
        more = f" and {len(found.alarms) - SHOWN:,} more" if len(found.alarms) > SHOWN else ""
        lines.append(f"! Words of alarm stand in the notes of {shown}{more}: look there first.")
    lines += ["", f"{'urgency':<10} {'category':<17} {'asks':>6} {'late':>6}  for example"]
    for group in found.groups:
        name = group.category.replace("_", " ")
        lines.append(
            f"{group.urgency:<10} {name:<17} {group.asks:>6,} {group.late:>6,}  "
            f"{', '.join(group.samples)}"
        )
    alarms = f" --alarms {len(found.alarms)}" if found.alarms else ""
    lines += [
        "",
        "See each plan: recall confirm --list. One: recall confirm PERSON.",
        f"All of them: recall confirm --all --expect {found.visits}{alarms}",
    ]
    return "\n".join(lines) + "\n"
