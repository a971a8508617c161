"""Stories of calls: numbers that do not reach somebody, promises, a call that comes back.

Every wait and hour is common practice, no published source.
"""

from __future__ import annotations

from datetime import date, time

from recall.loop.lost import missing
from recall.loop.status import status_on
from tests.loop.tell import RULES, tell


def test_after_a_wrong_number_the_next_number_is_rung_at_once_and_it_is_no_contact() -> None:
    told = tell(
        """
        2026-09-15 | posted invitation  | phone 2026-10-13         | waiting
        2026-10-13 | phone wrong_number | phone 2026-10-13         | to_contact
        2026-10-13 | phone no_answer    | phone 2026-10-15         | waiting
        """
    )

    assert [gap.what for gap in missing(told, date(2026, 10, 14), RULES)] == ["address_check"]


def test_where_somebody_is_not_any_more_the_next_number_comes_first_then_the_address() -> None:
    tell(
        """
        2026-09-15 | posted invitation  | phone 2026-10-13         | waiting
        2026-10-13 | phone not_here     | phone 2026-10-13         | to_contact
        2026-10-13 | phone no_answer    | address_check 2026-10-14 | waiting
        2026-10-14 | checked            | phone 2026-10-15         | waiting
        """
    )


def test_a_wrong_number_that_was_the_only_one_asks_for_an_address_check() -> None:
    told = tell(
        """
        2026-09-15 | posted invitation  | address_check 2026-10-13 | waiting
        2026-10-13 | phone wrong_number | address_check 2026-10-14 | waiting
        2026-10-14 | checked            | reminder 2026-10-20      | waiting
        """,
        channels=frozenset({"letter"}),
    )

    assert [gap.what for gap in missing(told, date(2026, 10, 14), RULES)] == [
        "contacts",
    ]


def test_after_a_wrong_number_of_a_file_no_next_number_is_promised_where_there_is_one() -> None:
    """A file does not say which number was rung: the one on record may be another."""
    told = tell("2026-10-13 | phone wrong_number | phone 2026-10-13 | to_contact", one_number=True)
    assert "there is no other" in status_on(told, date(2026, 10, 13), RULES).why


def test_a_promise_has_its_hour_and_says_what_was_promised() -> None:
    told = tell(
        """
        2026-09-15 | posted invitation                            | phone 2026-10-13 | waiting
        2026-10-13 | phone call_again_on until 2026-10-19 15:00   | phone 2026-10-19 | waiting
        2026-10-19 |                                              | phone 2026-10-19 | to_contact
        2026-10-20 |                                              | phone 2026-10-19 | to_contact
        """
    )
    for day, said in ((19, "Promised for 15:00:"), (20, "Promised for 19 October 2026, 15:00:")):
        step = status_on(told, date(2026, 10, day), RULES).step
        assert step is not None and (step.at, step.promised) == (time(15), True)
        assert step.why.startswith(said)


def test_a_call_without_its_hour_is_no_promise() -> None:
    told = tell(
        """
        2026-09-15 | posted invitation                      | phone 2026-10-13 | waiting
        2026-10-13 | phone call_again_on until 2026-10-19   | phone 2026-10-19 | waiting
        """
    )
    step = status_on(told, date(2026, 10, 19), RULES).step
    assert step is not None and (step.at, step.promised) == (None, False)


def test_no_answer_in_the_morning_comes_back_in_the_afternoon_and_is_one_try_with_it() -> None:
    tell(
        """
        2026-09-15 | posted invitation                        | phone 2026-10-13    | waiting
        2026-10-13 | phone no_answer until 2026-10-13 14:00   | phone 2026-10-13    | to_contact
        2026-10-13 | phone no_answer                          | phone 2026-10-15    | waiting
        2026-10-15 | phone no_answer until 2026-10-15 14:00   | phone 2026-10-15    | to_contact
        2026-10-15 | phone no_answer                          | reminder 2026-10-20 | waiting
        """
    )


def test_a_letter_does_not_wait_for_an_afternoon_that_went_by() -> None:
    tell(
        """
        2026-09-14 | phone no_answer until 2026-09-14 14:00   | phone 2026-09-14      | to_contact
        2026-09-15 |                                          | invitation 2026-09-16 | waiting
        """
    )


def test_an_emergency_is_rung_again_at_once_and_not_in_the_afternoon() -> None:
    tell(
        """
        2026-09-02 | phone no_answer until 2026-09-02 14:00   | phone 2026-09-02 | to_contact
        2026-09-02 | phone no_answer                          | phone 2026-09-02 | to_contact
        2026-09-02 | phone no_answer                          | decision 2026-09-03 | waiting
        """,
        urgency="emergency",
        earliest=date(2026, 9, 1),
        target=date(2026, 9, 1),
        latest=date(2026, 9, 3),
    )


def test_what_was_promised_for_an_hour_is_kept_before_the_address_is_checked() -> None:
    tell(
        """
        2026-09-15 | posted invitation                            | phone 2026-10-13 | waiting
        2026-10-13 | phone not_here                               | phone 2026-10-13 | to_contact
        2026-10-13 | phone call_again_on until 2026-10-14 15:00   | phone 2026-10-14 | waiting
        2026-10-14 | phone no_answer                    | address_check 2026-10-14 | to_contact
        """
    )


def test_whoever_promised_a_later_day_waits_until_then_and_the_check_comes_after_it() -> None:
    """A doubt about the address does not keep a promise from holding, made after it or before."""
    tell(
        """
        2026-09-15 | posted invitation                            | phone 2026-10-13 | waiting
        2026-10-13 | phone moved                            | address_check 2026-10-14 | waiting
        2026-10-14 | phone call_again_on until 2026-10-22 15:00   | phone 2026-10-22 | waiting
        2026-10-22 |                                              | phone 2026-10-22 | to_contact
        2026-10-22 | phone no_answer                    | address_check 2026-10-14 | to_contact
        """
    )
    tell(
        """
        2026-09-15 | posted invitation                            | phone 2026-10-13 | waiting
        2026-10-13 | phone call_again_on until 2026-10-22 15:00   | phone 2026-10-22 | waiting
        2026-10-14 | returned 2026-09-15                          | phone 2026-10-22 | waiting
        2026-10-22 |                                              | phone 2026-10-22 | to_contact
        2026-10-22 | phone no_answer                    | address_check 2026-10-15 | to_contact
        """
    )
    tell(
        """
        2026-09-15 | posted invitation                            | phone 2026-10-13 | waiting
        2026-10-13 | phone call_again_on until 2026-10-22         | phone 2026-10-22 | waiting
        2026-10-14 | returned 2026-09-15                          | phone 2026-10-22 | waiting
        2026-10-22 |                                              | phone 2026-10-22 | to_contact
        2026-10-22 | phone no_answer                    | address_check 2026-10-15 | to_contact
        """
    )


def test_the_gp_is_told_a_week_after_the_last_letter_and_on_a_day_of_its_own() -> None:
    tell(
        """
        2026-09-15 | posted invitation  | phone 2026-10-13         | waiting
        2026-10-13 | phone no_answer    | phone 2026-10-15         | waiting
        2026-10-15 | phone left_message | reminder 2026-10-20      | waiting
        2026-10-20 | posted reminder    | last_letter 2026-10-27   | waiting
        2026-10-27 | posted last_letter | address_check 2026-10-27 | to_contact
        2026-11-05 | checked            | tell_gp 2026-11-06       | waiting
        2026-11-06 | told               | decision 2026-11-10      | waiting
        """,
        gp_agreed=True,
        urgency="high",
    )
