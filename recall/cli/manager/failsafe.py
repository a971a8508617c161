"""`recall failsafe` and `recall history verify`: does anybody fall out, is the history whole."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import opened
from recall.cli.shared.common import CONTEXT, acting, as_data, emit, emit_data, emit_lines, say
from recall.errors import StorageError

if TYPE_CHECKING:
    from recall.desk.oversight.failsafe import Report


@click.command()
@click.option("--last", is_flag=True, help="Show what the last pass found, and look at nothing.")
@acting
@as_data
def failsafe(last: bool, form: str | None, **given: Any) -> None:
    """Go over the whole register, with nothing trusted, for whoever would fall out."""
    from recall.desk.oversight import failsafe as desk_failsafe

    with opened(given, reading=last) as desk:
        report = desk_failsafe.last(desk) if last else desk_failsafe.run(desk)
    if report is None:
        say("The failsafe has never run.")
        return
    if form:
        rows = report.findings
        emit_data(form, desk_failsafe.Finding, rows)
        return
    _print(report)


def _print(report: Report) -> None:
    emit(f"{report.on}: {report.people} people looked at, {len(report.findings)} found.\n")
    for finding in report.findings:
        whose = f"person {finding.person_id}, " if finding.person_id else ""
        kind = finding.kind.replace("_", " ")
        entity = finding.entity.replace("_", " ")
        emit_lines(f"{kind}: {whose}{entity} {finding.entity_id}. {finding.says}")


@click.group(context_settings=CONTEXT)
def history() -> None:
    """The history of every change."""


@history.command()
@acting
def verify(**given: Any) -> None:
    """Check that no line of the history was changed or is missing."""
    from recall.records.journal.history import verify as broken_places

    with opened(given, reading=True) as desk:
        broken = broken_places(desk.store)
    for place in broken:
        emit_lines(f"{place.seq}: {place.because}")
    if broken:
        raise StorageError(
            f"The history is broken in {len(broken)} place(s).",
            hint="Keep the file aside, and compare with the last backup.",
        )
    say("The history is whole.")
