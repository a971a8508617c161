"""The month's report: numbers counted by hand on a small register.

Shares carry Wilson's 95% interval (J Am Stat Assoc 1927;22:209-212); the example 81 of 263 gives
25.5 to 36.6% (Newcombe, Stat Med 1998;17:857-872, method 3).
"""

from __future__ import annotations

from datetime import date, timedelta

from recall.desk.core.session import Desk
from recall.desk.oversight.report import Line, register_report
from recall.desk.oversight.report_text import as_csv, as_text
from recall.records import tables
from tests.desk.posting import child_with_fluid, on
from tests.desk.practice import CLEAR, DAY, open_follow_ups, rows, visit

SEPTEMBER, OCTOBER = DAY, date(2026, 10, 15)


def lines(desk: Desk, month: date, part: str, appointments: int | None = None) -> list[Line]:
    found = register_report(desk, month, appointments).lines
    return [line for line in found if line.part == part]


def test_status_is_as_on_the_last_day_of_the_month(desk: Desk) -> None:
    child_with_fluid(desk)
    child_with_fluid(desk, "W2")
    after = on(desk, date(2027, 1, 31))

    september = lines(after, SEPTEMBER, "lateness")
    (winter,) = lines(after, after.today, "lateness")
    assert [(line.what, line.by, line.count) for line in september] == [("not late", "medium", 2)]
    assert (winter.what, winter.count) == ("more than 6 weeks late", 2)


def test_who_came_back_in_time_is_counted_by_kind(desk: Desk) -> None:
    in_time, _late = child_with_fluid(desk), child_with_fluid(desk, "W2")
    (follow_up,) = open_follow_ups(desk.store, in_time)
    visit(on(desk, follow_up["target"]), in_time, right=CLEAR)
    (due, *_) = rows(desk.store, tables.Due, person_id=in_time)

    (line,) = lines(on(desk, date(2027, 1, 31)), due["latest"], "came back in time")
    assert (line.what, line.count, line.of) == (due["category"], 1, 2)


def test_visits_are_compared_with_the_practices_own_count(desk: Desk) -> None:
    child_with_fluid(desk)
    child_with_fluid(desk, "W2")
    found = {line.what: line.count for line in lines(desk, SEPTEMBER, "visits", 5)}

    assert (found["on record"], found["missing from the register"]) == (2, 3)


def test_the_report_reads_as_text_and_as_csv(desk: Desk) -> None:
    child_with_fluid(desk)
    report = register_report(on(desk, OCTOBER + timedelta(days=60)), OCTOBER)
    text, table = as_text(report, "Wrenfield Ear Care"), as_csv(report)

    assert text.startswith("Wrenfield Ear Care: the register from 1 October 2026 to 31 October")
    assert "recall report --month 2026-10-01 --appointments NUMBER" in text
    assert table.splitlines()[0] == "month,part,what,by,count,of"
    assert len(table.splitlines()) == len(report.lines) + 1
