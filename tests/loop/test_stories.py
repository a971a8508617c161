"""Whole stories of a follow-up, told as a receptionist would.

The shape (letter, letter, last letter, then the GP is told) follows the call and recall
letters of the cervical screening programme in England (csas.nhs.uk: invitation 6 weeks
before the test is due, reminder 18 weeks later, non-responder 14 weeks later), and a list
seen by clinicians before the letters (prior notification, about 4 weeks). The compressed
lengths of time are common practice, no source.
"""

from __future__ import annotations

from datetime import date

from recall.loop.lost import missing
from recall.loop.status import status_on
from tests.loop.tell import RULES, facts, tell

LATER = {
    "earliest": date(2027, 2, 1),
    "target": date(2027, 3, 1),
    "latest": date(2027, 4, 1),
}
URGENT = {
    "urgency": "urgent",
    "earliest": date(2026, 9, 1),
    "target": date(2026, 9, 8),
    "latest": date(2026, 9, 15),
}
ADULT = {"born": date(1960, 5, 5)}


def test_a_short_window_is_booked_before_they_leave() -> None:
    tell(
        """
        2026-09-01 |                   | book_now 2026-09-01   | to_contact
        2026-09-01 | booked 2026-10-13 | attend 2026-10-13     | booked
        2026-10-13 |                   | attend 2026-10-13     | booked
        2026-10-14 |         | record_attendance 2026-10-14    | to_contact
        2026-10-14 | ended attended visit | book_now 2026-10-14 | to_contact
        2026-10-14 | closed answered   | none                  | closed
        """
    )


def test_nobody_answers_letters_or_calls_until_a_clinician_must_decide() -> None:
    tell(
        """
        2026-09-02 |                    | invitation 2026-09-15    | waiting
        2026-09-15 |                    | invitation 2026-09-15    | to_contact
        2026-09-15 | posted invitation  | phone 2026-10-13         | waiting
        2026-10-13 | phone no_answer    | phone 2026-10-15         | waiting
        2026-10-15 | phone left_message | reminder 2026-10-20      | waiting
        2026-10-20 | posted reminder    | last_letter 2026-10-27   | waiting
        2026-10-27 | posted last_letter | address_check 2026-10-27 | to_contact
        2026-10-28 | checked            | tell_gp 2026-11-03       | waiting
        2026-11-03 | told               | decision 2026-11-10      | waiting
        2026-11-10 |                    | decision 2026-11-10      | lost
        2026-11-12 | closed handed_back | none                     | closed
        """,
        gp_agreed=True,
        urgency="high",
    )


def test_a_later_window_starts_with_a_clinicians_look_at_the_list() -> None:
    tell(
        """
        2026-09-01 |                   | list_look 2027-01-04  | waiting
        2027-01-05 | looked            | invitation 2027-01-18 | waiting
        2027-01-18 | posted invitation | phone 2027-03-01      | waiting
        """,
        **LATER,
    )


def test_letters_do_not_wait_for_a_look_that_nobody_took() -> None:
    tell("2027-01-18 | | invitation 2027-01-18 | to_contact", **LATER)


def test_keeping_on_trying_starts_a_round_of_its_own() -> None:
    tell(
        """
        2026-09-15 | posted invitation   | phone 2026-10-13         | waiting
        2026-10-13 | phone no_answer     | phone 2026-10-15         | waiting
        2026-10-15 | phone no_answer     | reminder 2026-10-20      | waiting
        2026-10-20 | posted reminder     | last_letter 2026-10-27   | waiting
        2026-10-27 | posted last_letter  | address_check 2026-10-27 | to_contact
        2026-10-27 | checked             | decision 2026-11-10      | waiting
        2026-11-10 | decided keep_trying | phone 2026-11-17         | waiting
        2026-11-17 | phone no_answer     | phone 2026-11-19         | waiting
        2026-11-19 | phone no_answer     | last_letter 2026-12-08   | waiting
        2026-12-08 | posted last_letter  | decision 2027-01-05      | waiting
        """
    )


def test_an_urgent_look_is_rung_about_first_and_never_left_to_the_post() -> None:
    tell(
        """
        2026-09-01 |                    | book_now 2026-09-01   | to_contact
        2026-09-02 |                    | phone 2026-09-02      | to_contact
        2026-09-02 | phone no_answer    | phone 2026-09-03      | waiting
        2026-09-03 | phone no_answer    | invitation 2026-09-04 | waiting
        2026-09-04 | posted invitation  | phone 2026-09-11      | waiting
        2026-09-11 | phone left_message | decision 2026-09-15   | waiting
        2026-09-15 |                    | decision 2026-09-15   | to_contact
        2026-09-15 | checked            | decision 2026-09-15   | lost
        """,
        **URGENT,
    )


def test_an_emergency_is_rung_the_next_day_and_again_that_day() -> None:
    tell(
        """
        2026-09-01 |                 | book_now 2026-09-01 | to_contact
        2026-09-02 |                 | phone 2026-09-02    | to_contact
        2026-09-02 | phone no_answer | phone 2026-09-02    | to_contact
        2026-09-02 | phone no_answer | phone 2026-09-02    | to_contact
        2026-09-02 | phone no_answer | decision 2026-09-02 | to_contact
        """,
        urgency="emergency",
        earliest=date(2026, 9, 1),
        target=date(2026, 9, 1),
        latest=date(2026, 9, 2),
    )


def test_worse_symptoms_go_to_a_clinician_the_same_day_and_move_the_case_up() -> None:
    story = """
        2026-09-15 | posted invitation  | phone 2026-10-13          | waiting
        2026-09-20 | they phone worse   | clinician_call 2026-09-20 | to_contact
        2026-09-20 | booked 2026-09-22  | clinician_call 2026-09-20 | to_contact
        """
    told = tell(story)

    assert status_on(told, date(2026, 9, 20), RULES).urgency == "urgent"
    tell(story + "2026-09-20 | decided carry_on | attend 2026-09-22 | booked")


def test_what_was_agreed_on_the_phone_holds() -> None:
    tell(
        """
        2026-09-15 | posted invitation                    | phone 2026-10-13        | waiting
        2026-10-13 | phone call_again_on until 2026-10-19 | phone 2026-10-19        | waiting
        2026-10-19 | phone will_call_back                 | phone 2026-10-26        | waiting
        2026-10-26 | phone wants_letter                   | asked_letter 2026-10-27 | waiting
        2026-10-27 | posted asked_letter                  | phone 2026-11-03        | waiting
        """
    )


def test_too_ill_or_in_hospital_waits_and_stays_on_the_overdue_list() -> None:
    told = tell(
        """
        2026-09-15 | posted invitation                  | phone 2026-10-13 | waiting
        2026-10-13 | phone in_hospital                  | phone 2026-11-10 | waiting
        2026-11-10 | phone too_ill until 2026-12-01     | phone 2026-12-01 | waiting
        """
    )

    assert status_on(told, date(2026, 11, 11), RULES).late_by_days == 15


def test_a_letter_that_comes_back_asks_for_an_address_check_and_goes_out_again() -> None:
    tell(
        """
        2026-09-15 | posted invitation   | phone 2026-10-13         | waiting
        2026-09-20 | returned 2026-09-15 | address_check 2026-09-21 | waiting
        2026-09-21 | checked             | invitation 2026-09-15    | to_contact
        """
    )


def test_cannot_afford_it_is_for_a_clinician_and_never_a_decline() -> None:
    tell(
        """
        2026-09-15 | posted invitation   | phone 2026-10-13    | waiting
        2026-10-13 | phone cannot_afford | decision 2026-10-13 | to_contact
        2026-10-14 | closed handed_back  | none                | closed
        """
    )


def test_seen_elsewhere_asks_for_the_result() -> None:
    tell(
        """
        2026-10-13 | phone seen_elsewhere | ask_result 2026-10-27 | waiting
        2026-10-20 | they phone booked    | ask_result 2026-10-27 | waiting
        2026-10-20 | booked 2026-10-26    | attend 2026-10-26     | booked
        """
    )


def test_a_child_not_brought_is_rung_about_then_written_to_then_goes_on() -> None:
    tell(
        """
        2026-09-01 | booked 2026-10-13     | attend 2026-10-13        | booked
        2026-10-13 | ended was_not_brought | phone 2026-10-14         | waiting
        2026-10-14 | phone no_answer       | missed_letter 2026-10-16 | waiting
        2026-10-16 | posted missed_letter  | invitation 2026-10-23    | waiting
        """
    )


def test_a_child_not_brought_twice_goes_before_a_clinician_even_when_booked_again() -> None:
    tell(
        """
        2026-09-01 | booked 2026-10-13         | attend 2026-10-13       | booked
        2026-10-13 | ended was_not_brought     | phone 2026-10-14        | waiting
        2026-10-14 | booked 2026-10-20         | attend 2026-10-20       | booked
        2026-10-19 | ended cancelled_by_person | safeguarding 2026-10-19 | to_contact
        2026-10-19 | booked 2026-10-27         | safeguarding 2026-10-19 | to_contact
        2026-10-20 | decided carry_on          | attend 2026-10-27       | booked
        2026-10-27 | ended was_not_brought     | phone 2026-10-28        | waiting
        """
    )


def test_what_the_practice_cancels_counts_against_nobody_and_is_rung_about_that_day() -> None:
    tell(
        """
        2026-09-01 | booked 2026-10-13           | attend 2026-10-13 | booked
        2026-10-12 | ended cancelled_by_practice | phone 2026-10-12  | to_contact
        2026-10-12 | booked 2026-10-15           | attend 2026-10-15 | booked
        2026-10-14 | ended cancelled_by_practice | phone 2026-10-14  | to_contact
        """
    )


def test_an_adult_who_misses_twice_is_decided_on_and_a_rebooked_one_is_not() -> None:
    tell(
        """
        2026-09-01 | booked 2026-10-13    | attend 2026-10-13   | booked
        2026-10-13 | ended did_not_attend | phone 2026-10-14    | waiting
        2026-10-14 | booked 2026-10-20    | attend 2026-10-20   | booked
        2026-10-20 | ended did_not_attend | decision 2026-10-20 | to_contact
        2026-10-21 | booked 2026-10-27    | attend 2026-10-27   | booked
        """,
        **ADULT,
    )


def test_a_booking_after_the_latest_day_stays_overdue() -> None:
    told = tell("2026-10-20 | booked 2026-11-10 on holiday | attend 2026-11-10 | booked")

    stands = status_on(told, date(2026, 11, 1), RULES)

    assert (stands.word, stands.overdue, stands.late_by_days) == ("booked", True, 5)
    assert "on holiday" in stands.why


def test_death_stops_everything_and_waits_for_a_name() -> None:
    tell(
        """
        2026-09-01 | booked 2026-10-13 | attend 2026-10-13   | booked
        2026-09-20 | phone died        | decision 2026-09-20 | to_contact
        2026-09-21 | decided carry_on  | decision 2026-09-20 | to_contact
        2026-09-21 | closed died       | none                | closed
        """
    )


def test_somebody_who_asked_not_to_be_contacted_is_decided_on_and_reviewed() -> None:
    tell(
        """
        2026-09-10 |                  | decision 2026-09-05 | to_contact
        2026-09-10 | decided carry_on | decision 2026-10-08 | waiting
        """,
        objected_on=date(2026, 9, 5),
    )


def test_without_a_telephone_one_is_looked_for_and_then_the_post_does() -> None:
    tell(
        """
        2026-09-15 | posted invitation | address_check 2026-10-13 | waiting
        2026-10-13 | checked           | reminder 2026-10-20      | waiting
        """,
        channels=frozenset({"letter"}),
    )


def test_what_is_urgent_is_not_put_off_past_its_last_day_without_a_clinician() -> None:
    tell(
        """
        2026-09-02 | phone away until 2026-09-10    | phone 2026-09-10    | waiting
        2026-09-10 | phone too_ill until 2026-09-30 | decision 2026-09-10 | to_contact
        2026-09-11 | decided carry_on               | phone 2026-09-30    | waiting
        """,
        **URGENT,
    )


def test_somebody_who_uses_e_mail_and_texts_is_reached_that_way() -> None:
    told = tell(
        """
        2026-09-15 | posted invitation email | phone 2026-10-13       | waiting
        2026-10-13 | text message_sent       | reminder 2026-10-20    | waiting
        2026-10-20 | posted reminder email   | last_letter 2026-10-27 | waiting
        """,
        channels=frozenset({"email", "text"}),
    )

    assert [gap.what for gap in missing(told, date(2026, 10, 20), RULES)] == ["address_check"]


def test_where_only_the_post_is_left_the_second_try_is_another_letter() -> None:
    tell(
        """
        2026-09-02 | decided keep_trying | address_check 2026-09-09 | waiting
        2026-09-09 | checked             | last_letter 2026-09-30   | waiting
        2026-09-30 | posted last_letter  | reminder 2026-10-27      | waiting
        2026-10-27 | posted reminder     | decision 2026-11-10      | waiting
        """,
        channels=frozenset({"letter"}),
    )


def test_a_hold_puts_off_the_next_step() -> None:
    tell(
        """
        2026-09-03 | held 2026-10-05 abroad | invitation 2026-10-05 | waiting
        2026-10-05 | posted invitation      | phone 2026-10-13      | waiting
        """
    )


def test_an_imported_backlog_is_late_and_not_all_at_once() -> None:
    """A year late: each step still leaves time for the one before."""
    tell(
        """
        2027-10-01 |                   | invitation 2026-09-15 | to_contact
        2027-10-01 | posted invitation | phone 2027-10-08      | waiting
        2027-10-08 | phone no_answer   | phone 2027-10-10      | waiting
        2027-10-10 | phone no_answer   | reminder 2027-10-12   | waiting
        """
    )


def test_a_contact_of_the_future_is_not_known_today() -> None:
    told = tell("2026-10-13 | phone died | decision 2026-10-13 | to_contact")

    assert (
        status_on(told, date(2026, 10, 12), RULES).step
        == status_on(facts(), date(2026, 10, 12), RULES).step
    )


def test_a_second_miss_gets_a_letter_of_its_own_in_a_new_round() -> None:
    first = """
        2026-09-01 | booked 2026-10-01    | attend 2026-10-01        | booked
        2026-10-01 | ended did_not_attend | phone 2026-10-02         | waiting
        2026-10-02 | phone no_answer      | missed_letter 2026-10-04 | waiting
        """
    second = """
        2026-10-04 | posted missed_letter | invitation 2026-10-11    | waiting
        2026-10-05 | booked 2026-10-12    | attend 2026-10-12        | booked
        2026-10-12 | ended did_not_attend | decision 2026-10-12      | to_contact
        2026-10-12 | decided carry_on     | phone 2026-10-13         | waiting
        2026-10-13 | phone no_answer      | missed_letter 2026-10-15 | waiting
        """
    rounds = [
        status_on(tell(text, **ADULT), date(2026, 10, 13), RULES).step
        for text in (first, first + second)
    ]

    assert [step.round for step in rounds if step] == [2, 3]


def test_whoever_is_away_is_not_rung_about_what_they_missed() -> None:
    """Found by the random sequences: the call after a miss came before the day of the hold."""
    tell(
        """
        2026-09-02 | booked 2026-10-13           | attend 2026-10-13 | booked
        2026-10-13 | ended was_not_brought       | phone 2026-10-14  | waiting
        2026-10-13 | held 2026-10-20 in hospital | phone 2026-10-20  | waiting
        """
    )
