"""Stories of calls: numbers that do not reach somebody. Waits: common practice, no source."""

from __future__ import annotations

from datetime import date

from recall.loop.lost import missing
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
