"""Who wins, and what the losers leave: never a later day, never less to do."""

from __future__ import annotations

from datetime import date

from msgspec.structs import replace

from recall.schedule.merging import merged, renewed, stricter, winner
from recall.schedule.plan import Stages
from tests.records.build import DAY, due, referral

SOON, LATE = date(2026, 10, 13), date(2026, 10, 27)


def test_the_earliest_latest_wins_even_over_something_more_urgent() -> None:
    first = due(rule="routine", urgency="low", latest=SOON, target=SOON)
    second = due(rule="pressing", urgency="high", latest=LATE, do=("hearing_test",))

    found = winner([second, first])

    assert (found.rule, found.latest, found.beaten) == ("routine", SOON, ("pressing",))
    assert (found.urgency, found.do) == ("high", ("hearing_test",))


def test_on_the_same_latest_the_more_urgent_wins() -> None:
    found = winner([due(rule="a", urgency="low"), due(rule="b", urgency="high")])

    assert found.rule == "b"


def test_a_loser_leaves_what_it_wanted_looked_at() -> None:
    found = winner([due(needs=("fluid",)), due(rule="other", latest=LATE, needs=("trace",))])

    assert set(found.needs) == {"fluid", "trace"}


def test_the_names_of_those_beaten_before_are_kept() -> None:
    found = winner([due(rule="a", beaten=("x", "b")), due(rule="b", latest=LATE)])

    assert found.beaten == ("b", "x")


def test_of_two_referrals_each_stage_and_each_limit_is_the_stricter() -> None:
    days = [date(2026, 9, n) for n in range(1, 9)]
    one = Stages(sent_by=days[0], accepted_by=days[3], seen_by=days[4], result_by=days[7])
    other = Stages(sent_by=days[1], accepted_by=days[2], seen_by=days[5], result_by=days[6])

    for first, second in ((one, other), (other, one)):
        assert stricter(first, second) == Stages(
            sent_by=days[0], accepted_by=days[2], seen_by=days[4], result_by=days[6]
        )


def stages(*days: tuple[int, int]) -> Stages:
    sent, accepted, seen, result = (date(2026, month, day) for month, day in days)
    return Stages(sent_by=sent, accepted_by=accepted, seen_by=seen, result_by=result)


def test_asked_anew_a_day_that_has_gone_by_gives_way_to_the_new_one() -> None:
    old = stages((3, 23), (4, 3), (6, 12), (7, 10))
    new = stages((9, 1), (9, 1), (9, 2), (9, 8))

    assert renewed(old, new, date(2026, 9, 1)) == new


def test_asked_anew_a_day_that_is_still_to_come_or_today_stays_where_it_is_earlier() -> None:
    old = stages((9, 4), (9, 15), (11, 24), (12, 22))
    new = stages((9, 15), (9, 21), (12, 1), (12, 20))

    found = renewed(old, new, date(2026, 9, 14))

    assert found == stages((9, 15), (9, 15), (11, 24), (12, 20))


def test_asked_anew_no_stage_is_later_than_the_one_after_it() -> None:
    old = stages((9, 4), (9, 15), (11, 24), (12, 22))
    new = stages((9, 16), (9, 22), (9, 29), (10, 27))

    found = renewed(old, new, date(2026, 9, 15))

    assert found == stages((9, 15), (9, 15), (9, 29), (10, 27))


def test_referrals_to_one_service_become_the_more_urgent_one_for_both_ears() -> None:
    first = referral(urgency="high", within_days=42)
    second = replace(referral(), ears=("left",), urgency="urgent", within_days=14)

    for one, other in ((first, second), (second, first)):
        found = merged(one, other)
        assert (found.urgency, found.within_days) == ("urgent", 14)
        assert found.ears == ("right", "left")
        assert found.asked_on == DAY


def test_a_referral_keeps_the_first_day_it_was_asked() -> None:
    again = referral(date(2026, 9, 8))

    assert merged(again, referral()).asked_on == merged(referral(), again).asked_on == DAY
