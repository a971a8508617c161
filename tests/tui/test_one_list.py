"""One answer to what is due today: in the commands, on the screens, in every count.

On a quarter of the invented practice, as the desk has it.
"""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Connection, event

from recall.accounts.cohort import Day
from recall.accounts.states import RECHECK_STATES
from recall.care.case import URGENCIES
from recall.cli.main import main
from recall.clock import Clock
from recall.desk.contacts.contacting import log_contact
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.oversight.accounts import reading
from recall.desk.oversight.counts import counts
from recall.desk.oversight.glance import at_once
from recall.desk.oversight.report import register_report
from recall.desk.people import person_card
from recall.desk.people.timeline import timeline
from recall.desk.post.batches import prepare
from recall.desk.post.choosing import Chosen, choose
from recall.desk.post.weekly import monday_of
from recall.desk.worklists import call_card
from recall.desk.worklists.call_lines import call_lines
from recall.desk.worklists.lists import for_clinician, lost, overdue
from recall.desk.worklists.queue_lines import queue_lines
from recall.desk.worklists.referral_list import referrals
from tests.tui.conftest import ON
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.screens.queue import QueueScreen


@pytest.fixture
def asked(desk: Desk) -> int:
    """The last person of the day's calls has asked for a clinician; their follow-up."""
    number: int = call_card.order(desk)[-1]
    log_contact(desk, number, None, Attempt("phone", "wants_clinician"))
    return number


def typed(practice: Path, capfd: pytest.CaptureFixture[str], *words: str) -> str:
    capfd.readouterr()
    where = ("--config", str(practice), "--by", "lund", "--on", ON.isoformat())
    assert main([*words, *where]) == 0
    return capfd.readouterr().out


def test_the_queue_is_the_same_in_every_form_and_on_the_screen(
    app: DeskApp, desk: Desk, practice: Path, asked: int, capfd: pytest.CaptureFixture[str]
) -> None:
    rows = queue_lines(desk)
    numbers = [row.follow_up_id for row in rows]
    assert len(numbers) > 20 and len({row.person_id for row in rows}) == len(rows)
    assert asked not in numbers
    assert for_clinician(desk)[0].follow_up_id == asked

    as_csv = csv.DictReader(
        io.StringIO(typed(practice, capfd, "queue", "--csv").removeprefix("\ufeff"))
    )
    assert [int(row["follow_up_id"]) for row in as_csv] == numbers
    as_json = json.loads(typed(practice, capfd, "queue", "--json"))
    assert [row["follow_up_id"] for row in as_json] == numbers
    plain = re.sub(r"\s+", " ", typed(practice, capfd, "queue"))
    assert [int(n) for n in re.findall(r" Next: [^\[\]]*\[(\d+)\]", plain)] == numbers
    assert list(call_card.order(desk)) == numbers
    cards = call_card.call_cards(desk, call_card.order(desk))
    assert [(c.follow_up_id, c.step, c.call_by) for c in cards] == [
        (row.follow_up_id, row.step, row.latest) for row in rows
    ]

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        screen = driver.app.screen
        assert isinstance(screen, QueueScreen)
        lines = screen.row_list.numbers
        assert sorted(screen.lines.people) == sorted(numbers)
        assert list(lines) == [number for number in numbers if number in lines]

    drive(app, steps)


def test_every_count_is_the_length_of_its_list(app: DeskApp, desk: Desk, asked: int) -> None:
    found, sooner = counts(desk), at_once(desk.store, desk.clock)
    assert found.by_step is not None and sooner is not None
    assert replace(found, by_step=None) == sooner
    lengths = {
        "people to reach today": (found.by_step.to_reach, len(queue_lines(desk))),
        "people wait for a clinician": (found.by_step.clinician, len(for_clinician(desk))),
        "overdue, booked or not": (found.overdue, len(overdue(desk))),
        "lost: a decision is awaited": (found.by_step.lost, len(lost(desk))),
        "referrals to chase": (found.referrals, len(referrals(desk))),
    }
    shown: list[str] = []

    async def steps(driver: Driver) -> None:
        shown.append(driver.words)
        await driver.press("f3")
        assert f"{found.by_step and found.by_step.to_reach:,} left today" in driver.words

    drive(app, steps)
    for words, (counted, length) in lengths.items():
        assert counted == length > 0
        assert f"{counted:,} {words}" in shown[0]
    assert f"{found.by_step.letters:,} letters to go out" in shown[0]


def test_the_letters_that_are_counted_are_those_that_are_chosen(desk: Desk) -> None:
    before = counts(desk).by_step
    with desk.store.read() as session:
        chosen = choose(desk, session, monday_of(desk.today)).chosen
    assert before is not None and before.letters == len(chosen)
    ranks = [URGENCIES.index(c.about.status.urgency) for c in chosen]
    alone = [n for n, c in enumerate(chosen) if _of(chosen, c) == 1]
    assert [ranks[n] for n in alone] == sorted(ranks[n] for n in alone)
    prepare(desk)
    after = counts(desk).by_step
    assert after is not None and after.letters == 0


def _of(chosen: Sequence[Chosen], one: Chosen) -> int:
    return sum(each.about.person_id == one.about.person_id for each in chosen)


def test_the_months_report_counts_the_lists_of_its_last_day(desk: Desk) -> None:
    """People, since the lists have a line for what is looked at together, the report one an ask."""
    last = desk.today.replace(day=1) - timedelta(days=1)
    then = replace(desk, clock=Clock.at(last, desk.clock.zone))
    with desk.store.read() as session:
        found = reading(desk, session, Day(last)).rechecks
    listed = {row.person_id for row in overdue(then)}

    assert {e.person for e in found.in_state("lost")} == {row.person_id for row in lost(then)}
    late = found.in_state("late", "late_booked", "lost")
    assert {e.person for e in late if e.missed} == listed != set()
    lines = [line for line in register_report(desk, last).lines if line.part == "open at the end"]
    open_ones = [each for each in found.entries if each.state in OPEN]
    assert sum(line.count for line in lines) == len(open_ones) > 0


OPEN = {state.id for state in RECHECK_STATES if state.part == "open"}


# -- the statements that really run --------------------------------------------------------------

DAY_LISTS: dict[str, Callable[[Desk], object]] = {
    "counts": counts,
    "at once": lambda desk: at_once(desk.store, desk.clock),
    "calls": call_card.order,
    "call lines": call_lines,
    "call cards": lambda desk: call_card.call_cards(desk, call_card.order(desk)[:40]),
    "queue": queue_lines,
    "for a clinician": for_clinician,
    "overdue": overdue,
    "lost": lost,
    "referrals": referrals,
    "letters": lambda desk: _chosen(desk),
    "a page": lambda desk: person_card.person(desk, _first(desk)),
    "a timeline": lambda desk: timeline(desk, _first(desk)),
}
SMALL = ("staff", "adult_for", "to_plan", "batch")
"""Tables that may be read whole: a practice has few of these."""


def _first(desk: Desk) -> str:
    return call_card.call_cards(desk, call_card.order(desk)[:1])[0].reference


def _chosen(desk: Desk) -> object:
    with desk.store.read() as session:
        return choose(desk, session, monday_of(desk.today))


@contextmanager
def issued(desk: Desk) -> Iterator[list[tuple[str, object]]]:
    """Collect every statement that the engine issues, with its values."""
    found: list[tuple[str, object]] = []

    def keep(_c: object, _cursor: object, said: str, values: object, *_more: object) -> None:
        found.append((said, values))

    event.listen(desk.store.engine, "before_cursor_execute", keep)
    try:
        yield found
    finally:
        event.remove(desk.store.engine, "before_cursor_execute", keep)


@contextmanager
def planning(desk: Desk, analysed: bool) -> Iterator[Connection]:
    """Give a connection whose planner knows nothing, or a register a thousand times as large."""
    with desk.store.engine.connect() as connection:
        if analysed:
            connection.exec_driver_sql("ANALYZE")
            stats = connection.exec_driver_sql("SELECT rowid, stat FROM sqlite_stat1").all()
            for number, stat in stats:
                rows, _, rest = str(stat).partition(" ")
                larger = f"{1000 * int(rows)} {rest}".strip()
                said = "UPDATE sqlite_stat1 SET stat = ? WHERE rowid = ?"
                connection.exec_driver_sql(said, (larger, number))
            connection.exec_driver_sql("ANALYZE sqlite_schema")
        yield connection


@pytest.mark.parametrize("analysed", [False, True])
@pytest.mark.parametrize("name", DAY_LISTS)
def test_no_list_of_the_day_reads_a_table_whole(desk: Desk, name: str, analysed: bool) -> None:
    """The plan of each statement as it is issued, with the values that it is issued with."""
    with issued(desk) as statements:
        DAY_LISTS[name](desk)
    asked = [(s, v) for s, v in statements if s.lstrip().upper().startswith("SELECT")]
    assert asked

    wrong = []
    with planning(desk, analysed) as connection:
        partial = partial_indexes(connection)
        for said, values in asked:
            steps = plan_of(connection, said, values)
            wrong += [(s, said) for s in steps if reads_whole(s, said, partial)]
    assert wrong == []


def plan_of(connection: Connection, said: str, values: Any = ()) -> list[str]:
    rows = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {said}", values).all()
    return [str(row[3]) for row in rows]


def partial_indexes(connection: Connection) -> set[str]:
    """Return the indexes over a few rows: what is open, what waits; not over all that stands."""
    said = "SELECT name, sql FROM sqlite_schema WHERE type = 'index' AND sql LIKE '% WHERE %'"
    found = {str(name): str(sql).rpartition(" WHERE ")[2] for name, sql in plain(connection, said)}
    return {name for name, where in found.items() if not where.startswith("void_at IS NULL")}


def plain(connection: Connection, said: str) -> Sequence[tuple[Any, ...]]:
    return [tuple(row) for row in connection.exec_driver_sql(said)]


def reads_whole(step: str, said: str, partial: set[str]) -> bool:
    """Return whether a step goes over a whole table that grows; the first row alone does not.

    A history by its kind alone, of one person, goes over everybody's.
    """
    if step.endswith("ix_history_entity_entity_id (entity=?)") and "history.person_id" in said:
        return True
    scanned = re.match(r"SCAN (\w+)(?: USING (?:COVERING )?INDEX (\w+))?", step)
    if scanned is None or step == "SCAN CONSTANT ROW":  # of no table: a list of nothing
        return False
    if "json_each" in said and step.endswith("VIRTUAL TABLE INDEX 1:"):  # numbers handed over
        return False
    if f") AS {scanned[1]}" in said:  # what a step of its own found
        return False
    if scanned[1] in SMALL or scanned[2] in partial:
        return False
    return " LIMIT " not in said.replace("\n", " ")


def test_the_plans_notice_a_list_that_reads_a_table_whole(desk: Desk) -> None:
    """The check above can fail: by another column there is no index."""
    said = "SELECT id FROM follow_up WHERE next_step_on <= '2026-09-07' ORDER BY id"
    with planning(desk, analysed=False) as connection:
        partial = partial_indexes(connection)
        assert "ix_follow_up_queue" in partial
        assert any(reads_whole(step, said, partial) for step in plan_of(connection, said))
