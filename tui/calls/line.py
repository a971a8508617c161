"""One line of the call list: how pressing, who has it, whom it is about, what is next, how late."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import TYPE_CHECKING

from tui.widgets.row_list import Part
from tui.words.signs import LOUDNESS, STEP_WORDS, URGENCY_KINDS, words
from tui.words.text import late_by, month_day

if TYPE_CHECKING:
    from recall.desk.worklists.call_card import CallCard


def call_line(
    row: CallCard, width: int, today: date | None, *, taken: bool, more: int = 0
) -> Sequence[Part]:
    """Return the parts of a line.

    `taken`: another desk has the person in hand; `more` people are under the same number.
    """
    kind = URGENCY_KINDS.get(row.urgency, "")
    days = max(row.late_by_days, (today - row.call_by).days if today else 0)
    late = days > 0
    day = late_by(days) if late else month_day(row.call_by, today)
    loud = "alarm" if late else "quiet"
    if row.hour is not None and row.next_step_on == today:
        day, loud = f"at {row.hour:%H:%M}", "warn" if row.promised else "quiet"
    if row.spoken is not None and row.spoken.reached:
        day, loud = f"spoke {row.spoken.hour}", "warn"
    gap = max(1, 10 - len(day))
    width -= gap + len(day) - 10
    ends = (("", gap, ""), (day, len(day), loud))
    is_narrow = width < 40
    start = [(LOUDNESS.get(row.urgency, " "), 2, kind), ("•" if taken else " ", 1, "warn")]
    if more:
        here = f" +{more}"
        start, width = [*start, (f"+{more}", len(here), "lead")], width - len(here)
    if is_narrow:
        return [*start, (row.name, width - 13, ""), *ends]
    step = words(STEP_WORDS, row.step)
    return [*start, (row.name, width - 30, ""), ("", 1, ""), (step, 16, "quiet"), *ends]
