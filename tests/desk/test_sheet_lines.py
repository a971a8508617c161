"""When the person comes again, on the sheet to take home."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.people.sheet_lines import back
from recall.desk.people.sheet_words import ADULT, TEST, UNFINISHED
from recall.desk.people.visit_sheet import visit_sheet
from recall.desk.worklists.open_items import OpenFollowUp, open_follow_ups
from recall.letters.wording.blocks import plain
from recall.records.database.store import Store
from tests.desk.practice import desk_at, later, somebody, visit

AGAIN = "We would like to test the hearing again."
_LOSS = dict.fromkeys(("500", "1000", "2000", "4000"), 30)


def _one(desk: Desk) -> OpenFollowUp:
    """Return an open follow-up of somebody with fluid, from 29 September to 27 October 2026."""
    person = somebody(desk, born=date(1960, 5, 4), adult=False)
    visit(desk, person, right=Ear(drum_seen="full", hearing_screen="not_passed"))
    with desk.store.read() as session:
        (one, *_) = open_follow_ups(desk, session, person)
    return one


def test_a_visit_is_offered_between_its_first_day_and_its_last(store: Store) -> None:
    desk = desk_at(store, by="clara")
    one = _one(desk)
    (line,) = back(desk, [one], ADULT)
    (begun,) = back(later(desk, 50), [one], ADULT)

    assert "; or between 15 September 2026 and 27 October 2026." in line.says
    assert "Please come by" in begun.says and "between" not in begun.says


def test_one_test_that_two_rules_ask_for_is_one_line(store: Store) -> None:
    desk = desk_at(store, by="clara")
    one = replace(_one(desk), aloud={TEST: ("left",), AGAIN: ("left", "right")})
    other = replace(one, aloud={TEST: ("left",)}, earliest=date(2026, 9, 20))

    (line,) = back(desk, [one, other], ADULT)

    assert line.says.count("test the hearing") == 1
    assert line.says.startswith("We would like to test the hearing of both your ears. ")
    assert "same again" not in line.says and "between 20 September 2026" in line.says


def test_what_is_asked_again_on_later_days_is_said_with_them(store: Store) -> None:
    desk = desk_at(store, by="clara")
    one = _one(desk)
    days = {"earliest": date(2027, 9, 1), "target": date(2027, 9, 8), "latest": date(2027, 9, 15)}

    (line,) = back(desk, [one, replace(one, offer_on=None, **days)], ADULT)

    assert line.says.endswith(
        "After that, the same again between 1 September 2027 and 15 September 2027."
    )


def test_hearing_that_was_not_tested_is_no_look_that_failed(store: Store) -> None:
    desk = desk_at(store, by="clara")
    _one(desk)
    then = later(desk, 40)
    visit(then, 1, right=Ear(drum_seen="full", attic_seen=True, effusion="absent"))
    with desk.store.read() as session:
        assert any(UNFINISHED in f.aloud for f in open_follow_ups(then, session, 1))

    text = plain(visit_sheet(then, "W1").body)

    assert "could not finish" not in text
    assert "We would like to test the hearing of your right ear." in text


def test_a_test_that_is_late_and_its_second_try_are_one_line(store: Store) -> None:
    desk = desk_at(store, by="clara")
    one = replace(_one(desk), aloud={AGAIN: ("right",)})
    days = {
        "earliest": date(2026, 11, 3),
        "target": date(2026, 11, 8),
        "latest": date(2026, 11, 15),
    }
    tried = replace(one, **days, aloud={UNFINISHED: ("right",)}, untested=("right",))

    (line,) = back(later(desk, 55), [one, tried], ADULT)

    assert line.says.startswith("We would like to test the hearing of your right ear. ")
    assert "late" not in line.says and "15 November 2026" in line.says


def test_a_look_of_which_one_ear_alone_is_tried_again_stays_beside_the_try(store: Store) -> None:
    desk = desk_at(store, by="clara")
    one = replace(_one(desk), ears=("right", "left"), aloud={AGAIN: ("right", "left")})
    days = {
        "earliest": date(2026, 11, 3),
        "target": date(2026, 11, 8),
        "latest": date(2026, 11, 15),
    }
    tried = replace(one, **days, aloud={UNFINISHED: ("right",)}, untested=("right",))

    assert len(list(back(later(desk, 55), [one, tried], ADULT))) == 2


def test_a_test_of_hearing_and_of_the_drums_pressure_is_no_look_that_failed(store: Store) -> None:
    desk = desk_at(store, by="clara")
    person = somebody(desk, born=date(2020, 5, 4), adult=False)
    visit(desk, person, right=Ear(drum_seen="full", effusion="present", hearing_dB=_LOSS))
    then = later(desk, 90)
    visit(then, person, right=Ear(drum_seen="full", attic_seen=True, effusion="absent"))
    with desk.store.read() as session:
        found = [f for f in open_follow_ups(then, session, person) if UNFINISHED in f.aloud]

    assert [(set(f.do), f.untested) for f in found] == [
        ({"hearing_test", "tympanometry"}, ("right",))
    ]
