"""A referral whose reason a visit shows to be gone is asked about once, and answered."""

from __future__ import annotations

import pytest

from recall.care.case import Visit
from recall.care.ear import Ear
from recall.desk.core.session import Desk
from recall.desk.plans.judging import standing_lines
from recall.desk.visits.closing import close_visit
from recall.desk.visits.drafting import draft
from recall.desk.visits.drafts import Acceptance, Draft
from recall.records import tables
from recall.records.database.store import Store
from recall.schedule.plan_lines import Judgement
from tests.desk.practice import desk_at, later, rows, somebody

LOSS = Ear(hearing_dB={"500": 45, "1000": 45, "2000": 45, "4000": 50})
HEARS = Ear(hearing_dB={"500": 10, "1000": 10, "2000": 10, "4000": 10})
NAME = "paediatric-audiology:both"
LOOKED = Acceptance(looked=True)


@pytest.fixture
def weeks_later(store: Store) -> Desk:
    """A child was referred for a measured loss; it is six weeks later."""
    desk = desk_at(store, by="clara")
    somebody(desk)
    visit = Visit(on=desk.today, reported=("hearing_concern",), right=LOSS, left=LOSS)
    close_visit(desk, draft(desk, "W1", visit), LOOKED)
    assert any(line.name == NAME for line in standing_lines(desk, "W1").lines)
    return later(desk, 42)


def seen(desk: Desk, **ears: Ear) -> Draft:
    return draft(desk, "W1", Visit(on=desk.today, **ears))


def asked(given: Draft) -> list[str]:
    return [line.name for line in given.groundless]


def test_it_is_asked_about_only_where_every_reason_is_shown_to_be_gone(weeks_later: Desk) -> None:
    assert asked(seen(weeks_later, right=HEARS, left=HEARS)) == [NAME]
    assert asked(seen(weeks_later, right=HEARS)) == []
    assert asked(seen(weeks_later, right=HEARS, left=LOSS)) == []
    assert asked(seen(weeks_later, right=Ear(wax_found="none"), left=HEARS)) == []


def test_still_needed_stands_and_is_not_asked_again(weeks_later: Desk) -> None:
    given = seen(weeks_later, right=HEARS, left=HEARS)
    needed = Acceptance(looked=True, still_needed=(NAME,))
    close_visit(weeks_later, given, needed)
    assert rows(weeks_later.store, tables.ReferralEvent, what="still_needed")
    names = [line.name for line in standing_lines(weeks_later, "W1").lines]
    assert NAME in names
    again = later(weeks_later, 30)
    assert asked(seen(again, right=HEARS, left=HEARS)) == []


def test_withdrawn_ends_it_and_says_who_is_to_be_told(weeks_later: Desk) -> None:
    given = seen(weeks_later, right=HEARS, left=HEARS)
    gone = ((NAME, Judgement("strike", "explained")),)
    done = close_visit(weeks_later, given, Acceptance(looked=True, judged=gone))
    assert "Tell child audiology that the referral of 1 September 2026 is withdrawn." in done.words
    ended = rows(weeks_later.store, tables.Referral, to="paediatric_audiology")
    assert {(row["is_open"], row["end_reason"]) for row in ended} == {(False, "struck_out")}


def test_unanswered_it_stands_and_is_asked_at_the_next_visit(weeks_later: Desk) -> None:
    close_visit(weeks_later, seen(weeks_later, right=HEARS, left=HEARS), LOOKED)
    again = later(weeks_later, 30)
    assert asked(seen(again, right=HEARS, left=HEARS)) == [NAME]
