"""From 16 on the adults' numbers and addresses answer no longer: the step follows.

For the source of writing to a young person of 16 in their own right see
`tests/loop/test_addressee.py`.
"""

from __future__ import annotations

from datetime import date

from recall.loop.outlook import outlook
from tests.loop.tell import RULES, facts, tell

TURNS = date(2010, 9, 20)
NOBODY = frozenset[str]()


def test_the_call_becomes_the_address_check_on_the_birthday_where_all_numbers_are_the_adults() -> (
    None
):
    tell(
        """
        2026-09-15 | posted invitation | phone 2026-10-13         | waiting
        2026-09-19 |                   | phone 2026-10-13         | waiting
        2026-09-20 |                   | address_check 2026-10-13 | waiting
        2026-10-13 |                   | address_check 2026-10-13 | to_contact
        """,
        born=TURNS,
        own_channels=NOBODY,
    )


def test_the_invitation_does_not_stay_for_months_where_nobody_may_be_written_to() -> None:
    tell(
        """
        2026-09-15 |         | invitation 2026-09-15    | to_contact
        2026-09-20 |         | address_check 2026-09-15 | to_contact
        2026-11-20 |         | address_check 2026-09-15 | to_contact
        2026-11-20 | checked | decision 2026-11-10      | lost
        """,
        born=TURNS,
        own_channels=NOBODY,
    )


def test_by_their_own_number_they_are_rung_and_nobody_writes_to_their_mother() -> None:
    tell(
        """
        2026-09-15 |                   | invitation 2026-09-15    | to_contact
        2026-09-20 |                   | address_check 2026-09-15 | to_contact
        2026-09-21 | checked           | phone 2026-10-13         | waiting
        """,
        born=TURNS,
        own_channels=frozenset({"phone"}),
    )


def test_what_lies_ahead_of_the_birthday_is_said_by_the_ways_of_each_day() -> None:
    born = date(2010, 10, 1)
    before = outlook(facts(born=born), date(2026, 9, 1), RULES)
    after = outlook(facts(born=born, own_channels=NOBODY), date(2026, 9, 1), RULES)

    assert next(step.kind for step in before if step.on >= date(2026, 10, 1)) == "phone"
    assert next(step.kind for step in after if step.on >= date(2026, 10, 1)) == "address_check"


def test_the_mother_s_number_is_none_of_theirs_when_numbers_are_counted() -> None:
    """The mother's and their own: two to ring before the birthday, one from then on."""
    there = {"born": TURNS, "one_number": False, "own_one_number": True}

    assert not facts(**there).usable_on(date(2026, 9, 19)).one_number
    assert facts(**there).usable_on(TURNS.replace(year=2026)).one_number
