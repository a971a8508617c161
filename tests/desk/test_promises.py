"""Calls with an hour: promised, or made once more in the afternoon. No published source.

The clock changes of 2026 in the United Kingdom, 29 March and 25 October at 01:00 UTC, are those
of the Summer Time Order 2002 (legislation.gov.uk/uksi/2002/262).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import msgspec
import pytest

from recall.clock import Clock
from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.core.undo import undo
from recall.desk.worklists.call_card import call_cards_of, order
from recall.errors import InputError
from recall.records import tables
from recall.records.database.store import Store
from tests.desk.practice import FLUID, desk_at, rows, somebody, visit

THURSDAY = date(2026, 9, 3)
LONDON = ZoneInfo("Europe/London")


def at(desk: Desk, on: date, hour: int, minute: int = 0) -> Desk:
    """Return the desk at an hour of a day."""
    wall = datetime.combine(on, time(hour, minute), LONDON)
    return replace(desk, clock=Clock("Europe/London", wall))


@pytest.fixture
def three(store: Store) -> Desk:
    """Three people to be rung, on Wednesday morning."""
    desk = desk_at(store)
    for ref in ("W1", "W2", "W3"):
        visit(desk, somebody(desk, ref), right=FLUID)
    return at(desk, date(2026, 9, 2), 9)


def number(desk: Desk, ref: str) -> int:
    return call_cards_of(desk, ref)[0].follow_up


def say(desk: Desk, ref: str, outcome: str, **more: object) -> str:
    attempt = Attempt("phone", outcome, **more)  # type: ignore[arg-type]
    return contacting.log_contact(desk, number(desk, ref), None, attempt).words


def listed(desk: Desk) -> list[str]:
    names = {number(desk, ref): ref for ref in ("W1", "W2", "W3")}
    return [names[n] for n in order(desk)]


def make_due(desk: Desk) -> None:
    """Let the two others be rung that day too."""
    for ref in ("W1", "W2"):
        say(desk, ref, "call_again_on", until=THURSDAY)


def test_a_promise_is_on_top_from_its_hour_and_at_the_end_before(three: Desk) -> None:
    make_due(three)
    say(three, "W3", "call_again_on", until=THURSDAY, until_at=time(15))

    assert listed(at(three, THURSDAY, 14, 59)) == ["W1", "W2", "W3"]
    assert listed(at(three, THURSDAY, 15)) == ["W3", "W1", "W2"]
    card = call_cards_of(at(three, THURSDAY, 15), "W3")[0]
    assert card.next.startswith("Promised for 15:00: spoke: call again on a day")
    assert listed(at(three, date(2026, 9, 2), 23, 59)) == []


def test_a_promise_of_yesterday_is_on_top_from_the_first_minute(three: Desk) -> None:
    make_due(three)
    say(three, "W3", "call_again_on", until=THURSDAY, until_at=time(23, 59))

    assert listed(at(three, THURSDAY, 23, 58))[-1] == "W3"
    next_day = at(three, date(2026, 9, 4), 0)
    assert listed(next_day)[0] == "W3"
    assert "Promised for 3 September 2026, 23:59" in call_cards_of(next_day, "W3")[0].next


def test_a_kept_promise_and_one_taken_back_are_no_promise(three: Desk) -> None:
    make_due(three)
    before = listed(at(three, THURSDAY, 15))
    say(three, "W3", "call_again_on", until=THURSDAY, until_at=time(15))
    undo(three)
    assert listed(at(three, THURSDAY, 15)) == before

    say(three, "W3", "call_again_on", until=THURSDAY, until_at=time(15))
    say(at(three, THURSDAY, 15), "W3", "left_message")
    assert listed(at(three, THURSDAY, 16)) == ["W1", "W2"]


def test_an_hour_of_today_can_be_promised_and_one_that_has_come_cannot(three: Desk) -> None:
    today = three.today
    say(three, "W3", "call_again_on", until=today, until_at=time(10))
    assert listed(at(three, today, 10)) == ["W3"]
    for more in ({"until": today}, {"until": today, "until_at": time(9)}, {"until_at": time(10)}):
        with pytest.raises(InputError):
            say(three, "W1", "call_again_on", **more)


@pytest.mark.parametrize(
    ("day", "hour", "comes"),
    [
        (date(2026, 3, 29), time(1, 30), datetime(2026, 3, 29, 1, 30, tzinfo=UTC)),
        (date(2026, 10, 25), time(1, 30), datetime(2026, 10, 25, 0, 30, tzinfo=UTC)),
        (date(2026, 10, 25), time(15), datetime(2026, 10, 25, 15, tzinfo=UTC)),
        (date(2026, 10, 24), time(15), datetime(2026, 10, 24, 14, tzinfo=UTC)),
    ],
)
def test_an_hour_comes_once_when_the_clocks_change(day: date, hour: time, comes: datetime) -> None:
    minutes = range(-120, 121, 10)
    came = [
        Clock("Europe/London", datetime.fromtimestamp(comes.timestamp() + 60 * m, UTC)).has_come(
            day, hour
        )
        for m in minutes
    ]
    assert came == [m >= 0 for m in minutes]


def test_an_hour_that_was_promised_is_kept_where_nobody_answers_before_it(three: Desk) -> None:
    """Of today, however often it is rung before; and of a later day."""
    say(three, "W3", "call_again_on", until=three.today, until_at=time(11))
    for minute in (10, 20):
        said = say(at(three, three.today, 9, minute), "W3", "no_answer")
        assert "today, 11:00: No answer: ring once more at 11:00, as promised." in said
    assert listed(at(three, three.today, 11)) == ["W3"]
    say(at(three, three.today, 11), "W3", "no_answer")
    assert "as promised" not in call_cards_of(at(three, three.today, 11, 1), "W3")[0].next

    say(three, "W2", "call_again_on", until=THURSDAY, until_at=time(15))
    say(at(three, three.today, 16), "W2", "no_answer")
    assert "Promised for 15:00" in call_cards_of(at(three, THURSDAY, 15), "W2")[0].next


def test_no_answer_in_the_morning_comes_back_in_the_afternoon_once(three: Desk) -> None:
    said = say(three, "W1", "no_answer")
    assert "this morning" in call_cards_of(three, "W1")[0].next and said
    (kept,) = rows(three.store, tables.Contact)
    assert (kept["until"], kept["until_at"]) == (three.today, "14:00")
    assert listed(at(three, three.today, 14)) == ["W1"]

    say(at(three, three.today, 11), "W1", "no_answer")
    assert rows(three.store, tables.Contact)[1]["until"] is None
    assert listed(at(three, three.today, 14)) == []


@pytest.mark.parametrize(
    ("on", "hour", "comes_back"),
    [
        (date(2026, 9, 2), 11, True),
        (date(2026, 9, 2), 12, False),
        (date(2026, 9, 5), 9, False),  # a Saturday
        (date(2026, 12, 25), 9, False),
    ],
)
def test_it_comes_back_only_from_the_morning_of_an_open_day(
    three: Desk, on: date, hour: int, comes_back: bool
) -> None:
    holidays = {date(2026, 12, 25): "Christmas Day"}
    open_days = msgspec.structs.replace(three.calendar, holidays=holidays)
    say(at(replace(three, calendar=open_days), on, hour), "W1", "no_answer")
    assert (rows(three.store, tables.Contact)[0]["until"] == on) is comes_back


def test_the_best_time_stands_beside_the_number(three: Desk) -> None:
    point = call_cards_of(three, "W1")[0].contact_point_id
    more = {"contact_point_id": point, "best_time": " after school "}
    say(three, "W1", "somebody_else_answered", **more)

    assert call_cards_of(three, "W1")[0].numbers[0].best_time == "after school"
    undo(three)
    assert call_cards_of(three, "W1")[0].numbers[0].best_time == ""
