"""One person's forecast against integration, simulation, and the bounds of a protocol."""

from dataclasses import dataclass
from datetime import date
from math import exp, inf, log

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.stats import gamma

from recall.cycle.forecast import LONGEST_DAYS, Forecast, TooLittle, forecast, next_check_days
from recall.cycle.population import Population, fit
from recall.cycle.spells import Past, Spell
from recall.cycle.words import cycle_words, length, spread_words
from tests.cycle.practice import simulate

DAY = date(2026, 1, 5)
HALF_YEARLY = (Spell(60, 150), Spell(0, 240), Spell(90, 200))


def population(shape=1.7, scale=260.0, frailty=0.4):
    return Population(
        shape=shape, scale_days=scale, frailty=frailty, fitted_on=DAY, people=400, spells=2500
    )


@dataclass
class Integrated:
    """The same posterior by scipy's adaptive integration."""

    people: Population
    spells: tuple

    def _given(self, rate, days, since):
        value = gamma.pdf(rate, 1 / self.people.frailty, scale=self.people.frailty)
        for s in self.spells:
            value *= exp(-rate * self.people.hazard(s.low_days)) - (
                exp(-rate * self.people.hazard(s.high_days)) if s.high_days else 0.0
            )
        return value * exp(-rate * (self.people.hazard(days) - self.people.hazard(since)))

    def alive(self, days, since=0.0):
        def total(until):
            near = quad(self._given, 0, 1, (until, since), limit=300, epsabs=0)[0]
            return near + quad(self._given, 1, inf, (until, since), limit=300, epsabs=0)[0]

        return total(days) / total(since)


@pytest.mark.parametrize("frailty", [0.1, 0.4, 1.0, 2.5])
@pytest.mark.parametrize("times", [1, 2, 5])
def test_quantiles_equal_adaptive_integration(frailty, times):
    people, spells = population(frailty=frailty), (*HALF_YEARLY * times, Spell(120))
    found = forecast(Past(spells, 5), people)
    exact = Integrated(people, spells)

    for share, days in ((0.05, found.low_days), (0.5, found.middle_days), (0.95, found.high_days)):
        assert exact.alive(days) == pytest.approx(1 - share, abs=2e-4)


def test_without_frailty_everybody_has_the_populations_gap():
    found = forecast(Past(HALF_YEARLY, 4), population(frailty=0.0))

    assert found.middle_days == pytest.approx(260 * log(2) ** (1 / 1.7), rel=1e-6)


def test_a_gap_that_runs_is_counted_from_where_it_is():
    people, spells = population(), (*HALF_YEARLY, Spell(120))
    found = forecast(Past(spells, 5), people)
    more = found.quantile(0.3, clear_for_days=120)

    assert Integrated(people, spells).alive(120 + more, since=120) == pytest.approx(0.7, abs=2e-4)
    assert more < found.quantile(0.3)


@pytest.mark.parametrize("frailty", [0.2, 1.0])
def test_the_stated_spread_covers_the_next_gap(frailty):
    """A nominal 90% spread: between 85 and 95% of the next true gaps lie inside."""
    practice = simulate(400, seed=21, frailty=frailty)
    people = fit([p.past.spells for p in practice], DAY).population
    inside = []
    for someone in practice:
        found = forecast(someone.past, people)
        if isinstance(found, Forecast):
            inside += [found.low_days <= gap <= found.high_days for gap in someone.next_gaps]
    covered = sum(inside) / len(inside)
    print(f"90% spread covers {covered:.1%} of {len(inside)} next gaps (frailty {frailty})")

    assert len(inside) > 500
    assert 0.85 < covered < 0.95


def test_own_past_moves_the_cycle_both_ways():
    soon = forecast(Past((Spell(0, 60), Spell(20, 80), Spell(10, 70)), 4), population())
    late = forecast(Past((Spell(400, 500), Spell(380, 520)), 4), population())

    assert soon.middle_days < 150 < 260 < late.middle_days


def test_a_very_long_past_stays_a_forecast():
    found = forecast(Past((Spell(150, 160),) * 400, 401), population())

    assert 0 < found.low_days < found.middle_days < found.high_days < 1000


def test_ears_that_hardly_ever_block_have_no_endless_day():
    past = Past((Spell(3000, 3300), Spell(2900, 3100), Spell(4000)), 5)
    found = forecast(past, population(shape=0.5, scale=9000.0, frailty=3.0))

    assert found.high_days == LONGEST_DAYS
    assert "or longer" in spread_words(found)


@pytest.mark.parametrize("share", [1e-6, 0.01, 0.99, 0.999999])
@pytest.mark.parametrize("frailty", [0.001, 0.4, 15.0])
def test_any_quantile_is_found(share, frailty):
    found = forecast(Past((*HALF_YEARLY, Spell(900)), 5), population(frailty=frailty))

    assert 0 < found.quantile(share) <= LONGEST_DAYS


def test_a_share_that_is_none_is_refused():
    with pytest.raises(ValueError, match="between 0 and 1"):
        forecast(Past(HALF_YEARLY, 4), population()).quantile(1.0)


def test_next_check_is_the_protocols_quantile_within_its_bounds():
    found = forecast(Past(HALF_YEARLY, 4), population())

    assert next_check_days(found, 0.4, 90, 365) == int(found.quantile(0.4))
    assert next_check_days(found, 0.001, 90, 365) == 90
    assert next_check_days(found, 0.999, 90, 365) == 365


@pytest.mark.parametrize(
    ("past", "people", "says"),
    [
        (Past((), 1), population(), "Wax has not come back so far"),
        (Past((Spell(0, 90),), 2), population(), "Wax has come back once so far"),
        (Past(HALF_YEARLY, 4), None, "not worked out yet"),
    ],
)
def test_too_little_is_said_and_leaves_the_routine_interval(past, people, says):
    found = forecast(past, people)

    assert isinstance(found, TooLittle)
    assert says in found.says
    assert next_check_days(found, 0.3, 90, 365) is None
    assert cycle_words(found, None) == found.says


def test_words_say_what_was_seen_and_when_to_look():
    found = forecast(Past(HALF_YEARLY, 4), population())

    assert cycle_words(found, 152) == (
        "Wax has come back within about 5 to 8 months (4 visits); next check at 5 months."
    )


def test_one_length_is_said_once_and_short_ones_in_weeks():
    found = forecast(Past((Spell(0, 56), Spell(0, 57)), 3), population())

    assert cycle_words(found, 60) == (
        "Wax has come back within about 8 weeks (3 visits); next check at 9 weeks."
    )


def test_the_shortest_length_is_a_week():
    assert length(2) == "1 week"


gaps = st.tuples(st.integers(0, 700), st.one_of(st.none(), st.integers(1, 400))).map(
    lambda t: Spell(t[0], t[1] and t[0] + t[1])
)
pasts = st.lists(gaps, min_size=2, max_size=9).filter(
    lambda spells: sum(s.high_days is not None for s in spells) >= 2
)
populations = st.builds(
    population, st.floats(0.6, 4), st.floats(50, 900), st.one_of(st.just(0.0), st.floats(0.01, 3))
)


@given(pasts, populations, st.randoms(use_true_random=False))
def test_order_of_ears_and_visits_does_not_matter(spells, people, rng):
    one = forecast(Past(tuple(spells), 5), people)
    rng.shuffle(spells)
    other = forecast(Past(tuple(spells), 5), people)

    assert other.middle_days == pytest.approx(one.middle_days, rel=1e-6)


@given(pasts, populations, st.floats(0.2, 5))
def test_forecast_scales_with_time(spells, people, by):
    one = forecast(Past(tuple(spells), 5), people)
    longer = tuple(Spell(s.low_days * by, s.high_days and s.high_days * by) for s in spells)
    other = forecast(
        Past(longer, 5), population(people.shape, people.scale_days * by, people.frailty)
    )

    if one.high_days < LONGEST_DAYS and other.high_days < LONGEST_DAYS:
        for before, after in (
            (one.low_days, other.low_days),
            (one.middle_days, other.middle_days),
            (one.high_days, other.high_days),
        ):
            assert after == pytest.approx(before * by, rel=1e-5)


@given(pasts, populations, st.floats(0.01, 0.98), st.integers(0, 300))
def test_quantiles_grow_and_checks_stay_in_bounds(spells, people, share, clear_for):
    found = forecast(Past(tuple(spells), 5), people)

    assert 0 <= found.quantile(share, clear_for) <= found.quantile(share + 0.01, clear_for)
    assert 90 <= next_check_days(found, share, 90, 365, clear_for_days=clear_for) <= 365


@pytest.mark.parametrize("share", [0.0, -0.1, 1.1])
def test_a_share_outside_is_refused(share):
    with pytest.raises(ValueError, match="between 0 and 1"):
        forecast(Past(HALF_YEARLY, 4), population()).quantile(share)


@pytest.mark.parametrize(
    ("returns", "needed", "says"),
    [
        (2, 3, "Wax has come back 2 times so far: too little to tell this person's own cycle; "
               "routine interval."),
        (0, 0, "Wax has not come back so far: too little to tell this person's own cycle; "
               "routine interval."),
        (1, 1, None),
        (2, 2, None),
    ],
)  # fmt: skip
def test_how_many_returns_are_needed_may_be_said(returns, needed, says):
    past = Past((Spell(30),) + (Spell(0, 90),) * returns, 7)
    found = forecast(past, population(), returns_needed=needed)

    assert (found.events, found.visits) == (returns, 7)
    assert getattr(found, "says", None) == says


def test_without_a_population_what_was_seen_is_counted_all_the_same():
    found = forecast(Past((*HALF_YEARLY, Spell(50)), 4), None)

    assert (found.events, found.visits) == (3, 4)
    assert found.says.endswith("in this practice is not worked out yet; routine interval.")


def test_the_shortest_and_the_longest_gap_are_those_that_ended():
    found = forecast(Past((*HALF_YEARLY, Spell(400)), 4), population())

    assert (found.soonest_days, found.longest_days) == (150, 240)


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (7, "1 week"),
        (11, "2 weeks"),
        (76, "11 weeks"),  # two and a half months are 76.09 days
        (77, "3 months"),
        (365, "12 months"),
    ],
)
def test_a_length_is_said_in_weeks_up_to_two_months_and_a_half(days, words):
    assert length(days) == words


def test_without_a_day_to_look_nothing_is_said():
    assert cycle_words(forecast(Past(HALF_YEARLY, 4), population()), None) == ""


def test_the_spread_is_said_in_one_unit():
    """All alike and a rising risk (shape 4): 100 days times (-ln .95, ln 2, -ln .05) ** 1/4."""
    found = forecast(Past(HALF_YEARLY, 4), population(shape=4.0, scale=100.0, frailty=0.0))

    assert spread_words(found) == (
        "Next time: most likely after about 3 months (9 in 10: 2 to 4 months)."
    )


def test_two_visits_are_said_as_two():
    found = forecast(Past((Spell(0, 150), Spell(0, 240)), 2), population())

    assert "(2 visits)" in cycle_words(found, 152)
