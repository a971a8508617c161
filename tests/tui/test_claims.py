"""A claim goes on as long as somebody is in hand, and ends with whoever took it."""

from __future__ import annotations

import asyncio
import os
import signal
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from recall.desk.contacts import contacting
from recall.desk.contacts.allowed import SILENT
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.worklists import call_card
from recall.errors import Conflict
from recall.records import tables
from tests.desk.practice import rows
from tests.tui.conftest import opening
from tests.tui.driving import Driver, drive
from tests.tui.test_in_hand import calls
from tui.app import DeskApp
from tui.calls import acts
from tui.register.hand import Hand
from tui.screens.call_list import EACH


def minutes_on(desk: Desk, minutes: int) -> Desk:
    """Return a desk so many minutes later."""
    return replace(desk, clock=replace(desk.clock, fixed=desk.now + timedelta(minutes=minutes)))


def holders(desk: Desk) -> dict[str, str]:
    """Return who has whom in hand, by the person's reference."""
    cards = call_card.call_cards(desk, call_card.order(desk))
    return {card.reference: card.claim_by for card in cards if card.claim_by}


def test_whoever_is_in_hand_stays_so_after_the_ten_minutes(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        held = calls(driver).row_list.number
        assert held is not None and app._desk is not None
        app._desk = minutes_on(app._desk, 9)
        calls(driver).each()
        await driver.settle()
        other = minutes_on(opening(practice, "lund"), 11)
        with pytest.raises(Conflict):
            contacting.claim(other, held)
        other.close()

    drive(app, steps)


def test_who_takes_the_desk_over_takes_whoever_is_in_hand(app: DeskApp, desk: Desk) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        (ref,) = holders(desk)
        await driver.press("f9")
        await driver.type("lund")
        await driver.press("enter")
        await driver.settle()
        assert app.acting == "lund", driver.text
        assert holders(desk) == {ref: "lund"}
        await driver.press("f2")
        assert holders(desk) == {}

    drive(app, steps)


@pytest.mark.parametrize("told", [signal.SIGHUP, signal.SIGTERM])
def test_a_window_that_is_closed_gives_back_whoever_was_in_hand(
    app: DeskApp, desk: Desk, told: signal.Signals
) -> None:
    before = signal.signal(told, signal.SIG_IGN)

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        assert holders(desk)
        os.kill(os.getpid(), told)
        await driver.until(lambda: not holders(desk))

    try:
        drive(app, steps)
    finally:
        signal.signal(told, before)


def test_two_desks_under_one_name_have_each_their_own_in_hand(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    here = opening(practice)
    first, second = call_card.order(here)[:2]
    mine = contacting.take_first(here, [first])
    assert mine is not None

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        assert calls(driver).row_list.number == second
        await driver.press("f2")
        (held,) = call_card.call_cards(desk, [first])
        assert held.claim_by == here.by.handle

    app._opening = lambda: minutes_on(opening(practice), 1)
    drive(app, steps)

    (held,) = call_card.call_cards(desk, [first])
    assert held.claim_by == here.by.handle
    contacting.give_all_back(here, mine[1])
    assert holders(desk) == {}
    here.close()


async def asked_in_vain(driver: Driver, first: int) -> None:
    """Mark whom another desk of one's own name has, and press the key that claims them."""
    await driver.press("f3")
    listed = calls(driver).row_list
    listed.mark(listed.numbers.index(first))
    await driver.rest()
    await driver.press("c")
    assert "in hand at another desk under your name" in driver.words


def taken(practice: Path) -> tuple[Desk, int, datetime]:
    """Open another desk under the same name; return it, whom it has in hand, and until when."""
    here = opening(practice)
    first = next(c.follow_up for c in call_card.call_cards(here, call_card.order(here)) if c.number)
    mine = contacting.take_first(here, [first])
    assert mine is not None
    return here, first, mine[1]


def test_what_one_desk_does_frees_nobody_whom_another_has_under_the_same_name(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    """Neither an outcome nor the key that lets go; the other desk's own outcome does."""
    here, first, until = taken(practice)

    def held() -> bool:
        (row,) = rows(desk.store, tables.FollowUp, id=first)
        return row["claim_by_id"] == here.by.id

    async def steps(driver: Driver) -> None:
        await asked_in_vain(driver, first)
        await driver.press("1")
        assert held()

    app._opening = lambda: minutes_on(opening(practice), 1)
    drive(app, steps)

    assert held()
    there = replace(here, in_hand=(until,))
    contacting.log_contact(there, first, None, Attempt("phone", "left_message"))
    assert not held()
    here.close()


def test_whoever_is_at_another_desk_under_one_name_is_marked_and_recorded_there_alone(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    """Neither an outcome nor a booking is taken here; what the other desk promised stands."""
    here, first, until = taken(practice)
    stored = len(rows(desk.store, tables.Contact))
    there = replace(here, in_hand=(until,))

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        listed = calls(driver).row_list
        listed.mark(listed.numbers.index(first))
        await driver.rest()
        assert "In hand at another desk under your name until" in driver.words
        for key in ("b", "s", "1"):
            await driver.press(key)
            assert driver.where == "QueueScreen", driver.text
        assert "NOT recorded: They are in hand at another desk under your name." in driver.words
        assert len(rows(desk.store, tables.Contact)) == stored
        promised = Attempt("phone", "call_again_on", until=there.today + timedelta(1))
        contacting.log_contact(there, first, None, promised)

    app._opening = lambda: minutes_on(opening(practice), 1)
    drive(app, steps)

    last = rows(desk.store, tables.Contact)[stored:]
    assert [(row["follow_up_id"], row["outcome"]) for row in last] == [(first, "call_again_on")]
    here.close()


def test_two_desks_of_one_name_that_go_on_at_once_do_not_meet(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    """The next one here was dealt with there, and who comes after is in hand there by now."""
    there = opening(practice)
    _first, second, third, fourth = call_card.order(there)[:4]

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        contacting.log_contact(there, second, None, Attempt("phone", "left_message"))
        assert contacting.take_first(there, [third]) is not None
        await driver.press("1")
        await driver.rest()
        assert calls(driver).row_list.number == fourth, driver.text
        (held,) = call_card.call_cards(desk, [fourth])
        assert held.claim_by == there.by.handle

    app._opening = lambda: minutes_on(opening(practice), 1)
    drive(app, steps)
    there.close()


def test_what_is_typed_for_whom_another_desk_has_is_no_command(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    """Typed as slowly as anybody types: no letter of it takes back, records or opens anything."""
    here, first, _until = taken(practice)

    async def steps(driver: Driver) -> None:
        await driver.press("f3", "2")
        listed = calls(driver).row_list
        listed.mark(listed.numbers.index(first))
        await driver.rest()
        done = rows(desk.store, tables.Contact)
        await driver.burst("6", *"thu 3", "enter", apart=0.4)
        assert driver.where == "QueueScreen", driver.text
        assert "was not taken up" in driver.words
        assert "it did nothing." in driver.words
        assert rows(desk.store, tables.Contact) == done
        await driver.press("enter")
        assert driver.where == "PersonScreen", driver.text

    app._opening = lambda: minutes_on(opening(practice), 1)
    drive(app, steps)
    here.close()


def test_whom_a_lost_desk_of_one_s_own_name_has_is_taken_over_by_one_key(
    app: DeskApp, practice: Path, desk: Desk
) -> None:
    """A desk that goes on is heard of each minute; one that is lost is not, and says so no more."""
    here, first, until = taken(practice)
    stored = len(rows(desk.store, tables.Contact))
    assert timedelta(seconds=EACH) < SILENT

    async def steps(driver: Driver) -> None:
        await asked_in_vain(driver, first)
        assert app._desk is not None
        app._desk = minutes_on(app._desk, 1)
        app._clock = app._desk.clock
        calls(driver).each()
        await driver.settle()
        assert "under your name has been silent since 09:00: c takes them over." in driver.words
        await driver.press("1")
        assert len(rows(desk.store, tables.Contact)) == stored
        await driver.press("c")
        assert "in your hand until" in driver.words
        await driver.press("1")

    app._opening = lambda: minutes_on(opening(practice), 1)
    drive(app, steps)

    assert rows(desk.store, tables.Contact, follow_up_id=first)[-1]["outcome"] == "no_answer"
    lost = replace(minutes_on(here, 4), in_hand=(until,))
    assert contacting.take_first(lost, [first], until) is not None
    here.close()


def test_what_is_recorded_while_a_claim_is_renewed_is_this_desk_s(desk: Desk) -> None:
    """The desk that records was opened before; it knows each claim before it is stored."""
    hand, number = Hand(), call_card.order(desk)[0]
    assert acts.take_first(desk, numbers=[number], hand=hand) == number
    recording = replace(minutes_on(desk, 1), in_hand=hand.mine)
    assert acts.take_first(minutes_on(desk, 1), numbers=[number], hand=hand) == number
    with pytest.raises(Conflict, match="another desk under your name"):
        contacting.log_contact(
            replace(recording, in_hand=()), number, None, Attempt("in_person", "left_message")
        )
    hand.will_claim(recording.now, recording.now + timedelta(minutes=10))
    contacting.log_contact(recording, number, None, Attempt("in_person", "left_message"))
    assert rows(desk.store, tables.Contact, follow_up_id=number)[-1]["outcome"] == "left_message"


def test_a_key_that_still_waits_when_the_desk_was_left_finds_no_screen(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")

    drive(app, steps)
    asyncio.run(app._look())

    assert not app.screen_stack
