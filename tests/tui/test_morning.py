"""A short morning at the telephone by the keys of a hand: nobody comes into hand twice.

The whole invented practice, forty calls of it: `python tests/benchmarks/morning.py`.
"""

from __future__ import annotations

from contextlib import suppress
from functools import partial

from recall.desk.contacts import contacting
from recall.desk.contacts.entries import Attempt
from recall.desk.core.session import Desk
from recall.desk.worklists.call_lines import call_lines
from recall.errors import RecallError
from tests.tui.driving import drive
from tests.tui.morning import Told, morning, outcomes
from tests.tui.test_calls import stored
from tui.app import DeskApp

CALLS = 16


def test_a_short_morning_dials_once_a_line_and_sees_no_line_twice(app: DeskApp, desk: Desk) -> None:
    lines, told = len(call_lines(desk)), Told()
    assert lines > CALLS

    drive(app, partial(morning, told, outcomes(CALLS)))

    assert told.stuck == []
    assert told.ended == "", "there was more to do than was done"
    assert told.twice == []
    assert len(told.in_hand) == CALLS
    again = told.dials - CALLS
    assert again <= told.by_outcome["0"], "only a wrong number is followed by another of theirs"
    assert len(stored(desk)) >= told.dials, "nothing of it got lost"


def test_a_morning_says_where_the_list_ended(app: DeskApp, desk: Desk) -> None:
    """Whom nobody answered for comes back in the afternoon, at the end; there is no other call."""
    lines = call_lines(desk)
    for number in [one.follow_up for line in lines[4:] for one in line]:
        with suppress(RecallError):
            contacting.log_contact(desk, number, None, Attempt("phone", "left_message"))
    told = Told()

    drive(app, partial(morning, told, ["1"] * 30))

    assert told.ended.startswith("at the last line, ") and "rung again at" in told.ended, told
    assert told.twice == [] and told.dials == len(told.in_hand) < 30
