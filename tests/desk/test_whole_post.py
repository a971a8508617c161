"""The post of a whole practice over some weeks: written, held, pulled, printed and posted."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from pathlib import Path

from recall.desk.contacts import bookings
from recall.desk.contacts.entries import Booking
from recall.desk.core.session import Desk
from recall.desk.people import editing
from recall.desk.plans import passing_time
from recall.desk.post import batches, posting, printing, showing
from tests.desk.posting import letters, number
from tests.desk.telling import Looks, Story
from tests.desk.whole_practice import ON, follow_up


def brought_up(desk: Desk) -> None:
    """Let time do what it does at night."""
    passing_time.bring_up_to_date(desk, everybody=True)


def printed(desk: Desk, week_on: date) -> object:
    return [printing.print_batch(desk, batch) for batch in printing.unprinted(desk, week_on)]


def test_all_that_the_post_of_some_weeks_writes(whole: Desk) -> None:
    told = Story(whole)
    told.at(ON + timedelta(days=7), "rob")
    told("time goes by", brought_up)
    came = told("prepared", batches.prepare)
    told("again", batches.prepare)
    told("shown", showing.preview, 2)
    waiting = [number(row) for row in letters(whole) if not row["printed_at"]]
    told("held", posting.hold, waiting[0], " Ring first. ")
    told("asked not to be contacted", editing.record_objection, "W1573")
    day = Booking(datetime(2026, 9, 24, 10), why_late="Away till then")
    told(
        "booked",
        bookings.book,
        follow_up(whole, "W1101"),
        None,
        day,
    )
    told("printed", printed, came.week_on)
    told("pile", posting.pile_of, 2)
    told("let go", posting.unhold, waiting[0])
    told("printed after all", printed, came.week_on)
    told("posted, one taken off", posting.mark_posted, 2, 1)
    told("posted", posting.mark_posted, 2)
    told("no such batch", posting.mark_posted, 9)
    told.at(ON + timedelta(days=28))
    told("time goes by", brought_up)
    came = told("prepared", batches.prepare)
    told("printed", printed, came.week_on)
    told("posted", posting.mark_posted, 3)
    told("the batches", posting.batches)
    told("the last one", posting.batches, 1)
    told.agrees("whole_post")


def test_the_letters_of_some_weeks(whole: Desk) -> None:
    told = Looks(whole)
    for weeks in (1, 4, 8, 12):
        told.at(ON + timedelta(weeks=weeks), "rob")
        brought_up(told.desk)
        came = told("prepared", batches.prepare)
        printed(told.desk, came.week_on)
        for batch in posting.batches(told.desk, 1):
            told("letters", showing.preview, batch.number)
            posting.mark_posted(told.desk, batch.number)
    told.agrees("whole_weeks_of_letters")


def test_the_list_beside_the_letters(whole: Desk, tmp_path: Path) -> None:
    told = Looks(whole)
    told.at(ON + timedelta(weeks=4), "rob")
    brought_up(told.desk)
    came = batches.prepare(told.desk)
    printed(told.desk, came.week_on)
    folder = whole.config.files.letters
    for path in sorted(folder.rglob("*.csv")):
        told(path.name, lambda _desk, path=path: path.read_text("utf-8-sig"))
    told("files", lambda _desk: sorted(str(p.relative_to(folder)) for p in folder.rglob("*")))
    told.agrees("whole_letter_lists")
