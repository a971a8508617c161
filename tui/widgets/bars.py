"""Bars and curves in text: the work of the coming weeks, and who came back."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import accumulate
from math import inf

from textual.content import Content

from recall.accounts.rates import Returned
from recall.cycle.curve import Arrival, percent
from recall.desk.oversight.ahead_text import WeekRow, hours
from recall.schedule.calendar import say_day
from tui.widgets.row_list import Part

BOOKED, WANTED, WAITING, AGAIN, FREE = "█", "▓", "▒", "░", "·"
EIGHTHS = " ▁▂▃▄▅▆▇█"
WORK_LEGEND = (
    f"Hours. {BOOKED} booked  {WANTED} wanted then  {WAITING} waiting already  "
    f"{AGAIN} asked for again by then  ┃ what we can give  ! hours over it"
)
WORK_HEAD = "week from   booked wanted waiting again gives calls letters"
CURVE_WEEKS = 26
"""How far the curve of those who came back is drawn."""


def work_line(week: WeekRow, width: int, most: float) -> Content:
    """Return one week: its numbers, then a bar against what the practice can give."""
    day = " ".join(say_day(week.monday).split()[:2])
    minutes = week.booked_minutes, week.wanted_minutes, week.waiting_minutes, week.again_minutes
    told = zip((*minutes, week.gives_minutes), (6, 7, 8, 6, 6), strict=True)
    numbers = (
        f"{_short(day):<12}" + "".join(f"{hours(each):>{room}}" for each, room in told)
    ) + f"{week.calls or 0:>6}{week.letters or 0:>8} "
    beyond = max(0, sum(minutes[:3]) - week.gives_minutes)
    over = f"! {hours(beyond)}" if beyond else ""
    room = max(8, width - len(numbers) - 9)
    return Content.assemble(
        numbers, *_bar(week, room, most), " ", (over, "bold $desk-alarm" if over else "")
    )


def _bar(week: WeekRow, room: int, most: float) -> list[tuple[str, str]]:
    scale = room / max(1, most)
    minutes = week.booked_minutes, week.wanted_minutes, week.waiting_minutes, week.again_minutes
    ends = [round(end * scale) for end in accumulate(minutes)]
    cells = zip((BOOKED, WANTED, WAITING, AGAIN), [0, *ends], ends, strict=False)
    limit = min(room - 1, round(week.gives_minutes * scale))
    drawn = "".join(sign * (end - start) for sign, start, end in cells)
    signs = (drawn + FREE * room)[:room]
    beyond = signs[limit + 1 :].replace(FREE, " ")
    return [(signs[:limit], "$desk-lead"), ("┃", "bold"), (beyond, "$desk-alarm")]


def most_of(weeks: Sequence[WeekRow]) -> float:
    """Return the longest bar that is to fit, in minutes."""
    return max((max(w.asked_minutes, w.gives_minutes) for w in weeks), default=1) or 1


def returns_parts(found: Returned, width: int) -> list[Part]:
    """Return one kind of re-check: the share in time with its spread, and its small curve."""
    told = found.in_time
    share = "—" if told.share is None else percent(told.share)
    spread = "" if told.share is None else f"{percent(told.low)} to {percent(told.high)}"
    half = "—" if found.half_days is None else f"{found.half_days / 7:.0f} wk"
    columns = (f"{told.hits} of {told.of} in time", 21), (share, 5), (spread, 13), (half, 7)
    cells: list[Part] = [(words(found.kind), 17, "")]
    for text, room in columns:
        cells += [("", max(0, room - len(text)), ""), (text, min(room, len(text)), "")]
    weeks = max(6, min(CURVE_WEEKS, width - 66))
    return [*cells, ("", 2, ""), (spark(found.curve, weeks), weeks, "lead")]


def spark(curve: Sequence[Arrival], weeks: int) -> str:
    """Return the share seen by each week since the window opened, as blocks of eighths.

    The whole block stands for everybody and for nothing less.
    """
    shares = (came_by(curve, 7 * n)[0] for n in range(1, weeks + 1))
    return "".join(EIGHTHS[8 if share >= 1 else min(7, round(8 * share))] for share in shares)


def came_by(curve: Sequence[Arrival], days: float) -> tuple[float, float, float]:
    """Return the share who had come after so many days, and its interval.

    >>> came_by((), 30)
    (0.0, 0.0, 0.0)
    """
    found = (0.0, 0.0, 0.0)
    for step in curve:
        if step.at > days:
            break
        found = step.share, step.low, step.high
    return found


def curve_head(found: Returned) -> str:
    """Return how many of all had come by the curve's end, and how many ended otherwise."""
    came = "nobody came yet"
    if found.curve:
        at_last = found.curve[-1]
        spread = f"{percent(at_last.low)} to {percent(at_last.high)}"
        came = f"{percent(at_last.share)} come after {at_last.at / 7:.0f} wk (95% ░ {spread})"
    gone = f"; {found.otherwise:,} ended otherwise" if found.otherwise else ""
    return f"{words(found.kind)}: {came}{gone}"


def curve_lines(found: Returned, width: int, height: int = 6) -> list[Content]:
    """Return the curve of those seen, week by week, with its 95 per cent range shaded.

    The row at the top stands for everybody and for nothing less, as the whole block of `spark`.
    """
    weeks = max(8, min(52, width - 8))
    below, labels = height - 1, {height: "100% ┤", height // 2: " 50% ┤"}
    by_week = [came_by(found.curve, 7 * week) for week in range(1, weeks + 1)]
    rows = []
    for row in range(height, 0, -1):
        edges = (1.0, inf) if row == height else ((row - 1) / below, row / below)
        cells = "".join(_cell(*seen, *edges) for seen in by_week)
        label = labels.get(row, "     │")
        rows.append(Content.assemble((label, "$desk-quiet"), (cells, "$desk-lead")))
    rows.append(Content.styled("     └" + _week_marks(weeks), "$desk-quiet"))
    return rows


def _cell(seen: float, low: float, high: float, low_edge: float, high_edge: float) -> str:
    if low_edge <= seen < high_edge:
        return "━"
    return "░" if low < high_edge and high >= low_edge and high > 0 else " "


def _week_marks(weeks: int) -> str:
    marks = ["─"] * weeks
    for week in range(4, weeks + 1, 4):
        if week - 1 + len(str(week)) <= weeks:
            marks[week - 1 : week - 1 + len(str(week))] = str(week)
    return "".join(marks) + " wk"


def words(word: str) -> str:
    """Return a word of ours as people read it."""
    return word.replace("_", " ")


def _short(day: str) -> str:
    number, month = day.split()
    return f"{number} {month[:3]}"
