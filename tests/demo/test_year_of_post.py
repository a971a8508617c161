"""A year of the invented practice's post: nobody gets two recall letters in a week, or one twice.

Batches are made late and early, posted late and early, and caught up after the jobs stood still;
reception rings meanwhile and letters come back. The suite takes one in so many people. All of
them:

    RECALL_EVERY=1 python -m pytest tests/demo/test_year_of_post.py
"""

from __future__ import annotations

import csv
import os
import random
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import update

from recall.clock import Clock
from recall.config import load
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk, open_desk
from recall.desk.plans import decisions
from recall.desk.plans.decisions import Decided
from recall.desk.plans.passing_time import bring_up_to_date
from recall.desk.post.batches import prepare
from recall.desk.post.posting import batches, mark_posted, mark_returned
from recall.desk.post.showing import preview
from recall.desk.post.weekly import is_recall, monday_of
from recall.desk.practice import demo, demo_files
from recall.desk.worklists import lists
from recall.desk.worklists.day_list import Part
from recall.desk.worklists.queue_lines import queue_lines
from recall.errors import RecallError
from recall.records import tables
from recall.records.database.store import Store
from recall.records.journal import history
from tests.busy import without_changeover
from tests.desk.practice import rows

EVERY = int(os.environ.get("RECALL_EVERY", "20"))
SEED = int(os.environ.get("RECALL_SEED", "2"))
WEEKS = 52
OUTCOMES = (
    *("no_answer",) * 8,
    *("left_message",) * 4,
    *("call_again_on",) * 2,
    *("wants_letter",) * 3,
    "wrong_number",
)


@dataclass
class Year:
    """The practice's staff through a year, with their luck."""

    desk: Desk
    luck: random.Random
    slept: list[date] = field(default_factory=list)
    """Mondays on which the jobs did not run."""

    def at(self, day: date, by: str) -> Desk:
        return replace(self.desk, clock=Clock.at(day)).acting_as(by)

    def week(self, monday: date) -> None:
        """One week: letters made, calls, letters posted, perhaps next week's made ahead."""
        post = self.at(monday, "thackray")
        bring_up_to_date(self.at(monday, "jobs"))
        if self.luck.random() < 0.12:
            self.slept.append(monday)
        else:
            for missed in (*self.slept, monday):
                printed(post, prepare(post, missed).batch_id)
            self.slept.clear()
        self.post(monday + timedelta(days=1), 0.6)
        self.clinician(monday + timedelta(days=2))
        self.calls(monday + timedelta(days=2))
        friday = monday + timedelta(days=4)
        if self.luck.random() < 0.2:
            ahead = self.at(friday, "thackray")
            printed(ahead, prepare(ahead, monday + timedelta(days=7)).batch_id)
        self.post(friday, 0.7)

    def post(self, day: date, share: float) -> None:
        """Take what is printed to the post, if there is time; something may have come back."""
        desk = self.at(day, "thackray")
        for place, batch in enumerate(batches(desk, WEEKS)):
            if not batch.posted_on:
                if batch.printed_at and self.luck.random() < share:
                    mark_posted(desk, batch.number)
            elif place < 4 and self.luck.random() < 0.2:
                gone = [x for x in preview(desk, batch.number) if x.state == "posted"]
                for letter in gone[:1]:
                    mark_returned(desk, letter.number)

    def calls(self, day: date) -> None:
        desk = self.at(day, "thackray")
        for line in queue_lines(desk, Part(40 // EVERY + 1)):
            if line.step == "address_check":
                still = self.luck.random() < 0.7
                quietly(lambda n=line.follow_up_id, still=still: contacting.address_checked(
                    desk, n, None, "by the GP's list", still_there=still
                ))  # fmt: skip
            else:
                quietly(lambda n=line.follow_up_id: self.call(desk, n))

    def call(self, desk: Desk, follow_up: int) -> None:
        outcome = self.luck.choice(OUTCOMES)
        until = desk.today + timedelta(days=9) if outcome == "call_again_on" else None
        contacting.log_contact(desk, follow_up, None, Attempt("phone", outcome, until=until))

    def clinician(self, day: date) -> None:
        desk = self.at(day, "quill")
        for line in lists.for_clinician(desk, Part(200 // EVERY + 5)):
            if line.step == "list_look":
                quietly(lambda n=line.follow_up_id: contacting.looked(desk, [n]))
            elif line.step == "decision":
                said = Decided("keep_trying", "as talked over", considered=True)
                quietly(lambda n=line.follow_up_id, said=said: decisions.decide(desk, [n], said))


def quietly(act: Callable[[], Any]) -> None:
    """Do what the desk may refuse."""
    with suppress(RecallError):
        act()


def printed(desk: Desk, batch_id: int | None) -> None:
    """Mark a batch as printed, without pages."""
    if batch_id is None:
        return
    letter, batch = tables.Letter.__table__, tables.Batch.__table__
    fit = (letter.c.batch_id == batch_id, letter.c.pulled_why.is_(None))
    with desk.store.write() as session:
        session.execute(update(letter).where(*fit).values(printed_at=desk.now))
        session.execute(update(batch).where(batch.c.id == batch_id).values(printed_at=desk.now))


def thin(folder: Path) -> None:
    """Keep one in so many people, and what is about them."""
    kept: set[str] = set()
    for name, column in (
        ("people", "reference"), ("visits", "person"), ("contacts", "person"),
        ("bookings", "person"),
    ):  # fmt: skip
        path = folder / f"{name}.csv"
        with path.open(encoding="utf-8-sig", newline="") as file:
            found = list(csv.DictReader(file))
        here = found[::EVERY] if name == "people" else [r for r in found if r[column] in kept]
        kept |= {row[column] for row in here}
        with path.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, found[0].keys())
            writer.writeheader()
            writer.writerows(here)


@pytest.fixture(scope="module")
def lived(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """The register after the year."""
    path = demo_files.lay_out(tmp_path_factory.mktemp("year"))
    without_changeover(path)
    thin(path.parent)
    demo.fill(path, lambda _line: None)
    desk = open_desk(load(path), by=demo.WHO, clock=Clock.at(demo.ON))
    year = Year(desk, random.Random(SEED))
    for week in range(WEEKS):
        year.week(demo.ON + timedelta(days=7 * week))
    yield desk.store
    desk.close()


def recall_letters(store: Store) -> Sequence[Any]:
    return [row for row in rows(store, tables.Letter) if is_recall(row["step"])]


def test_nobody_gets_two_recall_letters_in_a_week(lived: Store) -> None:
    """Both homes of a child get the one letter; it is counted once."""
    posted = {
        (row["person_id"], monday_of(row["posted_on"]), row["follow_up_id"], row["step"])
        for row in recall_letters(lived)
        if row["posted_on"]
    }
    weeks = Counter((person, week) for person, week, *_about in posted)
    assert len(weeks) > 200 // EVERY
    assert len({week for _person, week in weeks}) > WEEKS // 5
    assert {who: count for who, count in weeks.items() if count > 1} == {}


def test_no_step_of_anybody_is_written_about_twice(lived: Store) -> None:
    """Counting what a letter did for others beside the one that it names."""
    left = {row["id"]: row for row in recall_letters(lived) if row["posted_on"]}
    did = {(row["follow_up_id"], row["round"], row["step"], row["id"]) for row in left.values()}
    homes = {
        number: (row["follow_up_id"], row["round"], row["step"]) for number, row in left.items()
    }
    steps: dict[Any, set[Any]] = {}
    for follow_up, turn, step, number in did:
        steps.setdefault((follow_up, turn, step), set()).add(homes[number])
    for row in rows(lived, tables.AlsoAbout):
        if row["letter_id"] in homes:
            key = row["follow_up_id"], row["round"], row["step"]
            steps.setdefault(key, set()).add(homes[row["letter_id"]])
    assert {step: by for step, by in steps.items() if len(by) > 1} == {}


def test_letters_that_were_too_many_were_pulled_and_none_waits_for_ever(lived: Store) -> None:
    letters = recall_letters(lived)
    assert any("one a week" in (row["pulled_why"] or "") for row in letters)
    waiting = [row for row in letters if not row["posted_on"] and not row["pulled_why"]]
    assert all((row["on"] - demo.ON).days > 7 * (WEEKS - 6) for row in waiting)


def test_the_history_is_whole(lived: Store) -> None:
    assert history.verify(lived) == ()
