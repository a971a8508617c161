"""Referrals stay open until they are known: sent, accepted, seen, result back.

Sent is not seen: about half of US specialist referrals are completed (IHI/NPSF, Closing the
Loop, 2017). Two weeks for urgent ear referrals: NICE NG98 1.1. 18 weeks from referral: NHS
Constitution. The other days are common practice, no source.
"""

from __future__ import annotations

from datetime import date, timedelta
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from recall.care.case import Urgency
from recall.loop.referral import ReferralEvent, ReferralLoop, Route, What, state
from recall.schedule.calendar import Calendar
from recall.schedule.plan import Referral, Stages
from tests.loop.tell import RULES

ASKED = date(2026, 9, 1)
DAYS = {"emergency": (0, 0, 1, 14), "urgent": (1, 7, 14, 42), "high": (3, 14, 84, 112),
        "medium": (7, 21, 126, 154), "low": (7, 21, 126, 154)}  # fmt: skip


def referral(urgency: Urgency = "urgent") -> Referral:
    sent, accepted, seen, result = (ASKED + timedelta(n) for n in DAYS[urgency])
    stages = Stages(sent_by=sent, accepted_by=accepted, seen_by=seen, result_by=result)
    return Referral(
        to="ent",
        ears=("right",),
        urgency=urgency,
        within_days=DAYS[urgency][2],
        stages=stages,
        reasons=(),
        asked_on=ASKED,
    )


def follow(text: str, urgency: Urgency = "urgent", route: Route = "direct") -> None:
    """Read lines of `day | what became known | stage asked for | day of the chase`."""
    events: list[ReferralEvent] = []
    for line in filter(str.strip, text.splitlines()):
        day, what, stage, chased = (part.strip() for part in line.split("|"))
        on = date.fromisoformat(day)
        if what:
            name, *rest = what.split()
            when = date.fromisoformat(rest[0]) if rest else None
            events.append(ReferralEvent(on=on, what=name, day=when))  # type: ignore[arg-type]
        loop = ReferralLoop(referral=referral(urgency), route=route, events=tuple(events))
        found = state(loop, on, RULES)
        assert (found.stage, str(found.chased_on or "")) == (stage, chased), line


def test_an_urgent_referral_is_chased_stage_by_stage_until_the_result_is_back() -> None:
    follow(
        """
        2026-09-01 |          | sent     | 2026-09-02
        2026-09-01 | sent     | accepted | 2026-09-08
        2026-09-05 | accepted | seen     | 2026-09-15
        2026-09-12 | seen     | result   | 2026-10-13
        2026-10-01 | result   | known    |
        """
    )


def test_through_the_gp_the_gp_must_be_known_to_have_acted() -> None:
    follow(
        """
        2026-09-01 | sent     | gp_acted | 2026-09-04
        2026-09-03 | gp_acted | accepted | 2026-09-08
        """,
        route="gp",
    )


def test_the_gp_has_a_week_for_what_is_high_and_two_for_the_rest() -> None:
    follow("2026-09-01 | sent | gp_acted | 2026-09-08", urgency="high", route="gp")
    for urgency in ("medium", "low"):
        follow("2026-09-01 | sent | gp_acted | 2026-09-15", urgency=urgency, route="gp")


def test_what_is_not_urgent_is_chased_again_after_two_weeks() -> None:
    for urgency in ("medium", "low"):
        follow(
            """
            2026-09-01 | sent   | accepted | 2026-09-22
            2026-09-22 | chased | accepted | 2026-10-06
            """,
            urgency=urgency,
        )


def test_an_emergency_is_arranged_by_phone_and_asked_about_the_next_day() -> None:
    follow(
        """
        2026-09-01 |       | sent   | 2026-09-01
        2026-09-01 | spoke | seen   | 2026-09-02
        2026-09-02 | seen  | result | 2026-09-15
        """,
        urgency="emergency",
    )
    said = state(ReferralLoop(referral=referral("emergency")), ASKED, RULES)
    assert said.by_phone
    assert said.why == "Arrange by phone while the person is here, letter in hand."


def test_an_emergency_that_did_not_get_there_is_a_clinicians_matter_at_once() -> None:
    follow(
        """
        2026-09-01 | spoke     | seen     | 2026-09-02
        2026-09-02 | not_there | decision | 2026-09-02
        2026-09-02 | spoke     | seen     | 2026-09-03
        """,
        urgency="emergency",
    )


def test_what_is_asked_of_an_emergency_is_asked_by_phone_until_they_were_seen() -> None:
    def said(*what: What) -> tuple[str, bool]:
        events = tuple(ReferralEvent(on=ASKED, what=w) for w in what)
        found = state(ReferralLoop(referral=referral("emergency"), events=events), ASKED, RULES)
        return found.why, found.by_phone

    assert said() == ("Arrange by phone while the person is here, letter in hand.", True)
    assert said("spoke") == ("Ring: did they get there?", True)
    assert said("spoke", "seen") == ("Is the result back?", False)


def test_what_is_asked_of_any_other_is_asked_by_its_stage() -> None:
    def said(*events: ReferralEvent) -> str:
        return state(ReferralLoop(referral=referral(), events=events), ASKED, RULES).why

    sent = ReferralEvent(on=ASKED, what="sent")
    day = ReferralEvent(on=ASKED, what="appointment", day=date(2026, 9, 10))
    later = ReferralEvent(on=ASKED, what="appointment", day=date(2026, 9, 12))
    missed = ReferralEvent(on=ASKED, what="missed_there", day=date(2026, 9, 1))
    seen = ReferralEvent(on=ASKED, what="seen", day=date(2026, 9, 10))
    assert said() == "Has it been sent?"
    assert said(sent) == "Was it accepted?"
    assert said(sent, day) == "Were they seen? Their appointment there: 10 September 2026."
    assert said(sent, day, later) == "Were they seen? Their appointment there: 12 September 2026."
    assert said(missed, day) == "Were they seen? Their appointment there: 10 September 2026."
    assert "was missed (1 September 2026): is there another?" in said(sent, day, missed)
    assert said(sent, day, seen) == "Is the result back?"


def test_an_appointment_that_was_kept_gives_no_day_for_the_result() -> None:
    follow(
        """
        2026-09-05 | appointment 2026-09-10 | seen   | 2026-09-11
        2026-09-10 | seen                   | result | 2026-10-13
        """
    )


def test_weeks_of_a_chase_are_weeks_whatever_the_practices_days() -> None:
    closed = Calendar(closures={date(2026, 9, 22): "training"})
    events = (
        ReferralEvent(on=ASKED, what="sent"),
        ReferralEvent(on=date(2026, 9, 15), what="chased"),
    )

    loop = ReferralLoop(referral=referral("high"), events=events)

    assert state(loop, date(2026, 9, 15), RULES, closed).chased_on == date(2026, 9, 22)


@pytest.mark.parametrize("ending", ["rejected", "discharged"])
def test_rejected_or_discharged_asks_for_a_decision_and_is_not_the_end(ending: What) -> None:
    follow(
        f"""
        2026-09-01 | sent      | accepted | 2026-09-15
        2026-09-10 | {ending}  | decision | 2026-09-10
        2026-09-20 | chased    | decision | 2026-09-10
        2026-09-21 | sent      | accepted | 2026-09-28
        2026-09-28 | accepted  | seen     | 2026-11-24
        """,
        urgency="high",
    )


def test_a_sent_referral_that_the_findings_no_longer_ask_for_waits_for_a_decision() -> None:
    """A voided visit leaves what was sent open; deciding to carry on goes on where it was."""
    made = referral()
    day = made.asked_on + timedelta(days=3)
    events = (
        ReferralEvent(on=made.asked_on, what="sent"),
        ReferralEvent(on=day, what="no_longer_asked"),
    )
    loop = ReferralLoop(referral=made, events=events)

    assert state(loop, day, RULES).stage == "decision"
    on = ReferralLoop(referral=made, events=(*events, ReferralEvent(on=day, what="decided")))
    assert state(on, day, RULES).stage == "accepted"


def test_a_chase_without_news_is_chased_again() -> None:
    follow(
        """
        2026-09-01 | sent   | accepted | 2026-09-08
        2026-09-08 | chased | accepted | 2026-09-10
        2026-09-10 | chased | accepted | 2026-09-14
        """
    )


def test_working_days_of_a_chase_are_the_practices_own() -> None:
    closed = Calendar(closures={date(2026, 9, 10): "training"})
    events = (
        ReferralEvent(on=ASKED, what="sent"),
        ReferralEvent(on=date(2026, 9, 8), what="chased"),
    )

    loop = ReferralLoop(referral=referral(), events=events)

    assert state(loop, date(2026, 9, 8), RULES, closed).chased_on == date(2026, 9, 11)


def test_a_known_appointment_is_asked_about_the_day_after_it() -> None:
    follow("2026-09-05 | appointment 2026-09-10 | seen | 2026-09-11")


def test_an_appointment_later_than_asked_is_chased_on_the_day_asked() -> None:
    event = ReferralEvent(on=date(2026, 9, 5), what="appointment", day=date(2026, 10, 20))

    found = state(ReferralLoop(referral=referral(), events=(event,)), event.on, RULES)

    assert found.chased_on == date(2026, 9, 15)
    assert "can it be sooner?" in found.why


def test_a_missed_hospital_appointment_is_asked_about_and_stays_open() -> None:
    follow(
        """
        2026-09-05 | accepted     | seen | 2026-09-15
        2026-09-16 | missed_there | seen | 2026-09-18
        """
    )


def test_seen_without_the_stages_before_means_that_they_happened() -> None:
    follow("2026-09-09 | seen | result | 2026-10-13")


def test_a_referral_is_closed_only_with_a_reason_by_a_name() -> None:
    closed = ReferralEvent(on=ASKED, what="closed", reason="informed decline")

    found = state(ReferralLoop(referral=referral(), events=(closed,)), ASKED, RULES)

    assert (found.is_open, found.why) == (False, "Closed: informed decline.")


@given(
    st.sampled_from(sorted(DAYS)),
    st.sampled_from(["direct", "gp"]),
    st.lists(
        st.tuples(
            st.integers(0, 9),
            st.sampled_from([w for w in get_args(What) if w not in ("result", "closed")]),
        ),
        max_size=12,
    ),
)
def test_whatever_happens_short_of_a_result_it_stays_open_with_a_day(
    urgency: Urgency, route: Route, happened: list[tuple[int, What]]
) -> None:
    on, events = ASKED, []
    for days, what in happened:
        on += timedelta(days)
        events.append(ReferralEvent(on=on, what=what))

    loop = ReferralLoop(referral=referral(urgency), route=route, events=tuple(events))
    found = state(loop, on, RULES)

    assert found.is_open
    assert found.chased_on is not None
    assert found.chased_on >= ASKED


def test_what_becomes_known_later_is_not_known_yet() -> None:
    later = ReferralEvent(on=date(2026, 9, 5), what="seen")
    loop = ReferralLoop(referral=referral(), events=(later,))

    assert state(loop, date(2026, 9, 4), RULES).stage == "sent"
    assert state(loop, date(2026, 9, 5), RULES).stage == "result"


def test_what_was_rejected_has_to_be_sent_again() -> None:
    follow(
        """
        2026-09-01 | sent     | accepted | 2026-09-15
        2026-09-04 | accepted | seen     | 2026-11-24
        2026-09-10 | rejected | decision | 2026-09-10
        2026-09-11 | decided  | sent     | 2026-09-18
        """,
        urgency="high",
    )


def test_the_last_of_several_appointments_there_counts() -> None:
    follow(
        """
        2026-09-05 | appointment 2026-09-08 | seen | 2026-09-09
        2026-09-06 | appointment 2026-09-11 | seen | 2026-09-12
        """
    )
