"""How the day's list of appointments draws a row, and what it tells of the one in hand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import TYPE_CHECKING

from textual.content import Content

from recall.care.dates import age_on
from recall.schedule.calendar import say_day
from tui.widgets.row_list import Part
from tui.words.text import full_day, plain, several, wrapped

if TYPE_CHECKING:
    from recall.desk.worklists.appointments import AppointmentRow
    from tui.appointments.acts import Day

ENDED_WORDS = {
    "attended": "came",
    "did_not_attend": "did not come",
    "was_not_brought": "was not brought",
    "cancelled_by_person": "called off by them",
    "cancelled_by_practice": "called off by us",
}
_KINDS = {"attended": "good", "did_not_attend": "alarm", "was_not_brought": "alarm"}
LABEL = 9
ON_PAPER = "what whoever treats the ear must know is on their list and on paper (p)."
TOLD = 3
"""Lines above the list at the most."""


def draw(row: AppointmentRow, width: int) -> Sequence[Part]:
    """Return one appointment: when, how long, with whom, who, what to mind, and who came."""
    state = ENDED_WORDS.get(row.ended, row.ended) if row.ended else ""
    if row.entered_late:
        state += " · late"
    mind = "!" if row.cautions or row.contact_stopped or row.warnings else " "
    years = f"{age_on(row.born, row.starts_local.date())}".rjust(4)
    kind = _KINDS.get(row.ended, "quiet" if row.ended else "")
    fixed = 7 + 5 + 10 + 4 + 3 + 3 + 23
    return [
        (f"{row.starts_local:%H:%M}", 7, "" if not row.ended else "quiet"),
        (f"{row.minutes}", 5, "quiet"),
        (row.with_ or "–", 10, "quiet"),
        (row.name, max(8, width - fixed), "quiet" if row.is_off else ""),
        (years, 4, "quiet"),
        (f" {mind}", 3, "alarm"),
        ("^" if row.earlier and not row.ended else " ", 3, "lead"),
        (state, 23, kind),
    ]


def told(shown: Day, today: date, width: int) -> list[str]:
    """Return how many come, how many are not ticked off, and as much of what is free as fits."""
    words = _how_many(shown, today)
    free = shown.free if shown.on >= today else ()
    for count in range(len(free), -1, -1):
        lines = wrapped(f"{words}{_free(free, count)}", width, TOLD + 1)
        if len(lines) <= TOLD or count == 0:
            return lines[:TOLD]
    raise AssertionError("the last count is none")


def _free(free: Sequence[str], count: int) -> str:
    """Return the first of the free times, and how many more there are and how to see them."""
    from recall.desk.worklists.taken import AS_FAR

    if not free:
        return ""
    left = len(free) - count
    if not count:
        return f" Free times of {several(left, 'person', 'people')}: press w."
    more = f"; {left} more: press w" if left else ""
    return f" Free, {AS_FAR}: {'; '.join(free[:count])}{more}."


def _how_many(shown: Day, today: date) -> str:
    coming = [row for row in shown.rows if not row.is_off]
    waiting = [row for row in coming if not row.ended]
    count = several(len(coming), "appointment")
    words = f"{count}, {len(waiting)} without a word on who came."
    if shown.on > today or not coming:
        words = f"{count}."
    if shown.diary:
        words += f" {shown.diary}"
    if shown.closed:
        words += f" Closed: {shown.closed}."
    if shown.on < today and waiting:
        words += f" What you press is entered late, on {say_day(today)}."
    return words


def about(row: AppointmentRow, today: date, width: int) -> list[Content]:
    """Return what there is to know of the one in hand: who, what is to be minded, what it meets."""
    years = age_on(row.born, row.starts_local.date())
    child = ", a child" if years < 16 else ""
    lines = [
        Content.assemble(
            (plain(row.name), "bold $desk-lead"),
            f"  born {full_day(row.born)} ({years}{child})  {plain(row.postcode or 'no postcode')}",
            (f"  {plain(row.ref)}", "$desk-quiet"),
        )
    ]
    for label, text, kind in _told_of(row):
        style = f"bold $desk-{kind}" if kind else ""
        for n, line in enumerate(wrapped(text, max(20, width - LABEL))):
            head = (label if n == 0 else "").ljust(LABEL)
            lines.append(Content.assemble((head, "$desk-quiet"), (plain(line), style)))
    return lines


def _told_of(row: AppointmentRow) -> Iterator[tuple[str, str, str]]:
    """Give label, text and kind of each line; what can hurt comes first."""
    for text in filter(None, (*row.cautions, row.contact_stopped)):
        yield "! Mind", text, "alarm"
    for text in row.warnings:
        yield "! Know", text, "alarm"
    for said in row.meets:
        yield "Meets", said, ""
    for said in row.meets_not:
        yield "Not met", said, "quiet"
    if row.earlier and not row.ended:
        yield "Earlier", row.earlier, "lead"
    if row.late_why:
        yield "Late", row.late_why, "quiet"
    if row.is_minded and not row.cautions:
        yield "Mind", ON_PAPER, "quiet"
    if not row.contact_stopped:
        yield "Ring", f"{row.ask_for}: {row.number or 'no number is recorded'}", ""
