"""What another desk did shows on every list by itself, and takes nothing from whoever types."""

from __future__ import annotations

from collections.abc import Callable
from contextvars import copy_context
from datetime import date, datetime, time
from functools import partial
from pathlib import Path

import pytest

from recall.desk.contacts import bookings, contacting
from recall.desk.contacts.bookings import Booking
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.people.editing import edit_details
from recall.desk.people.new_person import NewPerson, add_person
from recall.desk.plans.decisions import Decided, decide
from recall.desk.post.batches import prepare
from recall.desk.practice.matters import Entry, write_down
from recall.desk.worklists import call_card, lists
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tui.app import DeskApp
from tui.manager.names import KEYS
from tui.screens.live import LiveScreen
from tui.screens.manager import ManagerScreen
from tui.screens.queue import QueueScreen

WORDS = "Zyxland"


def _message(desk: Desk) -> None:
    write_down(desk, None, Entry("message", WORDS, "thackray"))


def _somebody_new(desk: Desk) -> None:
    add_person(desk, NewPerson(WORDS, "Ada", date(1950, 4, 3), phone="01632 960777"))


def _first_to_ring(desk: Desk) -> str:
    return call_card.call_cards(desk, call_card.order(desk)[:1])[0].reference


def _warning(desk: Desk) -> None:
    edit_details(desk, _first_to_ring(desk), None, caller_note=WORDS)


def _booking(desk: Desk) -> None:
    last = call_card.order(desk)[-1]
    starts = datetime.combine(desk.today, time(16, 40))
    bookings.book(desk, last, None, Booking(starts, 20, "osei", "nothing sooner"))


def _letters(desk: Desk) -> None:
    prepare(desk)


LOOKS = True
"""Here the screens look by themselves."""
EACH: tuple[tuple[str, tuple[str, ...], Callable[[Desk], None], str], ...] = (
    ("matters", ("f8",), _message, WORDS),
    ("today", (), _message, "1 matter"),
    ("find", ("f4", *WORDS), _somebody_new, f"{WORDS}, Ada"),
    ("a person", ("f3", "enter"), _warning, WORDS),
    ("appointments", ("f5",), _booking, "16:40"),
    ("post", ("f7",), _letters, " written; no file yet"),
)


@pytest.mark.parametrize(
    ("keys", "write", "shows"), [e[1:] for e in EACH], ids=[e[0] for e in EACH]
)
def test_what_another_desk_writes_shows_without_a_key(
    keys: tuple[str, ...],
    write: Callable[[Desk], None],
    shows: str,
    app: DeskApp,
    practice: Path,
) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press(*keys)
        assert shows not in driver.words
        other = opening(practice, "lund")
        write(other)
        other.close()
        await driver.until(lambda: shows in driver.words)

    drive(app, steps, (120, 40))


def test_who_reached_another_desk_leaves_the_calls_and_the_register_and_a_complaint_stays(
    app: DeskApp, desk: Desk
) -> None:
    """What was refused is still said, however often the list is read by itself."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        screen = driver.app.screen
        assert isinstance(screen, QueueScreen)
        number = screen.row_list.number
        card = call_card.call_cards(desk, call_card.order(desk)[-1:])[0]
        await driver.paste("1")
        assert "Pasted text does nothing here" in driver.words
        theirs = Attempt("phone", "will_call_back", by_them=True)
        contacting.log_contact(desk, card.follow_up, card.version, theirs)
        await driver.until(lambda: card.follow_up not in screen.row_list.numbers)
        assert "Pasted text does nothing here" in driver.words
        assert screen.row_list.number == number

    drive(app, steps)


def test_a_sheet_is_not_touched_and_the_list_below_it_keeps_up_when_it_goes(
    app: DeskApp, desk: Desk
) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "n")
        await driver.type("half a no")
        card = call_card.call_cards(desk, call_card.order(desk)[-1:])[0]
        theirs = Attempt("phone", "will_call_back", by_them=True)
        contacting.log_contact(desk, card.follow_up, card.version, theirs)
        await driver.type("te")
        assert "half a note" in driver.words
        await driver.press("escape", "escape")
        screen = driver.app.screen
        assert isinstance(screen, QueueScreen)
        await driver.until(lambda: card.follow_up not in screen.row_list.numbers)

    drive(app, steps)


def test_the_accounts_are_read_again_by_themselves_and_the_line_stays_marked(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    first = next(line for line in lists.overdue(desk) if line.latest >= date(2026, 7, 1))

    async def steps(driver: Driver) -> None:
        app._opening = lambda: opening(practice, "quill")
        await driver.press("f6", KEYS["accounts"], "down")
        screen = driver.app.screen
        assert isinstance(screen, ManagerScreen)
        was, read = screen.row, screen.listed
        other = opening(practice, "quill")
        decided = Decided("clinician_decision", "seen at the hospital last week")
        decide(other, [first.follow_up_id or 0], decided)
        other.close()
        await driver.until(lambda: screen.listed is not read)
        assert screen.listed is not None and read is not None
        assert list(screen.listed.rows) != list(read.rows)
        assert (screen.row.of, screen.row.state) == (was.of, was.state)

    drive(app, steps, (120, 40))


def test_a_clock_that_still_ticks_while_the_desk_closes_finds_nothing_to_do(app: DeskApp) -> None:
    """The screens are taken down by then; an error there would end the desk with a complaint."""
    ticks: list[Callable[[], None]] = []

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        screen = driver.app.screen
        assert isinstance(screen, LiveScreen)
        screen.call_later(lambda: ticks.append(partial(copy_context().run, screen.keep_up)))
        await driver.settle()

    drive(app, steps)
    (tick,) = ticks
    assert not app.screen_stack
    tick()
