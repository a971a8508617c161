"""What was said, agreed or decided holds until something ends it. Lengths are common practice."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from recall.errors import Refused
from recall.loop.booking_rules import check_booking, open_booking
from recall.loop.facts import AddressChecked, Booked, Facts
from recall.loop.lost import missing
from recall.loop.outcomes import OUTCOMES
from recall.loop.outlook import outlook
from recall.loop.status import status_on
from recall.loop.steps import Step
from tests.loop.tell import RULES, facts, tell
from tests.loop.test_stories import ADULT, URGENT


def step(told: Facts, on: date) -> Step:
    found = status_on(told, on, RULES).step
    assert found is not None
    return found


def test_worse_symptoms_wait_for_a_clinician_whatever_is_said_after() -> None:
    tell(
        """
        2026-09-20 | they phone worse | clinician_call 2026-09-20 | to_contact
        2026-09-21 | phone declines   | clinician_call 2026-09-20 | to_contact
        """
    )


def test_the_last_thing_said_is_what_waits_for_an_answer() -> None:
    tell(
        """
        2026-09-20 | phone seen_elsewhere | ask_result 2026-10-04 | waiting
        2026-09-21 | phone declines       | decision 2026-09-21   | to_contact
        """
    )


def test_who_rings_and_says_otherwise_ends_what_was_agreed() -> None:
    tell(
        """
        2026-10-13 | phone call_again_on until 2026-10-20 | phone 2026-10-20      | waiting
        2026-10-15 | they phone booked                    | invitation 2026-10-15 | to_contact
        """
    )


def test_our_own_call_ends_what_was_agreed_and_a_machines_answer_to_them_does_not() -> None:
    tell(
        """
        2026-10-13 | phone call_again_on until 2026-10-20 | phone 2026-10-20      | waiting
        2026-10-14 | they phone left_message              | phone 2026-10-20      | waiting
        2026-10-20 | phone no_answer                      | invitation 2026-10-22 | waiting
        """
    )


def test_a_letter_asked_for_again_goes_out_again_in_a_round_of_its_own() -> None:
    once = "2026-10-13 | phone wants_letter | asked_letter 2026-10-14 | waiting\n"
    again = (
        once
        + """
        2026-10-14 | posted asked_letter | invitation 2026-10-21   | waiting
        2026-10-21 | phone wants_letter  | asked_letter 2026-10-22 | waiting
        """
    )

    assert step(tell(once), date(2026, 10, 13)).round == 1
    assert step(tell(again), date(2026, 10, 21)).round == 2


def test_a_decision_ends_a_contact_stop_that_was_told_on_the_phone() -> None:
    tell(
        """
        2026-10-13 | phone do_not_contact | decision 2026-10-13   | to_contact
        2026-10-14 | decided carry_on     | invitation 2026-10-14 | to_contact
        """
    )


def test_a_death_stands_before_any_other_contact_stop() -> None:
    story = "2026-10-13 | phone do_not_contact | decision 2026-10-13 | to_contact"
    told = tell(story, died_on=date(2026, 10, 14))

    assert "has died" in step(told, date(2026, 10, 14)).why
    assert "asked not to be contacted" in step(told, date(2026, 10, 13)).why


def test_an_earlier_contact_stop_stands_and_one_of_the_future_is_none_yet() -> None:
    unsafe = "2026-09-20 | phone not_safe | decision 2026-09-20 | to_contact"
    told = tell(unsafe, objected_on=date(2026, 9, 25))

    assert "not safe" in step(told, date(2026, 9, 26)).why
    tell("2026-09-14 | | invitation 2026-09-15 | waiting", objected_on=date(2026, 9, 15))
    tell("2026-09-15 | | decision 2026-09-15 | to_contact", objected_on=date(2026, 9, 15))


def test_the_first_doubt_about_an_address_gives_the_day() -> None:
    tell(
        """
        2026-09-15 | posted invitation   | phone 2026-10-13         | waiting
        2026-09-20 | returned 2026-09-15 | address_check 2026-09-21 | waiting
        2026-09-25 |                     | address_check 2026-09-21 | to_contact
        """,
        moved_on=date(2026, 9, 22),
    )


def test_nobody_writes_from_the_day_on_which_they_are_known_to_have_moved() -> None:
    moved = {"moved_on": date(2026, 9, 15), "channels": frozenset({"letter"})}

    tell("2026-09-14 | | invitation 2026-09-15 | waiting", **moved)
    assert not facts(**moved).usable_on(date(2026, 9, 15)).can_write
    assert facts(**moved).usable_on(date(2026, 9, 14)).can_write


def test_a_call_that_left_a_message_ends_its_step_and_the_next_step_has_all_its_calls() -> None:
    tell(
        """
        2026-09-02 | phone no_answer    | phone 2026-09-03      | waiting
        2026-09-02 | phone left_message | invitation 2026-09-03 | waiting
        2026-09-04 | posted invitation  | phone 2026-09-11      | waiting
        2026-09-11 | phone no_answer    | phone 2026-09-12      | waiting
        2026-09-12 | phone no_answer    | decision 2026-09-15   | waiting
        """,
        **URGENT,
    )


def test_a_call_says_which_one_it_is() -> None:
    story = "2026-09-15 | posted invitation | phone 2026-10-13 | waiting"

    assert step(tell(story), date(2026, 10, 13)).why == "Ring and offer a day."
    again = story + "\n2026-10-13 | phone no_answer | phone 2026-10-15 | waiting"
    assert step(tell(again), date(2026, 10, 13)).why == "Ring again, call 2."


def test_a_call_on_the_day_of_the_visit_ends_the_booking_before_they_leave() -> None:
    tell("2026-09-01 | phone no_answer | invitation 2026-09-15 | waiting")


def test_what_presses_is_rung_about_on_the_day_it_was_missed() -> None:
    tell(
        """
        2026-09-01 | booked 2026-09-08    | attend 2026-09-08        | booked
        2026-09-08 | ended did_not_attend | phone 2026-09-08         | to_contact
        2026-09-08 | phone no_answer      | missed_letter 2026-09-11 | waiting
        """,
        **{**URGENT, **ADULT},
    )


def test_a_letter_after_a_miss_leaves_the_last_call_time_to_work() -> None:
    tell(
        """
        2026-09-01 | booked 2026-10-13  | attend 2026-10-13        | booked
        2026-10-13 | ended did_not_attend | phone 2026-10-14       | waiting
        2026-10-15 | phone left_message | missed_letter 2026-10-20 | waiting
        """,
        **ADULT,
    )


def test_the_list_is_looked_at_a_week_after_the_visit_at_the_earliest() -> None:
    window = {"target": date(2026, 11, 10), "latest": date(2026, 12, 15)}

    tell("2026-09-01 | | list_look 2026-09-08 | waiting", earliest=date(2026, 10, 6), **window)
    tell("2026-09-01 | | invitation 2026-09-21 | waiting", earliest=date(2026, 10, 5), **window)


def test_who_came_and_is_still_to_come_again_starts_a_round_of_its_own() -> None:
    told = tell(
        """
        2026-10-13 | phone no_answer | invitation 2026-10-15 | waiting
        2026-10-20 | ended attended visit | book_now 2026-10-20   | to_contact
        """
    )

    assert step(told, date(2026, 10, 20)).round == 2


def test_the_end_says_how_many_steps_are_used_up_and_what_was_not_done() -> None:
    """Emergency: booked on the spot and rung, then the decision: two steps."""
    told = tell(
        """
        2026-09-02 | phone no_answer | phone 2026-09-02    | to_contact
        2026-09-02 | phone no_answer | phone 2026-09-02    | to_contact
        2026-09-02 | phone no_answer | decision 2026-09-02 | to_contact
        """,
        urgency="emergency",
        earliest=date(2026, 9, 1),
        target=date(2026, 9, 1),
        latest=date(2026, 9, 2),
    )

    assert step(told, date(2026, 9, 2)).why == (
        "All 2 contact steps are used up: a named clinician decides. Not done: only one way "
        "tried. Not done: address and numbers not checked."
    )


def test_nothing_is_late_on_its_last_day_and_a_day_late_on_the_next() -> None:
    assert status_on(facts(), date(2026, 10, 27), RULES).late_by_days == 0
    assert status_on(facts(), date(2026, 10, 28), RULES).late_by_days == 1


def test_today_may_be_booked_and_yesterday_not() -> None:
    today = date(2026, 10, 13)

    assert check_booking(facts(), today, made_on=today) == ""
    with pytest.raises(Refused, match="has gone by"):
        check_booking(facts(), today - timedelta(1), made_on=today)


def test_what_each_outcome_asks_for_and_whether_contact_stops() -> None:
    """Reviewed by hand, not read from the table: a day, a contact stop, a case that moves up."""
    assert {o.id for o in OUTCOMES if o.asks_day} == {
        "call_again_on", "too_ill", "in_hospital", "away",
    }  # fmt: skip
    assert {o.id: o.stops_contact for o in OUTCOMES if o.stops_contact} == {
        "died": "died", "do_not_contact": "objected", "not_safe": "unsafe",
    }  # fmt: skip
    assert {o.id for o in OUTCOMES if o.moves_up} == {"worse"}


def test_an_outlook_goes_through_letters_asked_for_and_after_a_miss() -> None:
    asked = tell("2026-10-13 | phone wants_letter | asked_letter 2026-10-14 | waiting")
    missed = tell(
        """
        2026-09-01 | booked 2026-10-13     | attend 2026-10-13        | booked
        2026-10-13 | ended was_not_brought | phone 2026-10-14         | waiting
        2026-10-14 | phone no_answer       | missed_letter 2026-10-16 | waiting
        """
    )

    ahead = [s.kind for s in outlook(asked, date(2026, 10, 13), RULES)]
    assert ahead[:2] == ["asked_letter", "invitation"]
    ahead = [s.kind for s in outlook(missed, date(2026, 10, 14), RULES)]
    assert ahead[:2] == ["missed_letter", "invitation"]


def test_a_look_at_the_list_on_the_day_of_the_visit_counts() -> None:
    later = {"target": date(2026, 11, 10), "latest": date(2026, 12, 15)}

    tell(
        "2026-09-01 | looked | invitation 2026-09-22 | waiting", earliest=date(2026, 10, 6), **later
    )


def test_the_day_on_which_a_result_is_expected_is_the_day_it_is_asked_for() -> None:
    tell("2026-10-13 | phone seen_elsewhere until 2026-10-20 | ask_result 2026-10-20 | waiting")


def test_no_letter_blames_anybody_for_what_the_practice_cancelled() -> None:
    tell(
        """
        2026-09-01 | booked 2026-10-13           | attend 2026-10-13     | booked
        2026-10-12 | ended cancelled_by_practice | phone 2026-10-12      | to_contact
        2026-10-12 | phone no_answer             | invitation 2026-10-14 | waiting
        """
    )


def test_nothing_said_after_a_death_takes_its_place() -> None:
    told = tell(
        """
        2026-10-13 | phone died           | decision 2026-10-13 | to_contact
        2026-10-14 | phone do_not_contact | decision 2026-10-13 | to_contact
        """
    )

    assert "has died" in step(told, date(2026, 10, 14)).why


def test_only_a_letter_asked_for_again_starts_a_round() -> None:
    told = tell(
        """
        2026-10-13 | phone wants_letter                  | asked_letter 2026-10-14 | waiting
        2026-10-14 | posted asked_letter                 | invitation 2026-10-21   | waiting
        2026-10-21 | phone call_again_on until 2026-11-02 | phone 2026-11-02       | waiting
        """
    )

    assert step(told, date(2026, 10, 21)).round == 1


def test_neither_a_text_nor_a_letter_of_ours_ends_what_was_agreed() -> None:
    tell(
        """
        2026-10-13 | phone call_again_on until 2026-10-26 | phone 2026-10-26 | waiting
        2026-10-14 | text message_sent                    | phone 2026-10-26 | waiting
        2026-10-20 | posted reminder                      | phone 2026-10-26 | waiting
        """
    )


def test_a_letter_that_came_back_starts_the_next_round() -> None:
    told = tell(
        """
        2026-09-15 | posted invitation   | phone 2026-10-13         | waiting
        2026-09-20 | returned 2026-09-15 | address_check 2026-09-21 | waiting
        """
    )

    assert step(told, date(2026, 9, 20)).round == 2


def test_what_is_closed_is_never_late() -> None:
    told = tell("2026-11-20 | closed answered | none | closed")

    assert status_on(told, date(2026, 12, 1), RULES).late_by_days == 0


def test_an_appointment_made_anew_is_the_one_that_stands() -> None:
    def booked(number: int, day: int) -> Booked:
        return Booked(on=date(2026, 9, 1), booking=number, day=date(2026, 10, day))

    assert open_booking([booked(1, 13), booked(2, 14), booked(1, 20)]) == booked(1, 20)


def test_where_no_way_is_known_no_contact_is_missing() -> None:
    told = facts(channels=frozenset(), events=(AddressChecked(on=date(2026, 9, 2)),))

    assert missing(told, date(2026, 9, 3), RULES) == ()


def test_the_earliest_day_may_be_booked_and_the_one_before_is_told() -> None:
    made = date(2026, 9, 1)

    assert check_booking(facts(), date(2026, 9, 29), made_on=made) == ""
    said = check_booking(facts(), date(2026, 9, 28), made_on=made)
    assert said.startswith("Before the earliest day, 29 September 2026")


def test_what_waits_for_a_decision_is_moved_up_only_where_it_got_worse() -> None:
    told = tell("2026-10-13 | phone declines | decision 2026-10-13 | to_contact")

    assert status_on(told, date(2026, 10, 13), RULES).urgency == "medium"


def test_a_clinician_who_is_asked_for_after_worse_symptoms_is_rung_for_the_newest() -> None:
    tell(
        """
        2026-09-20 | they phone worse      | clinician_call 2026-09-20 | to_contact
        2026-09-22 | phone wants_clinician | clinician_call 2026-09-22 | to_contact
        """
    )


def test_an_appointment_settles_what_was_waiting_also_once_it_has_fallen_through() -> None:
    tell(
        """
        2026-10-13 | phone seen_elsewhere        | ask_result 2026-10-27 | waiting
        2026-10-20 | booked 2026-10-26           | attend 2026-10-26     | booked
        2026-10-22 | ended cancelled_by_practice | phone 2026-10-22      | to_contact
        """
    )


def test_a_decision_before_it_was_put_off_does_not_answer_for_after() -> None:
    tell(
        """
        2026-09-09 | decided carry_on               | phone 2026-09-09    | to_contact
        2026-09-10 | phone too_ill until 2026-09-30 | decision 2026-09-10 | to_contact
        """,
        **URGENT,
    )
