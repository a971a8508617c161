"""Years of an invented practice, with the machine going off: nobody is lost, nothing doubled.

The suite lives a short time with few people. The long form, three years:

    RECALL_DAYS=1096 RECALL_PEOPLE=150 RECALL_SEED=1 python -m pytest tests/jobs/test_years.py
"""

from __future__ import annotations

import os
import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest

from recall.accounts.cohort import Cohort, Period
from recall.clock import Clock
from recall.desk.core.session import Desk, open_desk
from recall.desk.oversight import failsafe, morning_papers, report_later
from recall.desk.oversight.accounts import accounts
from recall.desk.oversight.accounts_rows import share_in_time, state_rows
from recall.desk.oversight.ahead import ahead
from recall.desk.oversight.counts import counts
from recall.desk.oversight.month_figures import figures
from recall.desk.oversight.report import register_report
from recall.desk.people.timeline import timeline
from recall.desk.post import cover, printing
from recall.desk.post.weekly import is_recall, monday_of
from recall.desk.practice.timetable import JOBS
from recall.desk.worklists.lists import lost
from recall.letters.composed import ComposedLetter
from recall.letters.pages import PdfReport, Placed
from recall.loop.referral import progress
from recall.records import tables
from recall.records.database.store import open_store
from recall.records.journal import history, job_ledger
from tests.desk.practice import rows
from tests.jobs import recount, recount_month, recount_referrals, recount_report
from tests.jobs.making import clock_at, practice_in
from tests.jobs.years import Practice

DAYS = int(os.environ.get("RECALL_DAYS", "90"))
PEOPLE = int(os.environ.get("RECALL_PEOPLE", "24"))
SEED = int(os.environ.get("RECALL_SEED", "3"))
START = date(2026, 9, 1)
WORK_LEFT = {"step_past", "referral_past_chase", "booking_without_outcome"}
WORK_LEFT |= {"letter_not_followed_up", "cannot_be_contacted", "booking_for_nothing"}
"""What the check finds because the staff did not get round to it: it is on their lists."""


@dataclass(frozen=True)
class Lived:
    practice: Practice
    desk: Desk
    last: date


def _blank_pages(letters: Sequence[ComposedLetter], out: Path, **_how: bool) -> PdfReport:
    """In the place of real pages, which have tests of their own."""
    out.write_bytes("\n".join(letter.number for letter in letters).encode())
    placed = tuple(Placed(letter.number, n, n) for n, letter in enumerate(letters, 1))
    return PdfReport(out, placed, ())


def _blank(_content: object, out: Path) -> None:
    out.write_bytes(b"")


@pytest.fixture(scope="module")
def lived(empty_register: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Lived]:
    """The practice after its years."""
    config = practice_in(tmp_path_factory.mktemp("years"), empty_register)
    desk = open_desk(config, by="jobs", clock=Clock.at(START))
    practice = Practice(desk, random.Random(SEED), most=PEOPLE)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(printing, "make_pdf", _blank_pages)
        patched.setattr(cover, "make_cover", _blank)
        patched.setattr(cover, "make_labels", _blank)
        patched.setattr(morning_papers, "make_lists", _blank)
        last = practice.live(START, DAYS)
    print(f"seed {SEED}: {practice.people} people, {practice.crashes} crashes, {practice.done}")
    yield Lived(practice, practice.at(last, 23, "jobs"), last)
    desk.close()


def every(lived: Lived, table: Any) -> Sequence[Any]:
    return rows(lived.desk.store, table)


def test_much_has_happened(lived: Lived) -> None:
    done = lived.practice.done
    assert lived.practice.crashes > 3
    assert done["seen"] > 20 and done["letters done"] > DAYS / 9
    assert sum(letter["posted_on"] is not None for letter in every(lived, tables.Letter)) > 5


def test_the_check_finds_nothing_but_work_that_is_on_the_lists(lived: Lived) -> None:
    found = failsafe.run(lived.desk).findings
    assert [one for one in found if one.kind not in WORK_LEFT] == []


def test_everything_is_open_with_a_next_step_or_closed_for_a_known_reason(lived: Lived) -> None:
    for row in every(lived, tables.FollowUp):
        if row["is_open"]:
            assert row["step"] and row["next_step_on"], row["id"]
        else:
            assert row["close_reason"] and row["closed_on"], row["id"]
    open_dues = {row["id"] for row in every(lived, tables.Due) if row["is_open"]}
    with lived.desk.store.read() as session:
        link, follow_up = tables.FollowUpDue.__table__, tables.FollowUp.__table__
        held = session.execute(
            link.select()
            .join(follow_up, follow_up.c.id == link.c.follow_up_id)
            .where(link.c.left_at.is_(None), follow_up.c.is_open)
        ).mappings()
        followed = {row["due_id"] for row in held}
    assert open_dues <= followed


def test_no_letter_goes_out_twice(lived: Lived) -> None:
    posted = Counter(
        (letter["follow_up_id"], letter["round"], letter["step"], letter["to_lines"])
        for letter in every(lived, tables.Letter)
        if letter["posted_on"] is not None and letter["follow_up_id"]
    )
    assert [which for which, count in posted.items() if count > 1] == []


def test_nobody_gets_two_recall_letters_in_a_week(lived: Lived) -> None:
    weeks: dict[tuple[int, date], set[tuple[int, int, str]]] = {}
    for row in every(lived, tables.Letter):
        if row["posted_on"] is not None and is_recall(row["step"]):
            week = weeks.setdefault((row["person_id"], monday_of(row["posted_on"])), set())
            week.add((row["follow_up_id"], row["round"], row["step"]))
    assert weeks and {who: about for who, about in weeks.items() if len(about) > 1} == {}


def test_no_letter_goes_to_the_dead_or_to_whom_nobody_may_write(lived: Lived) -> None:
    people = {row["id"]: row for row in every(lived, tables.Person)}
    colleagues = ("hand_back_to_gp", "referral")
    for letter in every(lived, tables.Letter):
        posted, person = letter["posted_on"], people[letter["person_id"]]
        if posted is None or letter["kind"] in colleagues:
            continue
        for since in ("deceased_on", "objected_on", "unsafe_on"):
            assert person[since] is None or posted <= person[since], (letter["id"], since)


def test_each_job_has_one_done_run_for_every_intended_day(lived: Lived) -> None:
    times = lived.desk.config.jobs
    for job in JOBS.values():
        with lived.desk.store.read() as session:
            runs = job_ledger.runs(session, job.name, 5000)
        assert {run.state for run in runs} == {"done"}, job.name
        days = sorted(run.for_day for run in runs)
        last = lived.last
        assert days == list(job.when(times).days(days[0], last)), job.name
    looks = every(lived, tables.FailsafeRun)
    runs_told = [look["job_run_id"] for look in looks if look["job_run_id"]]
    assert len(runs_told) == len(set(runs_told))


def test_every_person_has_their_whole_story(lived: Lived) -> None:
    desk = lived.desk
    told = (tables.Visit, tables.Contact, tables.Booking, tables.BookingEvent)
    for person in every(lived, tables.Person):
        sentences = timeline(desk, person["ref"])
        facts = 0
        for table in told:
            column = "person_id" if "person_id" in table.__table__.c else None
            facts += len(rows(desk.store, table, person_id=person["id"])) if column else 0
        facts += sum(
            letter["posted_on"] is not None
            for letter in rows(desk.store, tables.Letter, person_id=person["id"])
        )
        assert len(sentences) > facts, person["ref"]
        days = [sentence.on for sentence in sentences]
        assert days == sorted(days)


def test_the_history_is_whole(lived: Lived) -> None:
    assert history.verify(lived.desk.store) == ()


def test_the_lists_stand_as_the_facts_say(lived: Lived) -> None:
    """Refreshing everybody, not only those whose day has come, changes nothing."""
    from recall.desk.core.replanning import refresh

    at = lived.practice.at(lived.last + timedelta(days=0), 23, "jobs")
    ids = [row["id"] for row in every(lived, tables.Person)]
    with at.store.write() as session:
        assert refresh(at, session, ids) == 0
    assert clock_at(lived.last).today() == lived.last


# -- the accounts, against a recount of the database file -------------------------------------


def test_the_accounts_are_what_a_recount_of_the_database_counts(lived: Lived) -> None:
    """Every quarter, by the day due and by the day asked: state, people, misses, who came."""
    desk, path = lived.desk, lived.desk.store.path
    follow_ups = {line.follow_up_id for line in lost(desk) if line.follow_up_id}
    counted = recount.rechecks(path, lived.last, follow_ups)
    states = set()
    for first, last in recount.quarters(START, lived.last + timedelta(days=400)):
        for asked in (False, True):
            mine = recount.of_period(counted, first, last, asked)
            period = Period(first, last, "asked" if asked else "due")
            found = accounts(desk, Cohort(period))
            told = {
                row.says: (row.asks, row.people, row.missed)
                for row in state_rows(found)
                if row.of == "re-checks" and row.asks
            }
            assert told == recount.by_state(mine)
            share = share_in_time(found)
            assert (share.hits, share.of) == recount.came_in_time(mine, lived.last)
            states |= told.keys()
    assert len(states) > 5, states


def test_the_months_report_is_what_a_recount_counts(lived: Lived) -> None:
    """Every whole month: what became of what was due, what was open at its end, who came."""
    desk, path = lived.desk, lived.desk.store.path
    first, told_of = START, 0
    while (last := (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)) < lived.last:
        then = replace(desk, clock=clock_at(last, 23))
        follow_ups = {line.follow_up_id for line in lost(then) if line.follow_up_id}
        counted = recount.rechecks(path, last, follow_ups, at_end=True)
        due = recount.of_period(counted, first, last, asked=False)
        lines = register_report(desk, first).lines
        told = {n.what: (n.count, n.people) for n in lines if n.part == "re-checks due"}
        assert told == {what: some[:2] for what, some in recount.by_state(due).items()}
        parts = {part: recount_report.told(lines, part) for part in recount_report.PARTS}
        assert parts == recount_report.parts(counted, first, last)
        since = {n.what: n.count for n in lines if n.part == report_later.PART}
        ended = clock_at(last + timedelta(days=1), 0).now()
        assert since == recount_report.later(path, first, last, ended)
        share = [(n.count, n.of or 0) for n in lines if n.part == "people who came in time"]
        kinds = [[c for c in due if c.kind == kind] for kind in {c.kind for c in due}]
        mine = sorted(recount.came_in_time(each, last + timedelta(days=1)) for each in kinds)
        assert sorted(share) == mine
        told_of, first = told_of + len(counted), last + timedelta(days=1)
    assert told_of > 0
    assert {n.what: n.count for n in lines if n.part.startswith("missing")} == (
        recount_report.missing(path)
    )


def test_the_weeks_ahead_are_what_a_recount_counts(lived: Lived) -> None:
    """What is booked, wanted and waiting, week by week, and the minutes of what is booked."""
    desk, path = lived.desk, lived.desk.store.path
    portion = 3
    letters = msgspec.structs.replace(desk.config.letters, backlog_per_week=portion)
    few = replace(desk, config=msgspec.structs.replace(desk.config, letters=letters))
    weeks = ahead(few, 26).whole.weeks()

    told = [(w.monday, w.booked, w.wanted, w.waiting, w.booked_minutes) for w in weeks]
    assert told == recount.weeks_ahead(path, lived.last, portion, 26)
    assert sum(w.asked for w in weeks) > 0


def test_today_counts_what_a_recount_counts(lived: Lived) -> None:
    found, mine = counts(lived.desk), recount.counted_today(lived.desk.store.path, lived.last)
    assert {"overdue": found.overdue, "unconfirmed": found.unconfirmed} == mine


def test_referrals_of_each_quarter_are_what_a_recount_counts(lived: Lived) -> None:
    """How many there are, how many are open, and of how many the result is back."""
    seen = 0
    for first, last in recount.quarters(START, lived.last + timedelta(days=200)):
        account = accounts(lived.desk, Cohort(Period(first, last))).now.referrals
        parts = Counter(line.state.part for line in account.lines() for _ in range(line.asks))
        told = account.asks, parts["open"], parts["met"]
        assert told == recount.referrals_of(lived.desk.store.path, first, last, lived.last)
        seen += account.asks
    assert seen > 0


def moments(lived: Lived) -> Iterator[Desk]:
    """The register as it stands, and as it stood when each month ended."""
    yield lived.desk
    for last, copy in lived.practice.as_they_were.items():
        store = open_store(copy)
        yield replace(lived.desk, store=store, clock=clock_at(last, 23))
        store.close()


def test_each_state_of_a_referral_is_what_a_recount_counts(lived: Lived) -> None:
    """Every quarter, state by state: referrals, people and misses."""
    states = set()
    for desk in moments(lived):
        for first, last in recount.quarters(START, desk.today + timedelta(days=200)):
            told = {
                row.says: (row.asks, row.people, row.missed)
                for row in state_rows(accounts(desk, Cohort(Period(first, last))))
                if row.of == "referrals" and row.asks
            }
            assert told == recount_referrals.by_state(desk.store.path, first, last, desk.today)
            states |= told.keys()
    assert len(states) > 2, states


def test_what_visits_bring_again_is_what_a_recount_expects(lived: Lived) -> None:
    """Minutes of next looks and of those missed again, week by week, with both ends."""
    sums = 0.0
    for desk in moments(lived):
        found = ahead(desk, 26)
        first, told = found.whole.mondays[0], [week.again for week in found.whole.weeks()]
        mine = recount_month.again(desk.store.path, desk.today, first, 26, found.portion)

        for n, name in enumerate(("minutes", "low", "high")):
            expected = [each[n] for each in mine]
            found_ = [getattr(each, name) for each in told]
            assert found_ == pytest.approx(expected, rel=1e-3, abs=0.1), (desk.today, name)
        sums += sum(each.minutes for each in told)
    assert sums > 0


def test_the_bars_of_the_months_report_are_what_a_recount_counts(lived: Lived) -> None:
    """Every bar of the twelve months up to today: its count and of how many it is."""
    desk, path, on = lived.desk, lived.desk.store.path, lived.last
    began = (on.replace(day=1) - timedelta(days=330)).replace(day=1)
    came, took, hours, steps = figures(desk, on)
    counted = recount.rechecks(path, on, set())
    months = {bar.label: (bar.count, bar.of) for bar in came.bars}
    assert len(months) == 12
    for label, told in months.items():
        first = date.fromisoformat(f"{label}-01")
        last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
        assert told == recount.came_in_time(recount.of_period(counted, first, last, False), on)
    days = recount_referrals.days_to_stages(path, began, on)
    assert {bar.label: (bar.count, bar.of) for bar in took.bars} == {
        label: told[1:] for label, told in days.items()
    }
    for bar in took.bars:
        assert bar.says.startswith(f"{days[bar.label][0]:g} day"), bar
    zone = desk.config.calendar.time_zone
    mine = recount_month.calls_by_hour(path, began, on, zone)
    assert {bar.label: (bar.count, bar.of) for bar in hours.bars} == mine
    letters = recount_month.letters_by_step(path, began, on)
    tried = recount_month.steps_tried(path, began, on)
    mine = tried | {label: told[:2] for label, told in letters.items()}
    assert {bar.label: (bar.count, bar.of) for bar in steps.bars} == mine and letters
    for bar in steps.bars:
        if bar.label in letters:
            assert bar.says.endswith(f"; {letters[bar.label][2]} came back")


def test_what_the_report_tells_of_acts_is_what_a_recount_counts(lived: Lived) -> None:
    """Letters posted and returned, how appointments ended, and visits: every month."""
    first, path = START, lived.desk.store.path
    while first < lived.last:
        last = (first + timedelta(days=31)).replace(day=1) - timedelta(days=1)
        told = Counter[tuple[str, str]]()
        for line in register_report(lived.desk, first).lines:
            if line.part in ("letters posted", "letters returned", "bookings", "visits"):
                told[line.part, line.what] += line.count
        del told["visits", "appointments kept without a visit on record"]
        assert told == recount_referrals.what_was_done(path, first, last)
        first = last + timedelta(days=1)


def test_sent_is_what_has_a_day_of_sending_on_record(lived: Lived) -> None:
    found = accounts(lived.desk, Cohort()).now
    told = {row.stage: row.recorded for row in found.stages}
    mine = recount.sent(lived.desk.store.path, lived.last)

    begun_anew = sum(one.loop.events != progress(one.loop.events) for one in found.sent.values())
    assert mine["sent"] - told["sent"] in range(begun_anew + 1)
    assert {s: told[s] for s in ("seen", "result")} == {s: mine[s] for s in ("seen", "result")}


def test_a_month_that_is_over_never_changes_as_it_was_known_then(lived: Lived) -> None:
    """Read from the register as it was when the month ended, and from what it is now."""
    assert lived.practice.as_they_were
    for last, copy in lived.practice.as_they_were.items():
        cohort = Cohort(Period(START, last, "asked"))
        now = accounts(lived.desk, cohort).then
        store = open_store(copy)
        next_morning = clock_at(last + timedelta(days=1), 1)
        then = accounts(replace(lived.desk, store=store, clock=next_morning), cohort).then
        store.close()
        assert now is not None and then is not None
        assert now.rechecks == then.rechecks and then.rechecks.entries, last
        assert now.referrals == then.referrals, last
