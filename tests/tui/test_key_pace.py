"""Keys that come too fast: nothing typed or pasted by mistake is recorded, and none is lost.

The clock by which keys are judged is moved by the tests; nothing here waits.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.desk.core.session import Desk
from tests.tui.driving import Driver, drive
from tests.tui.test_calls import calls, stored
from tui.app import DeskApp
from tui.commands.outcomes import OUTCOME_COMMANDS
from tui.register.key_pace import (
    OTHER_IN_HAND,
    PASTE,
    READ,
    TOGETHER,
    TOO_EARLY,
    TOO_FAST,
    KeyClock,
    KeyPace,
)

WRITING = [command.keys for command in OUTCOME_COMMANDS if command.writes]
ASKING = [command.keys for command in OUTCOME_COMMANDS if not command.writes]
NAME = "thackwell 1 september"


def test_a_key_pressed_alone_records(app: DeskApp, desk: Desk) -> None:
    """It waits until no other may come; then it is stored for whom it was pressed."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row = calls(driver).row
        assert row is not None
        await driver.burst("1", apart=TOGETHER - 0.01)
        assert stored(desk) == []
        driver.clock.move(0.02)
        await driver.settle()
        assert stored(desk) == [(row.follow_up, "phone", "no_answer")]

    drive(app, steps)


def test_a_key_answers_at_once_and_records_a_moment_later(app: DeskApp, desk: Desk) -> None:
    """Whoever pressed it sees which it was; a second one takes the word away with the first."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        await driver.burst("1", apart=TOGETHER - 0.01)
        assert "Last No answer …" in driver.words
        assert stored(desk) == []
        await driver.burst("2")
        driver.clock.move(1)
        await driver.settle()
        assert "Last nothing yet" in driver.words and TOO_FAST in driver.words
        assert stored(desk) == []

    drive(app, steps)


def test_the_clock_of_the_machine_lets_a_key_act_as_well(app: DeskApp, desk: Desk) -> None:
    """The one that the desk has where no test moves it."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        app.key_clock = driver.clock = KeyClock()  # type: ignore[assignment]
        driver._send("down")
        await driver.settle()
        row = calls(driver).row
        assert row is not None
        await driver.until(lambda: calls(driver)._pace.has_read(row.follow_up, KeyClock().now()))
        driver._send("1")
        await driver.until(lambda: stored(desk) != [])
        assert stored(desk) == [(row.follow_up, "phone", "no_answer")]

    drive(app, steps)


@pytest.mark.parametrize("second", ["1", "d", "b", "q", "enter", "v"])
def test_two_keys_as_fast_as_typing_record_nothing(second: str, app: DeskApp, desk: Desk) -> None:
    """Neither of them, whichever come; one sentence says so, until something is recorded."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row = calls(driver).row
        assert row is not None
        for first in WRITING:
            await driver.burst(first, second)
            driver.clock.move(1)
            await driver.settle()
            assert driver.where == "QueueScreen", first
            assert driver.words.count(TOO_FAST) == 1, first
            assert calls(driver).row_list.number == row.follow_up
        assert stored(desk) == []
        await driver.press("2")
        assert TOO_FAST not in driver.words

    drive(app, steps)

    assert [outcome for _, _, outcome in stored(desk)] == ["left_message"]


def test_a_text_typed_into_the_list_records_nothing(app: DeskApp, desk: Desk) -> None:
    """A terminal that marks no pasted text hands it on as keys, one after the other."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        for text in ("1", "12", "911", "q1", "2 High Street", "1\n1\n"):
            await driver.burst(*("enter" if each == "\n" else each for each in text), "1")
            driver.clock.move(1)
            await driver.settle()
            assert driver.where == "QueueScreen", text
            assert TOO_FAST in driver.words, text

    drive(app, steps)

    assert stored(desk) == []


@pytest.mark.parametrize("text", ["abc1", "n1", "b1\n1\n", "6thu", "\n1", "1a", "/x"])
def test_no_letter_of_a_pasted_text_opens_a_sheet(text: str, app: DeskApp, desk: Desk) -> None:
    """Not even the first: what follows comes sooner than any hand could type it."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        keys = ("enter" if each == "\n" else each for each in text)
        await driver.burst(*keys, apart=PASTE / 20)
        driver.clock.move(1)
        await driver.settle()
        assert driver.where == "QueueScreen", driver.text
        assert TOO_FAST in driver.words

    drive(app, steps)

    assert stored(desk) == []


def test_a_pasted_line_never_goes_through_a_sheet(app: DeskApp, desk: Desk) -> None:
    """The letter opens the sheet, the rest goes into it, and its line end stores nothing."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        for key in ASKING:
            driver.clock.move(1)
            await driver.burst(key, *"1632", *(["enter"] * 6))
            assert driver.where == "Form", (key, driver.text)
            assert "1632" in driver.words
            assert "has only just opened" in driver.words
            await driver.press("escape", "escape")

    drive(app, steps)

    assert stored(desk) == []


def test_what_is_typed_while_a_sheet_opens_goes_into_it(app: DeskApp, desk: Desk) -> None:
    """Also through Enter: as many keys as come at once, all in the fields they were meant for."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row = calls(driver).row
        assert row is not None
        await driver.burst("s", *NAME, "enter", *"+3")
        assert driver.where == "Form"
        assert f"{NAME} " in driver.words and " +3" in driver.words
        await driver.press("enter")
        assert driver.where == "QueueScreen"
        assert row.name in driver.words
        assert "10 September" in driver.words

    drive(app, steps)


def test_what_is_typed_while_the_register_is_read_for_a_sheet_goes_into_it(app: DeskApp) -> None:
    """A death is read first: its sheet is not there yet when the name is typed."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        await driver.burst("x", *"Sam Wren")
        assert driver.where == "Form"
        assert "Sam Wren" in driver.words

    drive(app, steps)


def test_what_is_typed_for_a_sheet_that_does_not_open_is_no_command(
    app: DeskApp, desk: Desk
) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        await driver.burst("u", "n", *"1", apart=TOGETHER)
        assert driver.where == "QueueScreen", driver.text
        assert "it did nothing." in driver.words

    drive(app, steps)

    assert stored(desk) == []


def test_whoever_has_only_just_come_into_hand_is_read_first(app: DeskApp, desk: Desk) -> None:
    """Down, then a key at once: nothing. The same key a moment later records it."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        await driver.burst("down", apart=0)
        row = calls(driver).row
        assert row is not None
        driver.clock.move(READ - 0.01)
        await driver.burst("1", apart=1)
        assert TOO_EARLY in driver.words
        assert stored(desk) == []
        assert calls(driver).row_list.number == row.follow_up
        await driver.press("1")
        assert stored(desk) == [(row.follow_up, "phone", "no_answer")]

    drive(app, steps)


def test_a_key_held_down_records_once(app: DeskApp, desk: Desk) -> None:
    """A keyboard repeats after about half a second, thirty times a second."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        await driver.burst("1", apart=0.5)
        await driver.burst(*["1"] * 60, apart=0.033)
        driver.clock.move(1)
        await driver.settle()

    drive(app, steps)

    assert len(stored(desk)) == 1


def test_somebody_else_comes_into_hand_while_a_key_waits(app: DeskApp, desk: Desk) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        await driver.burst("1", apart=0)
        numbers = calls(driver).row_list.numbers
        calls(driver).row_list.show(numbers[1:])
        driver.clock.move(1)
        await driver.settle()
        assert OTHER_IN_HAND in driver.words

    drive(app, steps)

    assert stored(desk) == []


def test_an_arrow_after_a_key_records_for_whom_it_was_pressed(app: DeskApp, desk: Desk) -> None:
    """No pasted text holds an arrow: the key before it was meant."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row = calls(driver).row
        assert row is not None
        await driver.burst("1", "down")
        assert stored(desk) == [(row.follow_up, "phone", "no_answer")]

    drive(app, steps)


@pytest.mark.parametrize("area", ["f3", "f6", "f7"])
def test_pasted_text_does_nothing_in_a_list(area: str, app: DeskApp, desk: Desk) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press(area)
        before = driver.where
        for text in ("1", "12 High Street\nWrenfield\n", "x", "\x1b[B1"):
            await driver.paste(text)
            driver.clock.move(1)
            await driver.settle()
            assert driver.where == before, text
            assert "Pasted text does nothing here." in driver.words

    drive(app, steps)

    assert stored(desk) == []


def test_pasted_text_takes_back_the_key_before_it(app: DeskApp, desk: Desk) -> None:
    """The first letter typed, the rest pasted: both were meant for another window."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        driver._send("1")
        await driver.paste("632 960123")
        driver.clock.move(1)
        await driver.settle()

    drive(app, steps)

    assert stored(desk) == []


def test_pasted_text_goes_into_the_sheet_that_opens(app: DeskApp) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        driver._send("n")
        await driver.settle()
        driver.clock.move(2 * PASTE)
        await driver.paste("rings back\nafter four")
        assert driver.where == "Form"
        assert "rings back / after four" in driver.words

    drive(app, steps)


def test_pasted_text_is_no_answer_to_a_question(app: DeskApp, desk: Desk) -> None:
    async def steps(driver: Driver) -> None:
        await driver.press("f3", "1", "2")
        await driver.press("enter", "u")
        assert driver.where == "Ask", driver.text
        await driver.paste("y")
        assert driver.where == "Ask"
        assert "no answer here" in driver.words

    drive(app, steps)

    assert len(stored(desk)) == 2


@pytest.mark.parametrize("key", ["0", "m", "x"])
def test_what_destroys_is_asked_about_once(key: str, app: DeskApp, desk: Desk) -> None:
    """Its own key once more records nothing; Escape leaves everything as it was."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        row = calls(driver).row
        assert row is not None
        await driver.press(key)
        assert driver.where == "Form"
        assert row.name in driver.words
        await driver.press(key)
        assert driver.where == "Form"
        await driver.press("escape", "escape")
        assert calls(driver).row_list.number == row.follow_up

    drive(app, steps)

    assert stored(desk) == []


def test_a_letter_that_opens_a_sheet_never_records_there(app: DeskApp, desk: Desk) -> None:
    """Each letter of the list that opens a sheet, pressed five times more."""

    async def steps(driver: Driver) -> None:
        await driver.press("f3")
        for key in (*ASKING, "b", "n", "s"):
            await driver.press(*[key] * 6)
            assert driver.where == "Form", (key, driver.text)
            await driver.press("escape", "escape")
            assert driver.where == "QueueScreen", key

    drive(app, steps)

    assert stored(desk) == []


TIMES = st.lists(st.floats(0, 2), min_size=1, max_size=30)


@given(TIMES, st.booleans())
def test_what_comes_near_another_key_never_writes(gaps: list[float], means: bool) -> None:
    """Of any row of keys, only those write that no other key is near to, before or after."""
    pace = KeyPace()
    pace.show(7, -READ)
    at, pressed, written = 0.0, [], []
    for gap in gaps:
        at += gap
        pressed.append(at)
        if pace.waited_alone(at):
            pace.done()
        verdict = pace.judge(at, "any" if means else "", 7, means=True)
        if verdict == "wait":
            written.append(at)
        elif verdict == "too fast" and written and at - written[-1] < TOGETHER:
            written.pop()

    def alone(each: float) -> bool:
        return sum(abs(each - other) < TOGETHER for other in pressed) == 1

    assert all(alone(each) for each in written)
    assert written == ([each for each in pressed if alone(each)] if means else [])
