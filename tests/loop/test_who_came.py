"""Who came, and whose visit nobody has typed in yet: not rung, and not forgotten."""

from __future__ import annotations

from datetime import date

from tests.loop.tell import tell


def test_who_came_is_not_rung_until_their_visit_is_typed_in() -> None:
    """Common practice, no source: whoever is in the house is asked there, not by telephone."""
    came = """
        2026-09-01 | booked 2026-10-13 | attend 2026-10-13     | booked
        2026-10-13 | ended attended    | type_visit 2026-10-14 | waiting
        2026-10-14 |                   | type_visit 2026-10-14 | to_contact
        """
    tell(came + "2026-10-20 | held 2026-10-23 | type_visit 2026-10-23 | waiting")
    tell(came + "2026-10-20 | they phone wants_clinician | clinician_call 2026-10-20 | to_contact")
    tell(came + "2026-10-20 | they phone call_again_on 2026-10-26 | phone 2026-10-26 | waiting")
    tell(came + "2026-10-20 | decided keep_trying | phone 2026-10-27 | waiting")
    tell(came + "2026-10-20 | booked 2026-10-26 | attend 2026-10-26 | booked")


def test_a_visit_typed_in_later_lets_what_it_left_open_go_on() -> None:
    came = """
        2026-09-01 | booked 2026-10-13 | attend 2026-10-13     | booked
        2026-10-13 | ended attended    | {}
        2026-10-15 |                   | {}
        """
    typed, missing = date(2026, 10, 13), "type_visit 2026-10-14"
    tell(
        came.format("book_now 2026-10-13 | to_contact", "invitation 2026-10-13 | to_contact"),
        seen_on=typed,
    )
    before, after = date(2026, 10, 12), date(2026, 10, 16)
    for other in (before, after):
        tell(came.format(f"{missing} | waiting", f"{missing} | to_contact"), seen_on=other)
