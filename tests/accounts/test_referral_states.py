"""Every referral is in exactly one state on a day; sent means that a day of it is on record."""

from __future__ import annotations

from collections import Counter
from datetime import date, timedelta
from itertools import product
from typing import Any, get_args

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace

from recall.accounts.cohort import Day, account_of_referrals
from recall.accounts.referral import Referred, state_where
from recall.accounts.states import REFERRAL_STATES, RESULT_BACK, ReferralState
from recall.care.case import URGENCIES
from recall.loop.referral import ReferralEvent, What
from recall.schedule.plan import EndReason
from tests.accounts.asks import START, referral
from tests.desk.practice import protocol
from tests.seeds import examples

RULES = protocol().contact
SENT_BY, ACCEPTED_BY, SEEN_BY, RESULT_BY = (START + timedelta(days=n) for n in (7, 42, 90, 120))
DAY = timedelta(days=1)
END_REASONS = [word for part in get_args(EndReason) for word in get_args(part)]
NAMES = [state.id for state in REFERRAL_STATES]


def known(*stages: tuple[What, date], urgency: str = "high", **more: Any) -> Referred:
    events = [ReferralEvent(on=on, what=what) for what, on in stages]
    loop = referral(urgency, *events)
    return Referred(number=1, person=1, born=date(2020, 3, 2), loop=loop, **more)


def of(ask: Referred, on: date) -> ReferralState:
    return state_where(ask, on, ask.missed_by(on), RULES, None)


def test_the_table_has_every_state_once() -> None:
    assert Counter(NAMES) == Counter(get_args(ReferralState))


@pytest.mark.parametrize(
    ("stages", "on", "state"),
    [
        ((), SENT_BY, "not_sent"),
        ((), SENT_BY + DAY, "not_sent_late"),
        ((("sent", SENT_BY),), ACCEPTED_BY, "sent"),
        ((("sent", SENT_BY),), ACCEPTED_BY + DAY, "sent_late"),
        ((("sent", SENT_BY), ("accepted", ACCEPTED_BY)), SEEN_BY, "accepted"),
        ((("sent", SENT_BY), ("accepted", ACCEPTED_BY)), SEEN_BY + DAY, "accepted_late"),
        ((("sent", SENT_BY), ("seen", SEEN_BY)), RESULT_BY, "seen"),
        ((("sent", SENT_BY), ("seen", SEEN_BY)), RESULT_BY + DAY, "seen_late"),
        ((("sent", SENT_BY), ("rejected", SEEN_BY)), SEEN_BY, "stopped"),
        ((("sent", SENT_BY), ("rejected", SENT_BY), ("decided", SENT_BY)), SENT_BY, "not_sent"),
    ],
)
def test_what_is_open_is_told_by_the_first_stage_that_is_not_known(
    stages: tuple[tuple[What, date], ...], on: date, state: str
) -> None:
    assert of(known(*stages), on) == state


def test_every_end_that_a_referral_can_have_has_one_state_and_every_state_is_reached() -> None:
    reached = set()
    whats = ((), (("sent", START),), (("no_longer_asked", START),), (("result", SENT_BY),))
    for end, events, day in product((*END_REASONS, RESULT_BACK), whats, (SENT_BY, RESULT_BY + DAY)):
        reached.add(of(known(*events, ended_on=day, end_reason=end), day))
    for what, day in product((None, *get_args(What)), (START, SENT_BY + DAY, RESULT_BY + DAY)):
        events = () if what is None else ((what, START),)
        reached.add(of(known(*events), day))
    loop = replace(referral(), from_file=True)
    old = Referred(number=1, person=1, born=date(2020, 3, 2), loop=loop)
    rules = RULES.in_use_from(RESULT_BY)
    reached.add(state_where(old, RESULT_BY, old.missed_by(RESULT_BY), rules, None))
    late = known(("sent", START), ("result", RESULT_BY + DAY), end_reason=RESULT_BACK)
    reached.add(of(late, RESULT_BY + DAY))
    assert reached == set(NAMES)


def test_a_later_stage_does_not_make_it_sent() -> None:
    seen = known(("seen", SEEN_BY))

    assert of(seen, SEEN_BY) == "seen"
    assert "sent" not in seen.recorded(SEEN_BY)
    assert "sent" in known(("spoke", START), urgency="emergency").recorded(START)


def test_each_stage_tells_whether_it_was_late() -> None:
    late = known(("sent", SENT_BY + DAY), ("accepted", ACCEPTED_BY), ("seen", SEEN_BY + DAY))

    assert late.late_stages(SEEN_BY + DAY) == ("sent", "seen")
    assert late.late_stages(SENT_BY) == ()
    assert late.late_stages(RESULT_BY + DAY) == ("sent", "seen", "result")


def test_what_ended_was_late_only_where_it_was_so_when_it_ended() -> None:
    in_time = known(ended_on=SENT_BY, end_reason="superseded")
    after = known(ended_on=SENT_BY + DAY, end_reason="superseded")

    assert of(in_time, RESULT_BY) == "replaced"
    assert of(after, RESULT_BY) == "replaced_late"


def test_a_reason_that_had_gone_is_told_from_a_clinicians_own_decision() -> None:
    gone = ("no_longer_asked", SENT_BY)

    ended = {"ended_on": SEEN_BY, "end_reason": "clinician_decision"}
    assert of(known(("sent", START), gone, **ended), SEEN_BY) == "groundless"
    assert of(known(("sent", START), **ended), SEEN_BY) == "decided"


events = st.lists(
    st.builds(
        ReferralEvent,
        on=st.integers(0, 200).map(lambda n: START + n * DAY),
        what=st.sampled_from([w for w in get_args(What) if w != "closed"]),
    ),
    max_size=6,
).map(lambda some: sorted(some, key=lambda e: e.on))


@settings(max_examples=examples(100))
@given(
    st.lists(
        st.tuples(
            st.sampled_from(URGENCIES),
            events,
            st.sampled_from([None, *END_REASONS]),
            st.integers(0, 250),
        ),
        max_size=5,
    ),
    st.integers(0, 300),
)
def test_the_states_of_any_referrals_sum_to_them(some: list[Any], days: int) -> None:
    asks = [
        Referred(
            number=n,
            person=n // 2,
            born=date(1960, 1, 1),
            loop=referral(urgency, *known),
            ended_on=None if end is None else START + ended * DAY,
            end_reason=end,
        )
        for n, (urgency, known, end, ended) in enumerate(some)
    ]
    account = account_of_referrals(asks, Day(START + days * DAY), RULES)

    assert sum(line.asks for line in account.lines()) == account.asks == len(asks)
    assert sum(line.missed for line in account.lines()) == account.missed
