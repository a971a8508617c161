"""`recall appointments`: who comes on a day, on the screen, on paper and as a file."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

import click

from recall.cli.shared.acts import act, opened
from recall.cli.shared.common import DAY, acting, as_data, at_site, emit, emit_data, emit_lines
from recall.cli.shared.numbers import AtLeast
from recall.schedule.calendar import say_day

if TYPE_CHECKING:
    from recall.desk.worklists.appointments import AppointmentRow


@click.command()
@click.option("--day", "which", type=DAY, help="Which day; today where left out.")
@click.option("--print", "on_paper", is_flag=True, help="Make a PDF in the letters folder.")
@click.option("--reminders", is_flag=True, help="Write the file for whatever sends reminders.")
@click.option(
    "--diary",
    type=AtLeast(0),
    metavar="COUNT",
    help="Say how many the practice's own diary has for the day.",
)
@click.option("--clinical", is_flag=True, help="Say what to mind and what was found.")
@at_site
@acting
@as_data
def appointments(
    form: str | None,
    which: date | None,
    on_paper: bool,
    reminders: bool,
    diary: int | None,
    clinical: bool,
    **given: Any,
) -> None:
    """List a day's appointments: when, with whom, what to know, who came.

    What to mind before the ear is treated is for whoever examines it, and on the paper.

    The number in square brackets is the one that recall booking takes. Where the practice's own
    diary has another number than --diary said, Today says so until they agree.
    """
    from recall.desk.core.narrowing import sites_shown
    from recall.desk.worklists.appointments import AppointmentRow, day
    from recall.desk.worklists.diary import counted
    from recall.desk.worklists.taken import free_words

    if diary is not None:
        _count(given, which, diary)
    if on_paper or reminders:
        _write(given, which, on_paper, reminders)
    if on_paper or reminders or diary is not None:
        return
    with opened(given, reading=True) as desk:
        said = counted(desk, which)
        place = sites_shown(desk)
        rows = day(desk, which, clinical=clinical or desk.by.may_decide)
        free = free_words(desk, which or desk.today)
    if form:
        emit_data(form, AppointmentRow, rows)
        return
    emit_lines(f"{say_day(which or desk.today, weekday=True)}: {_how_many(rows)}.")
    _show_all(place, rows)
    _show_free(said.words if said else "", free)


def _show_free(diary: str, free: Sequence[str]) -> None:
    """Print what the practice's own diary has, where it differs, and what is free."""
    from recall.desk.worklists.taken import AS_FAR

    if diary:
        emit_lines(diary)
    if free:
        emit_lines(f"Free, {AS_FAR}:")
    for line in free:
        emit_lines(f"  {line}")


def _how_many(rows: Sequence[AppointmentRow]) -> str:
    """Say how many come, or came."""
    if not rows:
        return "no appointment"
    return "1 appointment" if len(rows) == 1 else f"{len(rows)} appointments"


def _show_all(place: str, rows: Sequence[AppointmentRow]) -> None:
    """Print the appointments, under the sites that are shown where there are several."""
    if place:
        emit_lines(f"{place}:")
    for row in rows:
        _show(row)


def _count(given: dict[str, Any], which: date | None, diary: int) -> None:
    """Record how many appointments the practice's own diary has."""
    from recall.desk.worklists.diary import say_count

    act(dict(given), lambda desk: say_count(desk, diary, which))


def _write(given: dict[str, Any], which: date | None, on_paper: bool, reminders: bool) -> None:
    """Write the day's list on paper, or as the file for reminders, or both."""
    from recall.desk.oversight.day_sheets import print_day, write_reminders

    with opened(given) as desk:
        on = which or desk.today
        if on_paper:
            emit(f"{print_day(desk, on)}\n")
        if reminders:
            emit(f"{write_reminders(desk, on).words}\n")


def _show(row: AppointmentRow) -> None:
    late = ", entered late" if row.entered_late else ""
    ended = f" ({row.ended.replace('_', ' ')}{late})" if row.ended else ""
    whose = f" with {row.with_}" if row.with_ else ""
    at = f"{row.starts_local:%H:%M} {row.minutes} min{whose}"
    emit_lines(f"{at} [{row.id}] {row.ref} {row.name}, born {say_day(row.born)}{ended}")
    for caution in row.cautions:
        emit_lines(f"      ! {caution}")
    for warning in row.warnings:
        emit_lines(f"      {warning}")
    for said in row.meets:
        emit_lines(f"      {said}")
    if row.earlier and not row.ended:
        emit_lines(f"      Would come earlier: {row.earlier}")
