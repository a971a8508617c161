"""All that a Monday's work at a whole practice says and writes, and what it says of the letters."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

from recall.desk.core import undo
from recall.desk.core.session import Desk
from recall.desk.plans import changeover, confirming
from recall.desk.post import posting, showing
from recall.desk.referrals import progress
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import rows
from tests.desk.telling import Looks, Story
from tests.desk.whole_practice import (
    ON,
    at_desk,
    came_back,
    decided,
    fill,
    posted,
    referral,
    rung,
    written_down,
)


def test_all_that_a_mondays_work_writes(store: Store, tmp_path: Path) -> None:
    desk = at_desk(store, tmp_path)
    fill(desk, tmp_path)
    told = Story(desk)
    told.at(ON, "rob")
    told("a morning at the telephone", rung)
    told("what is no recall", written_down)
    told("what undo would do", undo.last)
    told.at(ON, "clara")
    told("decided", decided)
    told.at(ON, "rob")
    told("letters", posted)
    told.at(ON + timedelta(days=4))
    told("one comes back", came_back)
    told.agrees("whole_work")


def test_every_letter_and_draft(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON, "clara")
    told("batches", posting.batches)
    told("shown", showing.preview, 1)
    told("pile", posting.pile_of, 1)
    for letter in rows(whole.store, tables.Letter):
        told(f"letter {letter['id']}", showing.text_of_letter, letter["id"])
    for row in rows(whole.store, tables.Referral, is_open=True)[::6]:
        told(f"referral {row['id']}", progress.draft_letter, row["id"])
    for ref in ("W1437", "W1145", "W1485"):
        told(f"referral of {ref}", progress.draft_letter, referral(whole, ref))
    told.agrees("whole_letters")


def test_what_waits_and_what_history_left(whole: Desk) -> None:
    told = Looks(whole)
    told.at(ON, "clara")
    told("waiting", confirming.waiting)
    told("plans", confirming.plans, 3)
    told("plans of one", confirming.plans, None, ["W1573"])
    told("portion", changeover.portion)
    told("kinds", changeover.kinds)
    told.agrees("whole_history")
