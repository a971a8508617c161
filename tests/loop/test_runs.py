"""Each run of contact steps to its end, day by day, while nobody is heard from.

Worked out by hand from the numbers of `contact.toml`, which are common practice, no source.
1 September 2026 is the day of the visit.
"""

from __future__ import annotations

from datetime import date

from recall.loop.steps import next_step
from tests.loop.tell import RULES, event, facts, tell
from tests.loop.test_stories import LATER, URGENT

SHORT = {
    "earliest": date(2026, 9, 8),
    "target": date(2026, 9, 15),
    "latest": date(2026, 9, 22),
}
BY_POST = {"channels": frozenset({"letter"})}
ROUTINE = ("high", "medium", "low")


def test_within_three_weeks_they_are_rung_first() -> None:
    for urgency in ROUTINE:
        tell(
            """
            2026-09-01 |                    | book_now 2026-09-01      | to_contact
            2026-09-02 |                    | phone 2026-09-02         | to_contact
            2026-09-02 | phone no_answer    | phone 2026-09-04         | waiting
            2026-09-04 | phone no_answer    | invitation 2026-09-06    | waiting
            2026-09-06 | posted invitation  | phone 2026-09-18         | waiting
            2026-09-18 | phone no_answer    | phone 2026-09-20         | waiting
            2026-09-20 | phone no_answer    | last_letter 2026-09-22   | waiting
            2026-09-22 | posted last_letter | address_check 2026-09-22 | to_contact
            2026-09-22 | checked            | decision 2026-10-06      | waiting
            2026-10-06 |                    | decision 2026-10-06      | lost
            """,
            **{**SHORT, "urgency": urgency},
        )


def test_within_three_weeks_a_letter_is_left_three_days_and_the_last_one_two_weeks() -> None:
    tell(
        """
        2026-09-02 | phone left_message | invitation 2026-09-07    | waiting
        2026-09-17 | posted invitation  | phone 2026-09-20         | waiting
        2026-09-20 | phone no_answer    | phone 2026-09-22         | waiting
        2026-09-22 | phone no_answer    | last_letter 2026-09-24   | waiting
        2026-10-01 | posted last_letter | address_check 2026-10-01 | to_contact
        2026-10-01 | checked            | decision 2026-10-15      | waiting
        """,
        **SHORT,
    )


def test_within_three_weeks_the_invitation_goes_out_after_three_days() -> None:
    tell("2026-09-02 | checked | invitation 2026-09-04 | waiting", **{**SHORT, **BY_POST})


def test_three_weeks_are_short_and_a_day_more_is_not() -> None:
    days = {"earliest": date(2026, 9, 8), "target": date(2026, 9, 15)}

    tell("2026-09-02 | | phone 2026-09-02 | to_contact", **days, latest=date(2026, 9, 22))
    tell("2026-09-02 | | invitation 2026-09-08 | waiting", **days, latest=date(2026, 9, 23))


def test_within_ten_weeks_they_book_before_they_leave_and_beyond_the_list_is_looked_at() -> None:
    days = {"earliest": date(2026, 10, 13), "target": date(2026, 10, 27)}

    for urgency in ROUTINE:
        known = {**days, "urgency": urgency}
        tell("2026-09-01 | | book_now 2026-09-01 | to_contact", **known, latest=date(2026, 11, 10))
        tell("2026-09-01 | | list_look 2026-09-15 | waiting", **known, latest=date(2026, 11, 11))


def test_nobody_is_written_to_within_a_week_of_the_visit() -> None:
    early = {"earliest": date(2026, 9, 15), "target": date(2026, 10, 13)}

    tell("2026-09-02 | | invitation 2026-09-08 | waiting", **early, latest=date(2026, 10, 27))
    tell("2026-09-01 | | invitation 2026-09-08 | waiting", **early, latest=date(2026, 12, 1))


def test_within_ten_weeks_a_last_letter_is_left_two_weeks() -> None:
    tell(
        """
        2026-10-13 | phone no_answer    | invitation 2026-10-15 | waiting
        2026-11-05 | posted last_letter | phone 2026-11-12      | waiting
        2026-11-12 | phone no_answer    | address_check 2026-11-14 | waiting
        2026-11-12 | checked            | decision 2026-11-19   | waiting
        """
    )
    tell(
        """
        2026-09-15 | posted invitation  | phone 2026-10-13         | waiting
        2026-10-13 | phone left_message | reminder 2026-10-20      | waiting
        2026-10-27 | posted last_letter | address_check 2026-10-27 | to_contact
        2026-10-27 | checked            | decision 2026-11-10      | waiting
        """
    )


def test_a_later_window_to_its_end() -> None:
    tell(
        """
        2027-01-05 | looked             | invitation 2027-01-18    | waiting
        2027-01-18 | posted invitation  | phone 2027-03-01         | waiting
        2027-03-01 | phone no_answer    | phone 2027-03-03         | waiting
        2027-03-03 | phone no_answer    | reminder 2027-03-16      | waiting
        2027-03-16 | posted reminder    | last_letter 2027-04-01   | waiting
        2027-04-01 | posted last_letter | address_check 2027-04-01 | to_contact
        2027-04-01 | checked            | decision 2027-04-15      | waiting
        2027-04-15 |                    | decision 2027-04-15      | lost
        """,
        **LATER,
    )


def test_a_last_letter_of_a_later_window_is_left_two_weeks() -> None:
    tell(
        """
        2027-01-18 | posted invitation  | phone 2027-03-01         | waiting
        2027-03-01 | phone left_message | reminder 2027-03-16      | waiting
        2027-04-10 | posted last_letter | address_check 2027-04-10 | to_contact
        2027-04-10 | checked            | decision 2027-04-24      | waiting
        """,
        **LATER,
    )


def test_a_look_that_nobody_took_is_not_asked_for_once_they_were_written_to() -> None:
    tell(
        """
        2027-01-10 | posted invitation | phone 2027-03-01 | waiting
        2027-03-01 | phone no_answer   | phone 2027-03-03 | waiting
        """,
        **LATER,
    )


def test_what_is_urgent_counts_from_the_visit_and_leaves_a_letter_two_days() -> None:
    later = {**URGENT, "earliest": date(2026, 9, 5)}

    tell("2026-09-01 | | book_now 2026-09-01 | to_contact", **later)
    tell(
        """
        2026-09-02 |                    | phone 2026-09-02      | to_contact
        2026-09-02 | phone left_message | invitation 2026-09-03 | waiting
        2026-09-13 | posted invitation  | phone 2026-09-15      | waiting
        """,
        **later,
    )
    tell("2026-09-02 | checked | invitation 2026-09-03 | waiting", **{**later, **BY_POST})
    tell(
        """
        2026-09-02 | checked           | invitation 2026-09-03 | waiting
        2026-09-14 | posted invitation | decision 2026-09-16   | waiting
        """,
        **{**URGENT, **BY_POST},
    )


def test_an_emergency_counts_from_the_visit_and_a_letter_is_left_a_day() -> None:
    now = {
        "urgency": "emergency",
        "earliest": date(2026, 9, 2),
        "target": date(2026, 9, 2),
        "latest": date(2026, 9, 3),
    }

    tell("2026-09-01 | | book_now 2026-09-01 | to_contact", **now)
    tell("2026-09-02 | | phone 2026-09-02 | to_contact", **{**now, "earliest": date(2026, 9, 3)})
    tell(
        """
        2026-09-02 | phone left_message | decision 2026-09-03 | waiting
        2026-09-03 | posted invitation  | decision 2026-09-04 | waiting
        """,
        **now,
    )


def test_what_presses_is_tried_again_within_a_week() -> None:
    for urgency in ("urgent", "emergency"):
        tell("2026-09-15 | decided keep_trying | phone 2026-09-16 | waiting",
             **{**URGENT, "urgency": urgency})  # fmt: skip
    tell(
        """
        2026-09-15 | decided keep_trying | phone 2026-09-16      | waiting
        2026-09-16 | phone no_answer     | phone 2026-09-17      | waiting
        2026-09-17 | phone no_answer     | invitation 2026-09-18 | waiting
        2026-09-17 | posted invitation   | phone 2026-09-19      | waiting
        2026-09-19 | phone no_answer     | phone 2026-09-20      | waiting
        2026-09-20 | phone no_answer     | decision 2026-09-22   | waiting
        """,
        **URGENT,
    )


def test_what_presses_leaves_a_letter_of_the_second_round_two_days() -> None:
    tell(
        """
        2026-09-15 | decided keep_trying | phone 2026-09-16      | waiting
        2026-09-16 | phone left_message  | invitation 2026-09-17 | waiting
        2026-09-19 | posted invitation   | phone 2026-09-21      | waiting
        2026-09-21 | phone left_message  | decision 2026-09-22   | waiting
        """,
        **URGENT,
    )
    tell(
        """
        2026-09-15 | decided keep_trying | address_check 2026-09-16 | waiting
        2026-09-15 | checked             | invitation 2026-09-17    | waiting
        2026-09-21 | posted invitation   | decision 2026-09-23      | waiting
        """,
        **{**URGENT, **BY_POST},
    )


def test_a_last_letter_that_went_early_does_not_bring_the_decision_forward() -> None:
    """By post alone, so that no call stands between: two weeks from the last day of the window."""
    ends = (
        (SHORT, "2026-09-18", "2026-10-06"),
        ({}, "2026-10-22", "2026-11-10"),
        (LATER, "2027-03-28", "2027-04-15"),
    )
    for window, posted, decision in ends:
        on = date.fromisoformat(posted)
        happened = ("checked", "posted reminder", "posted last_letter")
        events = tuple(event(on, words, 0) for words in happened)
        found = next_step(facts(**window, **BY_POST, events=events), on, RULES)
        assert found is not None
        assert (found.kind, found.on.isoformat()) == ("decision", decision)


def test_by_telephone_alone_what_presses_is_rung_about_again_on_the_fourth_day() -> None:
    tell(
        """
        2026-09-15 | decided keep_trying | phone 2026-09-16 | waiting
        2026-09-15 | checked             | phone 2026-09-16 | waiting
        2026-09-16 | phone left_message  | phone 2026-09-19 | waiting
        """,
        **{**URGENT, "channels": frozenset({"phone"})},
    )
