"""What an act about a person counts for. Eight weeks and two weeks: common practice, no source."""

from __future__ import annotations

from datetime import date, timedelta

import msgspec
import pytest

from recall.loop.facts import AddressChecked, Booked, Contact, Event, Facts, Posted
from recall.loop.lost import missing
from recall.loop.outcomes import BY_ID, OUTCOMES
from recall.loop.reach import (
    contact_is_about,
    in_reach,
    latest_of_calls,
    letter_counts,
    letter_does,
    met_by,
    put_off_too,
    reached,
)
from recall.loop.status import status_on
from recall.loop.steps import next_step
from tests.loop.tell import RULES, facts, tell

DAY = date(2026, 9, 1)


def weeks(count: int) -> date:
    return DAY + timedelta(weeks=count)


def ask(opens: int, *events: Event, lasts: int = 4, **more: object) -> Facts:
    """An ask whose window opens so many weeks after the visit and is open for so many."""
    window = {"earliest": weeks(opens), "target": weeks(opens + lasts // 2)}
    return facts(latest=weeks(opens + lasts), events=events, **window, **more)


def test_what_opens_within_eight_weeks_is_in_reach() -> None:
    far = ask(20)
    assert not in_reach(far, weeks(12) - timedelta(days=1), RULES)
    assert in_reach(far, weeks(12), RULES)


def test_a_call_is_by_the_earliest_day_of_all_that_it_is_about_and_is_not_booked() -> None:
    late, next_one, far, on = ask(1, lasts=1), ask(12), ask(40), weeks(12)
    booked = ask(1, Booked(on=on, booking=1, day=weeks(13), why_late="away"), lasts=1)
    people = {1: [next_one, late, far], 2: [far], 3: [booked, next_one], 4: [booked]}
    known = [(person, each) for person, held in people.items() for each in held]
    assert latest_of_calls(known, on, RULES) == {1: late.latest, 3: next_one.latest}


def test_it_is_in_reach_once_its_first_step_has_come_however_far_the_window() -> None:
    soon = ask(10, lasts=0)  # within ten weeks: booked before they leave
    assert in_reach(soon, DAY, RULES)
    assert not in_reach(ask(11), DAY, RULES)


def test_what_was_brought_forward_by_what_they_said_is_in_reach() -> None:
    worse = ask(40, Contact(on=weeks(1), channel="phone", outcome="worse", by_them=True))
    assert in_reach(worse, weeks(1), RULES)
    assert not in_reach(worse, DAY, RULES)


def test_nothing_is_in_reach_before_it_was_asked() -> None:
    assert not in_reach(ask(4), DAY - timedelta(days=1), RULES)


def test_a_contact_counts_for_all_in_reach_and_for_the_one_in_hand() -> None:
    tracks = {1: ask(4), 2: ask(6), 3: ask(30)}
    assert reached(tracks, 2, DAY, RULES) == (2, 1)
    assert reached(tracks, 3, DAY, RULES) == (3, 1, 2)


def test_what_may_end_one_thing_is_about_that_alone_and_all_else_about_all() -> None:
    tracks = {1: ask(4), 2: ask(6), 3: ask(30)}
    for outcome in OUTCOMES:
        about = contact_is_about(outcome, tracks, 1, DAY, RULES)
        assert about == ((1,) if outcome.about == "one" else (1, 2)), outcome.id
    assert contact_is_about(BY_ID["declines"], tracks, 1, DAY, RULES, (2, 1)) == (2, 1)


def test_who_is_away_is_away_for_what_is_out_of_reach_too() -> None:
    tracks = {1: ask(4), 2: ask(6), 3: ask(30)}
    waits = {o.id for o in OUTCOMES if put_off_too(o, tracks, (1, 2)) == (3,)}
    assert waits == {"too_ill", "in_hospital", "away"}


def test_an_appointment_meets_those_whose_window_holds_the_day_and_those_who_are_late() -> None:
    day = weeks(9)
    late, holds, opens, ends = ask(1, lasts=2), ask(8), ask(10), ask(4)
    own = ask(8, Booked(on=weeks(4), booking=7, day=weeks(10)))
    tracks = {1: ask(8), 2: late, 3: holds, 4: opens, 5: ends, 6: own, 7: ask(40)}
    met = met_by(tracks, 1, day, weeks(4), RULES)
    assert met.met == (1, 2, 3)
    assert met.not_met == (4, 5)


def test_a_late_appointment_meets_what_is_open_then_and_presses_no_more() -> None:
    """Its reason is that they can come no sooner: that holds for the other one too."""
    day = weeks(9)
    first, ends, opens = ask(1, lasts=2), ask(4, lasts=2), ask(10)
    presses = msgspec.structs.replace(ends, urgency="urgent")
    tracks = {1: first, 2: ends, 3: opens, 4: presses}
    met = met_by(tracks, 1, day, weeks(5), RULES)
    assert met.met == (1, 2)
    assert met.not_met == (3, 4)


@pytest.mark.parametrize(
    ("so_far", "does"),
    [
        ("", "invitation"),
        ("invitation", "reminder"),
        ("invitation reminder", "last_letter"),
        ("last_letter", None),
    ],
)
def test_a_letter_does_the_step_that_is_due_or_next_and_never_a_later_one(
    so_far: str, does: str | None
) -> None:
    sent = [Posted(on=weeks(13 + n), kind=kind) for n, kind in enumerate(so_far.split())]
    found = letter_does(ask(20, *sent), weeks(16), RULES)
    assert (found.kind if found else None) == does


def test_no_letter_does_anything_for_who_waits_for_somebody() -> None:
    on = weeks(6)
    booked = ask(4, Booked(on=on, booking=1, day=weeks(7)))
    for outcome in ("worse", "declines", "seen_elsewhere", "not_here", "died", "not_safe"):
        said = ask(4, Contact(on=on, channel="phone", outcome=outcome))
        assert letter_does(said, on, RULES) is None, outcome
    gone = ask(4, Contact(on=on, channel="phone", outcome="not_here"))
    step = next_step(gone, on, RULES)
    assert step is not None and step.kind == "phone"
    wrong = Contact(on=on, channel="phone", outcome="wrong_number")
    only = ask(4, wrong, channels=frozenset({"letter"}))
    assert letter_does(only, on, RULES) is None
    assert letter_does(booked, on, RULES) is None


def test_a_letter_counts_for_the_others_in_reach_each_by_its_own_step() -> None:
    invited = ask(4, Posted(on=weeks(3), kind="invitation"))
    does = letter_counts({1: ask(4), 2: invited, 3: ask(9), 4: ask(30)}, 1, weeks(6), RULES)
    assert {n: step.kind for n, step in does.items()} == {2: "reminder", 3: "invitation"}


def test_attempts_long_before_a_window_opens_do_not_count_towards_lost() -> None:
    opens = ask(20)
    first = opens.earliest - timedelta(weeks=2)
    tried = (
        Contact(on=first, channel="phone", outcome="no_answer"),
        Posted(on=first, kind="invitation"),
        AddressChecked(on=first),
    )
    day_before = tuple(
        type(e)(**{f: getattr(e, f) for f in e.__struct_fields__} | {"on": first - timedelta(1)})
        for e in tried
    )
    assert missing(opens.with_events(*tried), weeks(30), RULES) == ()
    assert [g.what for g in missing(opens.with_events(*day_before), weeks(30), RULES)] == [
        "contacts",
        "channels",
    ]


def test_what_joins_late_starts_with_its_own_evidence_at_nothing() -> None:
    tried = (
        Contact(on=weeks(5), channel="phone", outcome="no_answer"),
        Posted(on=weeks(5), kind="invitation"),
        AddressChecked(on=weeks(5)),
    )
    alone = ask(4, *tried)
    assert missing(alone, weeks(9), RULES) == ()
    joined = ask(4, *tried, joined_on=weeks(5) + timedelta(days=1))
    gaps = [gap.what for gap in missing(joined, weeks(9), RULES)]
    assert gaps == ["contacts", "channels", "address_check"]
    assert status_on(joined, weeks(20), RULES).word != "lost"


def test_a_call_about_something_else_uses_up_no_call_of_a_later_window() -> None:
    """Two calls weeks before are about what pressed then; its own call still comes."""
    tell(
        """
        2026-09-02 | phone no_answer   | list_look 2026-12-22 | waiting
        2026-09-08 | phone no_answer   | list_look 2026-12-22 | waiting
        2027-01-05 | posted invitation | phone 2027-02-02     | waiting
        2027-02-02 | phone no_answer   | phone 2027-02-04     | waiting
        2027-02-04 | phone no_answer   | reminder 2027-02-09  | waiting
        """,
        earliest=date(2027, 1, 19),
        target=date(2027, 2, 2),
        latest=date(2027, 2, 16),
    )
