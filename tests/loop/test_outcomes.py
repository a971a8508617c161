"""Every outcome that people meet has words, something that follows, and a next step.

Which outcomes there are is common practice, no source; that nobody is closed without a known
and recorded reason follows gov.uk, AAA screening failsafe processes (2019).
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import get_args

import pytest

from recall.loop.facts import Contact
from recall.loop.lost import missing
from recall.loop.outcomes import BY_ID, OUTCOMES, Outcome, OutcomeId
from recall.loop.status import status_on
from recall.loop.steps import next_step
from recall.schedule.plan import CloseReason
from tests.loop.tell import RULES, facts

DAY = date(2026, 10, 13)
REVIEWED: dict[OutcomeId, str] = {
    "booked": "counts, spoken",
    "no_answer": "counts, only ours",
    "left_message": "counts, only ours",
    "somebody_else_answered": "counts, asked first, only ours",
    "identity_not_confirmed": "counts",
    "message_sent": "counts, only ours",
    "will_call_back": "counts, spoken",
    "call_again_on": "counts, spoken",
    "wants_letter": "counts, spoken",
    "wants_clinician": "counts, spoken, asked first",
    "wrong_number": "about the person, asked first, only ours",
    "not_here": "asked first, about the person, only ours",
    "worse": "counts, spoken",
    "declines": "counts, spoken, asked first, ends one",
    "cannot_afford": "counts, spoken, asked first, ends one",
    "cannot_travel": "counts, spoken, asked first, ends one",
    "seen_elsewhere": "counts, spoken, asked first, ends one",
    "too_ill": "counts, spoken, about the person",
    "in_hospital": "counts, about the person",
    "away": "counts, about the person",
    "needs_interpreter": "asked first, about the person",
    "moved": "about the person, asked first",
    "do_not_contact": "counts, spoken, grave, about the person",
    "not_safe": "grave, about the person",
    "died": "grave, about the person",
}
"""What each outcome is, decided by people and written here by hand, never read from the table:
whether it counts as a contact before anybody may be called lost, whether whoever may speak for
the person was spoken to, what is asked before they go, what stops all contact, what they
cannot have when they reach us, and what it is about. Common practice, no source."""
EACH = pytest.mark.parametrize("outcome", OUTCOMES, ids=lambda o: o.id)


def after(outcome: Outcome, **more: object) -> Contact:
    return Contact(on=DAY, channel="phone", outcome=outcome.id, **more)  # type: ignore[arg-type]


def test_every_outcome_stands_in_the_table_once_with_words_of_its_own() -> None:
    assert sorted(o.id for o in OUTCOMES) == sorted(get_args(OutcomeId)) == sorted(REVIEWED)
    assert len({o.words for o in OUTCOMES}) == len(OUTCOMES)


@EACH
def test_each_outcome_leaves_a_next_step_not_before_the_contact(outcome: Outcome) -> None:
    step = next_step(facts(events=(after(outcome),)), DAY, RULES)

    assert step is not None
    assert step.on >= DAY


@EACH
def test_no_outcome_closes_anything_by_itself(outcome: Outcome) -> None:
    assert status_on(facts(events=(after(outcome),)), DAY, RULES).word != "closed"


@EACH
def test_only_what_may_have_reached_the_person_counts_as_a_contact(outcome: Outcome) -> None:
    gaps = {gap.what: gap.words for gap in missing(facts(events=(after(outcome),)), DAY, RULES)}
    counts = "counts" in REVIEWED[outcome.id]
    assert gaps["contacts"] == ("1 of 2 contacts" if counts else "0 of 2 contacts")


@EACH
def test_each_outcome_is_what_was_reviewed(outcome: Outcome) -> None:
    is_so = {
        "counts": outcome.counts,
        "spoken": outcome.reached,
        "asked first": outcome.asks_first,
        "only ours": outcome.only_ours,
        "grave": outcome.is_grave,
        "about the person": outcome.about == "person",
        "ends one": outcome.about == "one",
    }

    assert {name for name, holds in is_so.items() if holds} == set(REVIEWED[outcome.id].split(", "))
    assert outcome.ask or not outcome.asks_first


def test_every_outcome_but_the_booking_has_a_key_of_its_own_and_words_for_a_narrow_screen() -> None:
    keys = [outcome.key for outcome in OUTCOMES if outcome.id != "booked"]

    assert BY_ID["booked"].key == ""
    assert all(len(key) == 1 for key in keys) and len(set(keys)) == len(keys)
    assert all(0 < len(outcome.short) <= 17 for outcome in OUTCOMES)
    assert len({outcome.short for outcome in OUTCOMES}) == len(OUTCOMES)


@pytest.mark.parametrize(
    ("outcome", "step", "days"),
    [
        ("no_answer", "invitation", 2),
        ("somebody_else_answered", "invitation", 2),
        ("identity_not_confirmed", "invitation", 2),
        ("left_message", "invitation", 5),
        ("message_sent", "invitation", 5),
        ("call_again_on", "phone", 7),
        ("will_call_back", "phone", 7),
        ("wants_letter", "asked_letter", 1),
        ("wants_clinician", "clinician_call", 0),
        ("worse", "clinician_call", 0),
        ("declines", "decision", 0),
        ("cannot_afford", "decision", 0),
        ("cannot_travel", "decision", 0),
        ("seen_elsewhere", "ask_result", 14),
        ("too_ill", "phone", 28),
        ("in_hospital", "phone", 28),
        ("away", "phone", 28),
        ("needs_interpreter", "invitation", 3),
        ("wrong_number", "phone", 0),
        ("not_here", "phone", 0),
        ("moved", "address_check", 1),
        ("died", "decision", 0),
        ("do_not_contact", "decision", 0),
        ("not_safe", "decision", 0),
    ],
)
def test_what_comes_next_and_when(outcome: OutcomeId, step: str, days: int) -> None:
    found = next_step(facts(events=(after(BY_ID[outcome]),)), DAY, RULES)

    assert found is not None
    assert (found.kind, found.on) == (step, DAY + timedelta(days))


@pytest.mark.parametrize("outcome", [o for o in OUTCOMES if o.asks_day], ids=lambda o: o.id)
def test_the_day_agreed_is_the_day_of_the_call(outcome: Outcome) -> None:
    step = next_step(facts(events=(after(outcome, until=date(2026, 10, 20)),)), DAY, RULES)

    assert step is not None
    assert (step.kind, step.on) == ("phone", date(2026, 10, 20))


def test_how_a_clinician_would_usually_close_it() -> None:
    """By the outcome alone nothing is closed; anything else closes in whatever way is decided."""
    usual = {outcome.id: outcome.closes_as for outcome in OUTCOMES if outcome.closes_as}

    assert usual == {
        "declines": "informed_decline",
        "do_not_contact": "informed_decline",
        "cannot_afford": "handed_back",
        "cannot_travel": "handed_back",
        "died": "died",
    }
    assert set(usual.values()) <= set(get_args(CloseReason))


def test_cannot_afford_it_is_never_recorded_as_declined() -> None:
    assert BY_ID["cannot_afford"].closes_as == "handed_back"
    assert "public route" in BY_ID["cannot_afford"].words


def test_nothing_is_said_where_it_is_not_known_who_answers() -> None:
    for outcome in ("left_message", "somebody_else_answered", "identity_not_confirmed"):
        assert not BY_ID[outcome].reached
    assert "name and number only" in BY_ID["left_message"].words
    assert "date of birth" in RULES.words.identity
