"""The course of one ear over the years, drawn in text: fluid, retraction, hearing, wax.

Each line has a mark at every visit that recorded something, and a question mark where it could
not be seen. What runs on between visits is a line; what is not known stays empty.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from textual.content import Content

from recall.care.case import Case, Visit
from recall.care.ear import Ear, Side
from recall.care.hearing import four_frequency_average
from recall.care.one_look import drum_in_view
from recall.cycle.forecast import TooLittle, forecast
from recall.cycle.population import Population
from recall.cycle.spells import CLEAR, looks, past
from recall.cycle.words import length, spread_words

LABEL = 14
_BAND_DB = {3: 30, 4: 20, 8: 10}
"""How many dB one line of the hearing chart holds, by the number of its lines."""
MARKS = {"absent": "○", "suspected": "◐", "present": "●"}
WAX = {"none": "○", "some": "○", "partial": "◐", "occluding": "●"}
UNSEEN = "?"
HEARING_SIGN: dict[Side, str] = {"right": "O", "left": "X"}
"""Air conduction signs of an audiogram: BSA, Recommended procedure, pure-tone audiometry 2018."""
LEGEND = "● present, blocked  ◐ suspected, partial  ○ absent, clear  ? not seen  ━ runs on"
_QUARTERS = {1: "", 4: "Apr", 7: "Jul", 10: "Oct"}
Look = tuple[date, str | None, Ear]


@dataclass(frozen=True)
class Scale:
    """Which column a day stands in."""

    first: date
    last: date
    width: int

    def column(self, day: date) -> int:
        """Return the column of a day, from 0."""
        days = max(1, (self.last - self.first).days)
        place = (day - self.first).days * (self.width - 1) / days
        return min(self.width - 1, max(0, round(place)))


class _Line:
    """One line of characters that are set by column."""

    def __init__(self, width: int) -> None:
        self.cells = [" "] * width

    def put(self, column: int, text: str) -> None:
        for n, sign in enumerate(text, column):
            if 0 <= n < len(self.cells):
                self.cells[n] = sign

    def run(self, start: int, end: int, sign: str) -> None:
        for n in range(start + 1, end):
            self.cells[n] = sign

    @property
    def text(self) -> str:
        return "".join(self.cells)


def scale_of(case: Case, on: date, width: int) -> Scale:
    """Return the scale from the first visit to a day, at least half a year long."""
    days = [v.on for v in case.visits if v.on <= on]
    first = min(days, default=on)
    if (on - first).days < 183:
        first = date.fromordinal(on.toordinal() - 183)
    return Scale(first, on, max(10, width - LABEL))


def axis(scale: Scale) -> Content:
    """Return the line of years; of months where it is all within two years."""
    line = _Line(scale.width)
    short = (scale.last - scale.first).days < 730
    free = 0
    for day, words in _ticks(scale, short):
        column = scale.column(day)
        if column >= free and column + len(words) < scale.width:
            line.put(column, f"╷{words}")
            free = column + len(words) + 2
    return Content.assemble((" " * LABEL, ""), (line.text, "$desk-quiet"))


def _ticks(scale: Scale, short: bool) -> Iterable[tuple[date, str]]:
    for year in range(scale.first.year, scale.last.year + 1):
        for month in _QUARTERS if short else (1,):
            day = date(year, month, 1)
            if scale.first <= day <= scale.last:
                yield day, _QUARTERS[month] or str(year)


def course_lines(
    case: Case, side: Side, scale: Scale, *, tall: bool = False, bands: int = 4
) -> list[Content]:
    """Return the lines of one ear, with so many bands of hearing where it is not tall."""
    seen = _looks(case, side, scale.last)
    return [
        _row("Fluid", _fluid(seen, scale)),
        *_grades("Tensa", seen, scale, lambda ear: ear.tensa_grade, tall=tall),
        *_grades("Attic", seen, scale, lambda ear: ear.attic_grade, tall=tall),
        _row("  graded by", _examiners(seen, scale), "$desk-quiet"),
        *_hearing(seen, side, scale, 8 if tall else bands),
        _row("Wax", _wax(case, side, seen, scale)),
    ]


def cycle_words(case: Case, populations: Sequence[Population], on: date) -> str:
    """Return what the person's own wax cycle tells, in a sentence."""
    known = [p for p in populations if p.fitted_on <= on]
    visits = [v for v in case.visits if v.on <= on]
    told = past(looks(visits, "right"), looks(visits, "left"))
    found = forecast(told, known[-1] if known else None)
    if isinstance(found, TooLittle):
        return found.says
    seen = f"Wax was found back {found.events} times in {found.visits} visits. "
    return seen + spread_words(found)


def _looks(case: Case, side: Side, on: date) -> list[Look]:
    visits: list[Visit] = sorted((v for v in case.visits if v.on <= on), key=lambda v: v.on)
    both = [(v.on, v.examiner, v.right if side == "right" else v.left) for v in visits]
    return [(day, who, ear) for day, who, ear in both if ear is not None]


def _row(label: str, text: str, style: str = "") -> Content:
    return Content.assemble((f"{label:<{LABEL}}", "$desk-quiet"), (text, style))


def _fluid(seen: Sequence[Look], scale: Scale) -> str:
    line, since = _Line(scale.width), None
    for day, _who, ear in seen:
        column = scale.column(day)
        if since is not None:
            line.run(since, column, "━")
            since = column
        if ear.effusion is not None:
            line.put(column, MARKS[ear.effusion])
            if ear.effusion == "absent":
                since = None
            elif ear.effusion == "present":
                since = column
        elif not drum_in_view(ear):
            line.put(column, UNSEEN)
    if since is not None:
        line.run(since, scale.width, "━")
    return line.text


def _grades(
    label: str,
    seen: Sequence[Look],
    scale: Scale,
    grade_of: Callable[[Ear], int | None],
    *,
    tall: bool,
) -> list[Content]:
    """Return a grade's course: one line of digits, or five lines of steps."""
    graded = [(scale.column(day), grade_of(ear)) for day, _who, ear in seen]
    known = [(column, grade) for column, grade in graded if grade is not None]
    if not tall:
        return [_row(label, _digits(known, scale))]
    return _steps(label, known, scale)


def _digits(known: Sequence[tuple[int, int]], scale: Scale) -> str:
    line = _Line(scale.width)
    for n, (column, grade) in enumerate(known):
        if n:
            line.run(known[n - 1][0], column, "─")
        line.put(column, str(grade))
    return line.text


def _steps(label: str, known: Sequence[tuple[int, int]], scale: Scale) -> list[Content]:
    rows = [_Line(scale.width) for _ in range(5)]
    before: tuple[int, int] | None = None
    for column, grade in known:
        if before is not None:
            rows[before[1]].run(before[0], column, "─")
            for between in range(min(before[1], grade) + 1, max(before[1], grade)):
                rows[between].put(column, "│")
            if grade != before[1]:
                rows[before[1]].put(column, "┐" if grade < before[1] else "┘")
        rows[grade].put(column, str(grade))
        before = column, grade
    labels = [f"{label} {n}" if n in (0, 4) else f"{'':{len(label)}} {n}" for n in range(5)]
    return [_row(labels[n], rows[n].text) for n in range(4, -1, -1)]


def _examiners(seen: Sequence[Look], scale: Scale) -> str:
    line, free = _Line(scale.width), 0
    for day, who, ear in seen:
        if ear.tensa_grade is None and ear.attic_grade is None:
            continue
        name = "".join(c for c in (who or "?") if c.isalnum() or c == "?")[:3] or "?"
        column = scale.column(day)
        if column >= free:
            line.put(column, name)
            free = column + len(name) + 1
    return line.text


def _hearing(seen: Sequence[Look], side: Side, scale: Scale, height: int) -> list[Content]:
    """Return the mean of the four frequencies as steps; down is worse, as on an audiogram."""
    step = _BAND_DB[height]
    rows = [_Line(scale.width) for _ in range(height)]
    before: tuple[int, int] | None = None
    sign = HEARING_SIGN[side]
    for day, _who, ear in seen:
        mean = four_frequency_average(ear.hearing_dB) if ear.hearing_dB else None
        if mean is None:
            continue
        column, row = scale.column(day), min(height - 1, max(0, int(mean // step)))
        if before is not None:
            rows[before[1]].run(before[0] + _wide(rows[before[1]], before[0]), column, "─")
            for between in range(min(before[1], row) + 1, max(before[1], row)):
                rows[between].put(column, "│")
            if row != before[1]:
                rows[before[1]].put(column, "┐" if row > before[1] else "┘")
        rows[row].put(column, f"{sign}{mean:.0f}")
        before = column, row
    heads = [f"{'' if n else 'Hearing dB':<10}{step * (n + 1):>3}" for n in range(height)]
    return [_row(head, line.text) for head, line in zip(heads, rows, strict=True)]


def _wide(line: _Line, column: int) -> int:
    """Return how many cells after a mark its number takes."""
    digits = 0
    while column + 1 + digits < len(line.cells) and line.cells[column + 1 + digits].isdigit():
        digits += 1
    return digits


def _wax(case: Case, side: Side, seen: Sequence[Look], scale: Scale) -> str:
    """Return the wax found at each visit, with the length of each gap where it fits."""
    line = _Line(scale.width)
    since: tuple[date, int] | None = None
    visits = [v for v in case.visits if v.on <= scale.last]
    for look in looks(sorted(visits, key=lambda v: v.on), side):
        column = scale.column(look.on)
        found = look.found or look.left
        assert found is not None, "looks() leaves out those without wax"
        if found not in CLEAR and since is not None:
            _gap(line, since[1], column, (look.on - since[0]).days)
        line.put(column, WAX[found])
        after = look.left or found
        if after not in CLEAR:
            since = None
        elif since is None or found not in CLEAR:
            since = look.on, column
    for day, _who, ear in seen:
        column = scale.column(day)
        if ear.examined is False and line.cells[column] == " ":
            line.put(column, UNSEEN)
    return line.text


def _gap(line: _Line, start: int, end: int, days: int) -> None:
    for column in range(start + 1, end):
        if line.cells[column] == " ":
            line.put(column, "┈")
    words = f" {length(days)} "
    inner = end - start - 1
    place = start + 1 + (inner - len(words)) // 2
    if inner >= len(words) and all(c == "┈" for c in line.cells[place : place + len(words)]):
        line.put(place, words)
