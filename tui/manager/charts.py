"""The manager's pictures: the work of the coming weeks, and where the jobs stand."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from textual.content import Content

from recall.schedule.calendar import say_day
from tui.manager.lists import Listed
from tui.widgets.bars import WORK_HEAD, WORK_LEGEND, most_of, work_line
from tui.words.text import literal, plain, wrapped

if TYPE_CHECKING:
    from recall.desk.core.session import Desk


@dataclass(frozen=True)
class Drawn:
    """One picture of the manager."""

    id: str
    title: str
    read: Callable[[Desk], Listed]
    draw: Callable[[Sequence[Any], date, int], list[Content]]
    keys: tuple[str, ...] = ("export", "again")
    """The commands that matter on it, for the foot."""


NEEDS_LOOKING = ("late", "failed", "gone", "never ran")
"""How a job stands that somebody must look after."""


def _ahead(desk: Desk) -> Listed:
    from recall.desk.oversight.ahead import ahead
    from recall.desk.oversight.ahead_text import hours, week_rows

    found = ahead(desk)
    weeks = found.whole.weeks()
    over = sum(week.over for week in weeks)
    asked, gives = sum(w.minutes for w in weeks), sum(w.gives for w in weeks)
    told = f"Twelve weeks ask for {hours(asked)} hours and can give {hours(gives)}."
    until = found.holidays_until
    known = f" Holidays are known to {say_day(until)}." if until else " No holidays are known."
    more = f" {hours(over)} are over in their week." if over else ""
    return Listed(week_rows(found, None), told + more + known)


def draw_ahead(rows: Sequence[Any], today: date, width: int) -> list[Content]:
    """Return the weeks ahead as bars."""
    most = most_of(rows)
    head = Content.styled(WORK_HEAD, "bold")
    legend = Content.styled(WORK_LEGEND, "$desk-quiet")
    return [head, *(work_line(week, width, most) for week in rows), Content(""), legend]


def _jobs(desk: Desk) -> Listed:
    from recall.desk.oversight.manager_lists import jobs

    rows = jobs(desk)
    late = sum(row.state in NEEDS_LOOKING for row in rows)
    told = f"{late} of {len(rows)} need looking after: recall jobs." if late else "All jobs ran."
    return Listed(rows, told)


def draw_jobs(rows: Sequence[Any], today: date, width: int) -> list[Content]:
    """Return where each job stands: the last run, what it did, and the next."""
    lines: list[Content] = []
    for row in rows:
        loud = row.state in NEEDS_LOOKING
        sign, style = ("!", "bold $desk-alarm") if loud else ("✓", "$desk-good")
        last = f"last for {say_day(row.last_for)}" if row.last_for else "no run yet"
        following = f"next {row.next_at:%d %b %H:%M}"
        name = f" {plain(row.job):<14}"
        when = f"{last}; {following}"
        lines.append(Content.assemble((f"{sign} {row.state:<10}", style), (name, "bold"), when))
        said = f"{row.says} {_counts(row.counts)}{row.error}".strip()
        lines += [
            literal(line, "$desk-quiet").pad_left(12) for line in wrapped(said, width - 14, 3)
        ]
    return lines


def _counts(text: str) -> str:
    """Return a run's counts as words."""
    import msgspec

    try:
        counts = msgspec.json.decode(text or "{}")
    except msgspec.DecodeError:
        return ""
    if not isinstance(counts, dict):
        return ""
    told = [f"{name.replace('_', ' ')} {value}" for name, value in counts.items()]
    return f"({', '.join(told)}) " if told else ""


DRAWN: tuple[Drawn, ...] = (
    Drawn("ahead", "Ahead", _ahead, draw_ahead, ("draw", "what_if", "export", "again")),
    Drawn("jobs", "Jobs", _jobs, draw_jobs),
)
