"""What the manager's pages say of a whole practice: accounts, weeks ahead, month, checks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path
from typing import get_args

from recall.accounts.cohort import By, Cohort, Only, Period
from recall.desk.core.session import Desk
from recall.desk.oversight import (
    accounts,
    accounts_rows,
    accounts_text,
    ahead,
    ahead_text,
    checked,
    day_sheets,
    failsafe,
    glance,
    job_health,
    manager_lists,
    month_figures,
    month_paper,
    morning_papers,
    notices,
    report,
    report_text,
    rule_audit,
)
from recall.desk.oversight.ahead import Change
from tests.desk.telling import Looks
from tests.desk.whole_practice import ON

DUE = Cohort(Period(date(2026, 1, 1), date(2026, 12, 31)))
ASKED = Cohort(Period(date(2026, 1, 1), ON, "asked"), Only(age="4 to 15"))
URGENT = Cohort(only=Only(urgency="high", practitioner="Clara Voss"))


def every_account(desk: Desk, cohort: Cohort) -> object:
    """Return all that the accounts of a cohort make."""
    found = accounts.accounts(desk, cohort)
    split = {by: accounts_rows.group_rows(found, by) for by in get_args(By)}
    rows = accounts_rows.state_rows(found)
    people = {row.state: accounts_rows.people_of(desk, found, row) for row in rows if row.asks}
    return {
        "headline": accounts_text.headline(cohort),
        "states": rows,
        "beside": accounts_rows.beside(found),
        "stages": accounts_rows.stage_rows(found),
        **split,
        **people,
        "entered late": accounts_rows.entered_late(found, "rechecks"),
        "gone": accounts_rows.gone_since(found, "referrals"),
        "in time": accounts_text.in_time_words(accounts_rows.share_in_time(found)),
        "last": accounts_rows.last_day(found),
    }


def told_in_text(desk: Desk, cohort: Cohort) -> str:
    found = accounts.accounts(desk, cohort)
    groups = accounts_text.as_groups(accounts_rows.group_rows(found, "urgency"))
    return "\n".join((accounts_text.as_text(found, "Wrenfield"), groups))


def test_the_accounts(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON, "mina")
    told("due this year", every_account, DUE)
    told("children asked this year", every_account, ASKED)
    told("urgent, one practitioner's", every_account, URGENT)
    told("in text", told_in_text, DUE)
    told.at(date(2027, 2, 1))
    told("in text, later", told_in_text, DUE)
    told.agrees("whole_accounts")


def every_week(desk: Desk, weeks: int) -> object:
    found = ahead.ahead(desk, weeks)
    level = ahead.levelled(desk, found)
    return {
        "weeks": ahead_text.week_rows(found, None),
        "by practitioner": ahead_text.week_rows(found, "practitioner"),
        "days": ahead_text.day_rows(level),
        "text": ahead_text.as_text(found, desk.calendar).splitlines(),
        "groups": ahead_text.as_groups(found, "practitioner").splitlines(),
        "level": ahead_text.as_levelled(level).splitlines(),
    }


def tried(desk: Desk, change: Change) -> object:
    came = ahead.what_if(desk, ahead.ahead(desk, 8), change)
    return ahead_text.as_tried(came).splitlines(), ahead_text.late_rows(came)


def test_the_weeks_ahead(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON, "mina")
    told("eight weeks", every_week, 8)
    told("another portion", tried, Change(portion=1))
    told("a day more", tried, Change(open_on=date(2026, 9, 12)))
    told("a day that is open", tried, Change(open_on=date(2026, 9, 11)))
    told("nobody away", tried, Change(away="nobody", away_from=ON))
    told.agrees("whole_ahead")


def month(desk: Desk, day: date) -> object:
    found = report.register_report(desk, day, 12)
    kept = replace(found, head=(found.head[0], "digest"))
    return report_text.as_text(kept, "Wrenfield"), kept


def test_the_month(whole: Desk, tmp_path: Path) -> None:
    told = Looks(whole)
    told.at(date(2026, 10, 5), "mina")
    for day in (date(2026, 8, 3), ON):
        told("the month", month, day)
        told("its figures", month_figures.figures, day)
        told("as rows", lambda desk, of=day: month_figures.rows_of(month_figures.figures(desk, of)))
        told("as bars", lambda desk, of=day: month_paper.as_bars(month_figures.figures(desk, of)))
    told("the rules", rule_audit.audit)
    told("the rules, since a day", rule_audit.audit, date(2026, 7, 1))
    told.agrees("whole_month")


def test_the_morning_paper_and_the_checks(whole: Desk) -> None:
    told = Looks(whole)
    for on in (ON + timedelta(days=1), ON + timedelta(days=4), date(2026, 12, 1)):
        told.at(on, "mina")
        told("the paper", morning_papers.paper_of)
        told("reminders", day_sheets.write_reminders, on)
        told("notices", notices.announcements)
        told("jobs", manager_lists.jobs)
        told("their health", job_health.jobs_health)
        told("proposed", manager_lists.proposed)
        told("at a glance", lambda desk: glance.at_once(desk.store, desk.clock))
    day = ON + timedelta(days=1)
    told("written", lambda desk: day_sheets.write_reminders(desk, day).path.read_text("utf-8-sig"))
    told.agrees("whole_morning")


def test_the_nightly_check(whole: Desk) -> None:
    told = Looks(whole)
    told.at(date(2026, 10, 1), "clara")
    told("checked", failsafe.run)
    told.at(date(2027, 1, 4))
    failsafe.run(told.desk)
    told("shown", checked.checked)
    told("what is new", lambda desk: checked.checked(desk).shown)
    told("the one before", lambda desk: failsafe.last(desk, 2).counts)  # type: ignore[union-attr]
    told.agrees("whole_check")
