"""The month's report as it is drawn in a terminal and printed: one page, and an appendix."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict
from itertools import groupby
from pathlib import Path

from recall import output
from recall.desk.core.guarding import needs
from recall.desk.core.rights import Right
from recall.desk.core.session import Desk
from recall.desk.oversight.month_figures import Figure, figures
from recall.desk.oversight.report import Report
from recall.desk.oversight.report_lines import Line
from recall.desk.oversight.report_text import spread
from recall.letters import coverage
from recall.letters.pages import LAYOUT, run_press
from recall.records.journal.head_file import in_words

_WIDE = 20
_LINE = 80


def as_bars(found: Sequence[Figure]) -> str:
    """Return the figures for a terminal, one bar a line."""
    return "\n".join(line for figure in found for line in _drawn(figure))


def _drawn(figure: Figure) -> Iterator[str]:
    yield figure.heading
    wide = max((len(bar.label) for bar in figure.bars), default=0)
    for bar in figure.bars:
        filled = round(_WIDE * min(1.0, bar.part))
        drawn = f"  {bar.label:<{wide}}  {'█' * filled:<{_WIDE}}"
        if len(drawn) + 2 + len(bar.says) <= _LINE:
            yield f"{drawn}  {bar.says}"
        else:
            yield from (drawn.rstrip(), f"    {bar.says}")
    if not figure.bars:
        yield "  Nothing on record."
    yield ""


def _by(line: Line) -> str:
    """Return what a number is apart by; of people who came, their share with its range."""
    if line.of is None or line.people is not None:
        return line.by.replace("_", " ")
    return spread(line.count, line.of)


@needs(Right.LOOK)
def print_month(desk: Desk, report: Report, out: Path, *, named_here: bool = False) -> None:
    """Write a month's report as one tagged PDF: its figures, and every number behind them.

    Raises:
        LetterError: it cannot be made.
        InputError: it cannot be written there.
    """
    found = figures(desk, report.first)
    parts = [
        {
            "heading": part.capitalize(),
            "rows": [
                [line.what.replace("_", " "), _by(line), str(line.count)]
                + ["" if each is None else str(each) for each in (line.of, line.people)]
                for line in lines
            ],
        }
        for part, lines in groupby(report.lines, key=lambda line: line.part)
    ]
    title = f"{report.first:%B %Y} in numbers"
    page = {
        "title": title,
        "told": [f"{desk.config.practice.name}. The bars tell the twelve months up to its end."],
        "figures": [asdict(figure) for figure in found],
        "parts": parts,
        "foot": in_words(*report.head),
    }
    order = {
        "title": title,
        "layout": str(LAYOUT / "month.typ"),
        "root": str(LAYOUT),
        "fonts": str(coverage.FONTS),
        "letters": [page],
    }
    _ends, pdf = run_press(order, 1 + len(parts))
    output.write(out, pdf, named_here=named_here)
