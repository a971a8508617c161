"""`recall failsafe` and `recall history verify`: does anybody fall out, is the history whole."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import CONTEXT, acting, as_data, emit, emit_data, emit_lines, say
from recall.errors import StorageError

if TYPE_CHECKING:
    from recall.desk.oversight.checked import Checked


@click.command()
@click.option("--last", is_flag=True, help="Show what the last pass found, and look at nothing.")
@click.option("--backlog", is_flag=True, help="List the backlog too, not only its counts.")
@acting
@as_data
def failsafe(last: bool, backlog: bool, form: str | None, **given: Any) -> None:
    """Go over the whole register, with nothing trusted, for whoever would fall out.

    What must never be is listed, one by one. Backlog is work that is late on somebody's list: it
    is counted, with what is new since the check before and what has gone.
    """
    from recall.desk.oversight import checked as desk_checked
    from recall.desk.oversight import failsafe as desk_failsafe

    with opened(given, reading=last) as desk:
        if not last:
            desk_failsafe.run(desk)
        found = desk_checked.checked(desk)
    if found.on is None:
        say("The failsafe has never run.")
    elif form:
        emit_data(form, desk_checked.FindingLine, found.lines)
    else:
        _print(found, backlog)


def _print(found: Checked, backlog: bool) -> None:
    new = sum(line.is_new for line in found.breaks)
    emit(f"{found.on}: {found.people} people looked at.\n")
    emit_lines(
        f"{len(found.breaks)} that must never be ({new} new, {found.gone} gone since the check"
        f" before); {len(found.backlog)} of backlog."
    )
    for line in found.lines if backlog else found.shown:
        if not line.reference and line.entity == "backlog":
            emit_lines(line.says)
            continue
        whose = f"{line.reference} {line.name}, " if line.reference else ""
        urgency = f"{line.urgency}, " if line.urgency else ""
        what = f"{line.entity.replace('_', ' ')} {line.entity_id}"
        emit_lines(f"{line.kind.replace('_', ' ')}: {whose}{urgency}{what}. {line.says}")


@click.group(context_settings=CONTEXT)
def history() -> None:
    """The history of every change."""


@history.command()
@acting
def verify(**given: Any) -> None:
    """Check that no line of the history was changed or is missing."""
    from recall.records.journal.history import Broken
    from recall.records.journal.history import erased as erased_lines
    from recall.records.journal.history import verify as broken_places

    with opened(given, reading=True) as desk:
        broken, erased = broken_places(desk.store), erased_lines(desk.store)
    if desk.alarm:
        broken = (*broken, Broken(0, desk.alarm))
    for place in broken:
        emit_lines(f"{place.seq}: {place.because}")
    if broken:
        raise StorageError(
            f"The history is broken in {len(broken)} place(s).",
            hint="Keep the file aside, and compare with the last backup.",
        )
    say("The history is whole.")
    if erased:
        say(f"Of {erased} lines only that they were there is left: what they said was erased.")
