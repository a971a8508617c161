"""The month's report: numbers counted by hand on a small register.

Shares carry Wilson's 95% interval (J Am Stat Assoc 1927;22:209-212); the example 81 of 263 gives
25.5 to 36.6% (Newcombe, Stat Med 1998;17:857-872, method 3).
"""

from __future__ import annotations

from datetime import date, timedelta

from sqlalchemy import and_, select, update

from recall.care.ear import Ear
from recall.desk.core.replanning import plan_people
from recall.desk.core.session import Desk
from recall.desk.oversight import report_later
from recall.desk.oversight.report import register_report
from recall.desk.oversight.report_lines import Line
from recall.desk.oversight.report_missing import PART
from recall.desk.oversight.report_text import as_csv, as_text
from recall.records import tables
from tests.desk.posting import child_with_fluid, on
from tests.desk.practice import CLEAR, DAY, open_follow_ups, rows, visit

SEPTEMBER, OCTOBER = DAY, date(2026, 10, 15)


def lines(desk: Desk, month: date, part: str, appointments: int | None = None) -> list[Line]:
    found = register_report(desk, month, appointments).lines
    return [line for line in found if line.part == part]


def test_what_is_open_is_told_as_on_the_last_day_of_the_month(desk: Desk) -> None:
    child_with_fluid(desk)
    child_with_fluid(desk, "W2")
    after = on(desk, date(2027, 1, 31))

    september = lines(after, SEPTEMBER, "lateness")
    (winter,) = lines(after, after.today, "lateness")
    told = [(line.what, line.by, line.count, line.people) for line in september]
    assert told == [("not late", "medium", 2, 2)]
    assert (winter.what, winter.count) == ("more than 6 weeks late", 2)
    (open_then,) = lines(after, after.today, "open at the end")
    assert (open_then.what, open_then.count) == ("late, not booked", 2)


def test_who_came_back_in_time_is_counted_by_kind(desk: Desk) -> None:
    in_time, _late = child_with_fluid(desk), child_with_fluid(desk, "W2")
    (follow_up,) = open_follow_ups(desk.store, in_time)
    visit(on(desk, follow_up["target"]), in_time, right=CLEAR)
    (due, *_) = rows(desk.store, tables.Due, person_id=in_time)

    after = on(desk, date(2027, 1, 31))
    (line,) = lines(after, due["latest"], "people who came in time")
    assert (line.what, line.count, line.of) == (due["category"], 1, 2)
    became = lines(after, due["latest"], "re-checks due")
    assert {line.what: (line.count, line.of) for line in became} == {
        "late, not booked": (1, 2),
        "looked at in time": (1, 2),
    }


def test_what_is_entered_after_the_month_is_said_and_the_month_itself_does_not_change(
    desk: Desk,
) -> None:
    person = child_with_fluid(desk)
    (row,) = open_follow_ups(desk.store, person)
    month = row["latest"].replace(day=1)
    before = lines(on(desk, date(2027, 1, 31)), month, "re-checks due, entered after the month")
    wrote_late = on(desk, date(2027, 1, 20))
    visit_of(wrote_late, person, row["latest"], CLEAR)

    after = on(desk, date(2027, 1, 31))
    (line,) = lines(after, month, "re-checks due, entered after the month")
    assert before == []
    assert (line.what, line.count) == ("looked at in time", 1)
    since = {line.what: line.count for line in lines(after, month, report_later.PART)}
    assert since == {"visits": 1, "ends of re-checks": 1}
    assert lines(on(desk, row["latest"]), month, report_later.PART) == [], "the month runs yet"


def test_visits_are_compared_with_the_practices_own_count(desk: Desk) -> None:
    child_with_fluid(desk)
    child_with_fluid(desk, "W2")
    found = {line.what: line.count for line in lines(desk, SEPTEMBER, "visits", 5)}

    assert (found["on record"], found["missing from the register"]) == (2, 3)


def test_what_is_missing_to_reach_whoever_is_waited_for_is_counted(desk: Desk) -> None:
    """One with address and number, one with neither any more, one whose number is no number."""
    people = [child_with_fluid(desk, ref) for ref in ("W1", "W2", "W3")]
    c = tables.ContactPoint
    gone = {c.until: DAY}, {c.value: None, c.problem: "no number"}
    where = c.person_id == people[1], and_(c.person_id == people[2], c.kind == "phone")
    with desk.store.write() as session:
        for values, mine in zip(gone, where, strict=True):
            session.execute(update(c).where(mine).values(values))

    assert {line.what: line.count for line in lines(desk, SEPTEMBER, PART)} == {
        "people who are waited for": 3,
        "no telephone number that may be used": 2,
        "no address that may be used": 1,
        "an address, and none that was checked": 2,
        "a number or address that is not understood": 1,
        "no address of whoever is written to in their place": 0,
        "visits not confirmed by a clinician": 0,
    }


def test_the_report_reads_as_text_and_as_csv(desk: Desk) -> None:
    child_with_fluid(desk)
    report = register_report(on(desk, OCTOBER + timedelta(days=60)), OCTOBER)
    text, table = as_text(report, "Wrenfield Ear Care"), as_csv(report)

    assert text.startswith("Wrenfield Ear Care: the register from 1 October 2026 to 31 October")
    assert "recall report --month 2026-10 --appointments NUMBER" in text
    assert table.splitlines()[0] == "month,part,what,by,count,of,people"
    assert len(table.splitlines()) == len(report.lines) + 2


def test_text_and_csv_end_with_the_last_line_of_the_history(desk: Desk) -> None:
    """What is kept outside the register can be held against its history later."""
    child_with_fluid(desk)
    report = register_report(on(desk, OCTOBER + timedelta(days=60)), OCTOBER)
    with desk.store.read() as session:
        last = select(tables.History.id, tables.History.digest)
        number, digest = session.execute(last.order_by(tables.History.id.desc()).limit(1)).one()

    text, table = as_text(report, "Wrenfield Ear Care"), as_csv(report)
    assert text.splitlines()[-2:] == [f"History to line {number}", digest]
    assert table.splitlines()[-1] == f"2026-10,history,last line,{digest},{number},,"


def visit_of(desk: Desk, person_id: int, day: date, right: Ear) -> None:
    """A visit of an earlier day that is typed in now."""
    number = visit(desk, person_id, right=right)
    with desk.store.write() as session:
        table = tables.Visit.__table__
        session.execute(table.update().where(table.c.id == number).values(on=day))
        plan_people(desk, session, [person_id])
