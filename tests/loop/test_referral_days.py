"""When a referral is chased on the very day of a limit, and what puts it off.

The days of the stages are those of `test_referral.py`.
"""

from __future__ import annotations

from datetime import date

from recall.loop.referral import ReferralEvent, ReferralLoop, ReferralState, state
from tests.loop.tell import RULES
from tests.loop.test_referral import ASKED, follow, referral


def told(*events: ReferralEvent) -> ReferralState:
    return state(ReferralLoop(referral=referral(), events=events), events[-1].on, RULES)


def test_an_appointment_on_the_day_by_which_they_are_to_be_seen_is_asked_about_after_it() -> None:
    follow("2026-09-05 | appointment 2026-09-15 | seen | 2026-09-16")
    follow("2026-09-05 | appointment 2026-09-16 | seen | 2026-09-15")
    on_the_day = ReferralEvent(on=ASKED, what="appointment", day=date(2026, 9, 15))
    assert "can it be sooner?" not in told(on_the_day).why


def test_of_two_appointments_the_later_made_one_says_whether_it_is_late() -> None:
    in_time = ReferralEvent(on=ASKED, what="appointment", day=date(2026, 9, 10))
    late = ReferralEvent(on=ASKED, what="appointment", day=date(2026, 9, 20))

    assert "can it be sooner?" in told(in_time, late).why
    assert "can it be sooner?" not in told(late, in_time).why


def test_a_referral_whose_first_news_is_a_rejection_is_sent_and_chased_anew() -> None:
    follow(
        """
        2026-09-05 | rejected | decision | 2026-09-05
        2026-09-14 | sent     | accepted | 2026-09-16
        """
    )


def test_news_by_itself_puts_off_no_chase() -> None:
    follow(
        """
        2026-09-01 | sent     | accepted | 2026-09-08
        2026-09-14 | accepted | seen     | 2026-09-15
        """
    )


def test_a_referral_that_was_sent_can_be_closed() -> None:
    sent = ReferralEvent(on=ASKED, what="sent")
    closed = ReferralEvent(on=ASKED, what="closed", reason="informed decline")

    assert (told(sent, closed).stage, told(sent, closed).is_open) == ("closed", False)


def test_a_day_beside_anything_else_is_no_appointment() -> None:
    accepted = ReferralEvent(on=ASKED, what="accepted", day=date(2026, 9, 3))

    assert told(accepted).chased_on == date(2026, 9, 15)
    assert told(accepted).why == "Were they seen?"


def test_with_the_result_back_it_is_open_no_more() -> None:
    known = told(ReferralEvent(on=ASKED, what="result"))

    assert (known.is_open, known.why) == (False, "The result is back.")


def test_an_appointment_missed_there_is_named_by_the_day_it_became_known() -> None:
    missed = ReferralEvent(on=date(2026, 9, 11), what="missed_there")
    sent = ReferralEvent(on=ASKED, what="sent")

    assert "(11 September 2026)" in told(sent, missed).why


def test_an_appointment_brought_forward_is_asked_about_after_its_new_day() -> None:
    follow(
        """
        2026-09-02 | appointment 2026-09-20 | seen | 2026-09-15
        2026-09-03 | appointment 2026-09-10 | seen | 2026-09-11
        2026-09-04 | appointment 2026-09-18 | seen | 2026-09-15
        """
    )
