"""`recall protocol audit` and `what-if`: learn from the register what a rule costs and finds."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from recall.cli.protocol.protocols import protocol
from recall.cli.shared.acts import opened
from recall.cli.shared.common import FILE, PAST_DAY, acting, as_data, emit, emit_data, say
from recall.protocol.loading import load
from recall.schedule.calendar import say_day

if TYPE_CHECKING:
    from recall.desk.oversight.rule_audit import RuleLine
    from recall.desk.oversight.what_if import TakenOver, WhatIf

SHOWN = 20
"""How many findings that would come later are named before the rest is counted."""
_HEAD = f"{'rule':<31}{'asked':>6}{'looked':>7}{'found':>6}  {'share':<15}{'ended':>6}"


@protocol.command()
@click.option("--since", type=PAST_DAY, help="Only what was asked for since a day.")
@as_data
@acting
def audit(since: date | None, form: str | None, **given: Any) -> None:
    """Say what each rule asked for, and what came of it."""
    from recall.desk.oversight.rule_audit import RuleLine
    from recall.desk.oversight.rule_audit import audit as count

    with opened(given, reading=True) as desk:
        lines = count(desk, since or date.min)
    if form is not None:
        emit_data(form, RuleLine, lines)
        return
    emit(_HEAD + "\n")
    for line in lines:
        emit("\n".join(_told(line)) + "\n")
    say(f"{len(lines)} rules asked for something. Found: what was looked for was there.")


def _told(line: RuleLine) -> list[str]:
    share = ""
    if line.looked:
        low, high = round(100 * line.low), round(100 * line.high)
        share = f"{100 * line.found / line.looked:.0f}% ({low} to {high}%)"
    counts = f"{line.asked:>6}{line.looked:>7}{line.found:>6}  {share:<15}{line.struck:>6}"
    told = [f"{line.rule:<31}{counts}" if line.asked else line.rule]
    if line.referred:
        told.append(
            f"    referrals {line.referred}: sent {line.sent}, seen {line.seen},"
            f" result {line.results}, groundless {line.groundless}"
        )
    if line.struck_why:
        told.append(f"    ended by name: {line.struck_why}")
    return told


@protocol.command(name="what-if")
@click.argument("file", type=FILE)
@as_data
@acting
def what_if_(file: Path, form: str | None, **given: Any) -> None:
    """Say what a changed protocol would have cost and found in the register's own history."""
    from recall.cli.shared.progress import Progress
    from recall.desk.oversight.what_if import Delay, what_if

    ticks = Progress("Going over")
    with opened(given, reading=True) as desk:
        found = what_if(desk, load(file), ticks)
    ticks.end()
    if form is not None:
        emit_data(form, Delay, found.delays)
        return
    parts = (_rates(found), _tracks(found), _taken_over(found), _delays(found))
    emit("\n\n".join("\n".join(lines) for lines in parts if lines) + "\n")
    say("Nothing was changed. What was never found cannot be counted here.")


def _rates(found: WhatIf) -> list[str]:
    lines = [f"{found.people} people over {found.years:.1f} years. In a year:"]
    for rate in found.rates:
        change = f"{rate.more:+.0f}" if round(rate.more) else "no change"
        lines.append(f"  {rate.what:<31}{rate.now:>7.0f} -> {rate.would_be:>5.0f}  {change}")
    return lines


def _tracks(found: WhatIf) -> list[str]:
    lines = ["Findings that were made, and the look that the rules wanted before:"]
    for row in found.tracks:
        moves = [
            f"{count} {words}"
            for count, words in (
                (row.earlier, "earlier"),
                (row.later, f"later (up to {row.longest_days} days)"),
                (row.never, "not asked any more"),
                (row.anew, "asked anew"),
            )
            if count
        ]
        told = ", ".join(moves) or "no change"
        lines.append(f"  {row.track.replace('_', ' '):<14}{row.found:>5}: {told}")
    return lines


def _taken_over(found: WhatIf) -> list[str]:
    """Return which rule asks in the place of which, and when."""
    lines = ["Another rule asks for the look, or another service sees the ear:"]
    for each in found.taken_over[:SHOWN]:
        lines.append(f"  {each.rule} -> {each.instead.replace('_', ' ')}")
        lines.append(f"      {_findings(each.findings)}, {_when(each)}")
    if len(found.taken_over) > SHOWN:
        lines.append(f"  and {len(found.taken_over) - SHOWN} more.")
    return lines if found.taken_over else []


def _findings(count: int) -> str:
    return f"{count} findings" if count > 1 else "1 finding"


def _when(each: TakenOver) -> str:
    """Return how much later another rule asks, from the least to the most.

    >>> from recall.desk.oversight.what_if import TakenOver
    >>> _when(TakenOver("a", "b", 2, -3, 4)), _when(TakenOver("a", "ent", 2, None, None))
    ('3 days earlier to 4 days later', 'no look here')
    """
    if each.soonest_days is None or each.latest_days is None:
        return "no look here"
    ends = dict.fromkeys((_days(each.soonest_days), _days(each.latest_days)))
    return " to ".join(ends)


def _days(days: int) -> str:
    if not days:
        return "the same day"
    return f"{abs(days)} {'day' if abs(days) == 1 else 'days'} {'later' if days > 0 else 'earlier'}"


def _delays(found: WhatIf) -> list[str]:
    if not found.delays:
        return ["Nothing that was found would have been looked for later."]
    lines = ["Would have been looked for later, the worst first:"]
    for d in found.delays[:SHOWN]:
        later = f"{d.days} days later" if d.days is not None else "not asked for"
        lines.append(
            f"  {d.reference:<10} {d.name[:18]:<18} {d.ear:<5} {d.finding[:22]:<22} {later}"
        )
        if d.instead and d.instead != d.asked_by:
            by = f" by {say_day(d.seen_by)}" if d.seen_by else ""
            lines.append(f"      {d.asked_by}, then {d.instead.replace('_', ' ')}{by}")
    if len(found.delays) > SHOWN:
        lines.append(f"  and {len(found.delays) - SHOWN} more: --csv lists all.")
    return lines
