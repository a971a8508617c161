"""A referral whose reason is gone is found, so that it can be asked about: no source."""

from __future__ import annotations

from datetime import date
from typing import Any

from msgspec import convert
from msgspec.structs import replace

from recall.care.case import Case
from recall.protocol.loading import load
from recall.schedule.fold import folding
from recall.schedule.groundless import groundless

BLOCKED = {"wax_found": "occluding", "wax_left": "occluding", "clearance": "failed"}
OUT = {"wax_found": "occluding", "wax_left": "none", "clearance": "cleared", "drum_seen": "full"}


def asked_about(*rights: dict[str, Any]) -> list[str]:
    days = ("2026-12-01", "2026-12-11", "2026-12-20")
    visits = [{"on": on, "right": right} for on, right in zip(days, rights, strict=False)]
    case = convert({"born": "1980-03-02", "visits": visits}, Case)
    found = groundless(folding(case, load(), date(2027, 1, 1)))
    return [reason.rule for one in found for reason in one.reasons]


def test_a_referral_for_wax_that_is_out_is_asked_about() -> None:
    assert asked_about(BLOCKED, BLOCKED, OUT) == ["wax-failed-twice", "wax-found-again"]


def test_a_referral_for_wax_that_is_still_in_is_not() -> None:
    assert asked_about(BLOCKED, BLOCKED, BLOCKED) == []


def test_a_referral_of_the_same_day_is_not() -> None:
    assert asked_about(BLOCKED, BLOCKED) == []


def test_a_visit_that_did_not_look_says_nothing_of_it() -> None:
    assert asked_about(BLOCKED, BLOCKED, {"drum_seen": "full"}) == []


def test_a_sign_that_is_not_recorded_again_is_not_gone() -> None:
    worn = {"drum_seen": "full", "scutum_erosion": True}

    assert asked_about(worn, {"drum_seen": "full", "scutum_erosion": False}) == []


def test_nobody_seen_has_nothing_to_ask_about() -> None:
    assert asked_about() == []


def test_a_referral_that_was_asked_on_the_day_of_the_last_visit_is_of_that_day() -> None:
    """Whoever asked for it then knew what that visit found."""
    days = ("2026-12-01", "2026-12-11", "2026-12-20")
    visits = [
        {"on": on, "right": right} for on, right in zip(days, (BLOCKED, BLOCKED, OUT), strict=True)
    ]
    case = convert({"born": "1980-03-02", "visits": visits}, Case)
    state = folding(case, load(), date(2027, 1, 1))
    assert len(groundless(state)) == 1

    for key, referral in state.referrals.items():
        state.referrals[key] = replace(referral, asked_on=date(2026, 12, 20))

    assert groundless(state) == ()
