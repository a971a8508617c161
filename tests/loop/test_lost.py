"""Nobody is lost before everything was tried, and nobody is closed by a rule.

"Correct action is taken, or a valid reason for not taking it is known and recorded"
(phescreening.blog.gov.uk, 28 August 2018). Two contacts by two channels: common practice.
"""

from __future__ import annotations

from datetime import date

from recall.care.case import URGENCIES
from recall.loop.facts import AddressChecked, Contact, Event, GpTold, Posted, Returned
from recall.loop.lost import decisions, missing
from recall.loop.status import status_on
from tests.loop.tell import RULES, facts, tell

DAY = date(2027, 1, 5)
CALL = Contact(on=date(2026, 10, 13), channel="phone", outcome="no_answer")
LETTER = Posted(on=date(2026, 9, 15), kind="invitation")
CHECK = AddressChecked(on=date(2026, 10, 20))


def gaps(*events: Event, **more: object) -> list[str]:
    return [gap.what for gap in missing(facts(events=events, **more), DAY, RULES)]


def choices(*events: Event, **more: object) -> dict[str, bool]:
    offered = decisions(facts(events=events, **more), DAY, RULES)
    return {choice.id: choice.allowed for choice in offered}


def test_at_first_everything_is_missing() -> None:
    assert gaps(gp_agreed=True, urgency="high") == [
        "contacts",
        "channels",
        "address_check",
        "gp_told",
    ]


def test_two_letters_are_two_contacts_by_one_channel() -> None:
    assert gaps(LETTER, Posted(on=DAY, kind="reminder"), CHECK) == ["channels"]


def test_a_call_and_a_letter_and_an_address_check_are_enough_where_nobody_may_be_told() -> None:
    assert gaps(LETTER, CALL, CHECK, gp_agreed=False) == []
    tried = LETTER, CALL, CHECK
    assert gaps(*tried, gp_agreed=True, urgency="high") == ["gp_told"]
    assert gaps(*tried, GpTold(on=DAY), gp_agreed=True, urgency="high") == []


def test_the_gp_is_told_of_what_is_high_or_more() -> None:
    asked = {u for u in URGENCIES if gaps(LETTER, CALL, CHECK, gp_agreed=True, urgency=u)}

    assert asked == {"emergency", "urgent", "high"}


def test_a_letter_that_came_back_reached_nobody() -> None:
    back = Returned(on=date(2026, 10, 21), posted_on=LETTER.on)

    assert gaps(LETTER, CALL, CHECK, back) == ["contacts", "channels", "address_check"]


def test_what_they_tell_us_of_themselves_is_no_attempt_of_ours() -> None:
    rang = Contact(on=DAY, channel="phone", outcome="will_call_back", by_them=True)

    assert gaps(rang, LETTER, CHECK) == ["contacts", "channels"]


def test_where_a_check_finds_one_way_only_two_contacts_by_it_are_enough() -> None:
    post = frozenset({"letter"})
    twice = (LETTER, Posted(on=DAY, kind="reminder"), CHECK)

    assert gaps(*twice, channels=post) == []
    assert gaps(*twice[:2], channels=post) == ["channels", "address_check"]


def test_handing_back_waits_until_everything_was_tried() -> None:
    assert not choices(LETTER)["hand_back"]
    assert choices(LETTER, CALL, CHECK)["hand_back"]


def test_handing_back_is_open_at_once_to_somebody_who_cannot_afford_it() -> None:
    told = Contact(on=DAY, channel="phone", outcome="cannot_afford")

    assert choices(told)["hand_back"]


def test_an_informed_decline_needs_somebody_to_have_declined() -> None:
    declined = Contact(on=DAY, channel="phone", outcome="declines")

    assert not choices(LETTER, CALL, CHECK)["informed_decline"]
    assert choices(declined)["informed_decline"]


def test_for_a_child_every_way_out_but_death_asks_for_safeguarding_first() -> None:
    offered = decisions(facts(), DAY, RULES)

    prompted = {choice.id for choice in offered if "safeguarding" in choice.prompt}
    assert prompted == {"hand_back", "informed_decline", "transferred", "other_reason"}
    assert not any(c.prompt for c in decisions(facts(born=date(1960, 1, 1)), DAY, RULES))


def test_years_of_silence_close_nobody() -> None:
    told = facts(events=(LETTER, CALL, CHECK))

    assert status_on(told, date(2040, 1, 1), RULES).word != "closed"


def test_nobody_is_sent_to_check_the_address_for_ever() -> None:
    """By address and e-mail alone: once both letters went out and it was checked, one decides."""
    story = """
    2026-09-02 |                    | invitation 2026-09-15    | waiting
    2026-09-15 | posted invitation  | address_check 2026-10-13 | waiting
    2026-10-13 | checked            | reminder 2026-10-20      | waiting
    2026-10-20 | posted reminder    | last_letter 2026-10-27   | waiting
    2026-10-27 | posted last_letter | decision 2026-11-10      | waiting
    2026-11-10 |                    | decision 2026-11-10      | to_contact
    """
    known = tell(story, channels=frozenset({"letter", "email"}))
    assert [gap.what for gap in missing(known, date(2026, 11, 10), RULES)] == ["channels"]


def test_no_letter_is_next_for_whoever_has_moved() -> None:
    moved = {"moved_on": date(2026, 9, 2)}
    story = """
    2026-09-02 |         | address_check 2026-09-03 | waiting
    2026-09-03 | checked | phone 2026-10-13         | waiting
    """
    tell(story, **moved)
    tell(story.replace("phone 2026-10-13", "decision 2026-11-10"), channels=frozenset(), **moved)
