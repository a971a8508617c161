"""The month's report, written as three files: for spreadsheets, to read, and to print."""

from __future__ import annotations

from datetime import timedelta

from recall.desk.oversight.month_paper import print_month
from recall.desk.oversight.report import register_report
from recall.desk.oversight.report_text import as_csv, as_text
from recall.desk.practice.job_runs import Counts, Run
from recall.exchange.spreadsheet import for_spreadsheets
from recall.output import write


def work(run: Run) -> Counts:
    """Write the report on the month before the intended day; written again, it is the same."""
    desk = run.desk
    last_month = run.for_day.replace(day=1) - timedelta(days=1)
    report = register_report(desk, last_month, progress=run.progress)
    name = f"register-{last_month:%Y-%m}"
    folder = desk.config.files.reports
    write(folder / f"{name}.csv", for_spreadsheets(as_csv(report)), named_here=True)
    text = as_text(report, desk.config.practice.name)
    write(folder / f"{name}.txt", text.encode(), named_here=True)
    print_month(desk, report, folder / f"{name}.pdf", named_here=True)
    return {"file": f"{name}.csv", "numbers": len(report.lines)}
