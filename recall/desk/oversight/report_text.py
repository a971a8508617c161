"""The month's report as CSV and as plain text."""

from __future__ import annotations

import csv
import io
from itertools import groupby

from recall.cycle.curve import percent, wilson
from recall.desk.oversight.report import Report
from recall.desk.oversight.report_lines import Line
from recall.exchange.spreadsheet import escape
from recall.records.journal.head_file import in_words
from recall.schedule.calendar import say_day

HEADINGS = ("month", "part", "what", "by", "count", "of", "people")


def as_csv(report: Report) -> str:
    """Return every number as one row, the same columns each month; at last the history's link."""
    out = io.StringIO()
    rows = csv.writer(out, lineterminator="\r\n")
    rows.writerow(HEADINGS)
    month = f"{report.first:%Y-%m}"
    for line in report.lines:
        more = ["" if each is None else each for each in (line.of, line.people)]
        words = map(escape, (line.part, line.what, line.by))
        rows.writerow((month, *words, line.count, *more))
    number, digest = report.head
    rows.writerow((month, "history", "last line", digest, number, "", ""))
    return out.getvalue()


def as_text(report: Report, practice: str) -> str:
    """Return the report for a reader, part by part."""
    lines = [f"{practice}: the register from {say_day(report.first)} to {say_day(report.last)}"]
    for part, rows in groupby(report.lines, key=lambda line: line.part):
        lines += ["", part.capitalize(), *map(_row, rows)]
    if not any(line.what == "counted by the practice" for line in report.lines):
        month = f"{report.first:%Y-%m}"
        lines += [
            "",
            "The practice's own count of appointments is not known here. To compare it:",
            f"recall report --month {month} --appointments NUMBER",
        ]
    lines += ["", *in_words(*report.head).split(", ")]  # a digest fills a line
    return "\n".join(lines) + "\n"


def _row(line: Line) -> str:
    name = f"{line.what}, {line.by}" if line.by else line.what
    said = f"  {name.replace('_', ' '):<46}{line.count:>7}"
    if line.people is not None:
        return f"{said} about {line.people} {'person' if line.people == 1 else 'people'}"
    if line.of is None:
        return said
    share = spread(line.count, line.of)
    return f"{said} of {line.of} ({share})" if share else f"{said} of {line.of}"


def spread(count: int, of: int) -> str:
    """Return the share with its 95% interval (Wilson, J Am Stat Assoc 1927;22:209-212)."""
    if not of:
        return ""
    low, high = wilson(count, of)
    return f"{percent(count / of)}; {percent(low)} to {percent(high)}"
