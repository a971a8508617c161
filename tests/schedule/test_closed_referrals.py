"""What came of a referral answers that referral, and nothing that was asked of the service since.

A result is of what was asked; common practice, no source.
"""

from __future__ import annotations

from datetime import date
from typing import Any

import pytest
from msgspec import convert

from recall.care.case import Case
from recall.protocol.loading import load
from recall.schedule.fold import folding
from recall.schedule.plan import Decision, Referral
from recall.schedule.planning import plan

FIRST, AGAIN = "2026-12-01", "2027-03-01"
POCKET = {"drum_seen": "full", "attic_seen": True, "attic_grade": 3}
EMERGENCIES = ("sudden_hearing_loss", "facial_weakness")


def seen(on: str, *told: str, **found: Any) -> dict[str, Any]:
    """Return a visit at which the right ear has a pocket, and perhaps more."""
    reported = [{"what": what, "ear": "right"} for what in told]
    return {"on": on, "right": {**POCKET, **found}, "reported": reported}


def at_ent(*visits: dict[str, Any], closed: str, asked: str | None = FIRST) -> Referral | None:
    """Return what stands at ENT for the right ear once an earlier referral there is closed."""
    case = convert({"born": "1980-01-01", "visits": visits}, Case)
    back = Decision(
        on=date.fromisoformat(closed),
        ear="right",
        to="ent",
        asked_on=date.fromisoformat(asked) if asked else None,
        reason="result_back",
    )
    state = folding(case, load(), date(2027, 6, 1), decisions=(back,))
    return state.referrals.get(("right", "ent"))


def rules(referral: Referral | None) -> set[str]:
    return {reason.rule for reason in referral.reasons} if referral else set()


@pytest.mark.parametrize("closed", [AGAIN, "2027-03-04"])
@pytest.mark.parametrize("told", EMERGENCIES)
def test_a_result_ends_no_emergency_that_came_since_what_it_answers(told: str, closed: str) -> None:
    stands = at_ent(seen(FIRST), seen(AGAIN, told), closed=closed)

    assert stands is not None
    assert (stands.urgency, stands.asked_on) == ("emergency", date.fromisoformat(AGAIN))


@pytest.mark.parametrize("asked", [AGAIN, None])
def test_a_result_ends_the_emergency_that_it_answers(asked: str | None) -> None:
    """Without a day it answers whatever stands: it was written down before days were kept."""
    visits = seen(FIRST), seen(AGAIN, EMERGENCIES[0])
    assert at_ent(*visits, closed="2027-03-04", asked=asked) is None


def test_a_result_of_an_earlier_day_is_of_what_was_asked_by_then() -> None:
    stands = at_ent(seen(FIRST), seen(AGAIN, EMERGENCIES[0]), closed="2027-02-01")
    assert stands is not None and stands.urgency == "emergency"
    assert at_ent(seen(FIRST), closed="2027-02-01") is None


def test_what_is_new_that_day_is_asked_by_itself_though_it_presses_no_more() -> None:
    visits = seen(FIRST), seen(AGAIN, discharge="purulent")
    old = at_ent(seen(FIRST), closed="2028-01-01")

    stands = at_ent(*visits, closed=AGAIN)

    assert stands is not None and stands.asked_on == date.fromisoformat(AGAIN)
    assert rules(stands) and not rules(stands) & rules(old)
    assert at_ent(seen(FIRST), seen(AGAIN), closed=AGAIN) is None


def test_the_reason_that_presses_most_is_told_first_and_a_stroke_before_ent() -> None:
    """Whoever is rung hears first why it cannot wait. Common practice, no source."""
    ill = {"canal_skin": "inflamed", "granulation": True}
    told = [{"what": "night_pain", "ear": "right"}]
    visit = {"on": AGAIN, "right": {**POCKET, **ill}, "reported": told}
    frail = convert({"born": "1954-01-01", "visits": [visit], "risks": ["diabetes"]}, Case)
    dizzy = ["sudden_vertigo", {"what": "facial_weakness", "ear": "right"}]
    struck = convert({"born": "1954-01-01", "visits": [{"on": AGAIN, "reported": dizzy}]}, Case)
    on = date.fromisoformat(AGAIN)

    (ent,) = [r for r in plan(frail, load(), on).referrals if r.to == "ent"]
    assert ent.urgency == "emergency" and ent.reasons[0].track == "canal_skin"
    assert [r.to for r in plan(struck, load(), on).referrals][:2] == ["stroke", "ent"]


def at_ent_by_file(*visits: dict[str, Any], until: str) -> Referral | None:
    """Return what stands once a file brings, later, what came of the first referral by a day."""
    case = convert({"born": "1980-01-01", "visits": visits}, Case)
    back = Decision(
        on=date(2027, 5, 1),
        ear="right",
        to="ent",
        asked_on=date.fromisoformat(FIRST),
        reason="answered",
        until=date.fromisoformat(until),
    )
    state = folding(case, load(), date(2027, 6, 1), decisions=(back,))
    return state.referrals.get(("right", "ent"))


def test_a_result_that_a_file_brings_ends_nothing_that_was_found_after_its_day() -> None:
    visits = seen(FIRST), seen(AGAIN, keratin=True)
    old = at_ent(seen(FIRST), closed="2028-01-01")

    stands = at_ent_by_file(*visits, until="2027-02-01")

    assert stands is not None and stands.asked_on == date.fromisoformat(AGAIN)
    assert rules(stands) and not rules(stands) & rules(old)


def test_it_ends_what_was_found_until_its_own_day_and_what_was_only_found_again() -> None:
    visits = seen(FIRST), seen(AGAIN, keratin=True)

    assert at_ent_by_file(*visits, until="2027-03-15") is None
    assert at_ent_by_file(seen(FIRST), seen(AGAIN), until="2027-02-01") is None


def test_what_is_routine_and_was_found_after_its_day_stands_and_what_came_before_ends() -> None:
    hole = seen("2027-01-10", perforation="central", perforation_new=True)
    open_long = seen("2027-04-10", perforation="central")

    stands = at_ent_by_file(seen(FIRST), hole, open_long, until="2027-02-01")

    assert stands is not None and rules(stands) == {"hole-open-long"}
    assert (stands.asked_on, stands.urgency) == (date(2027, 4, 10), "medium")
    assert at_ent_by_file(seen(FIRST), hole, open_long, until="2027-04-15") is None
