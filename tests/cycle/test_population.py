"""The fit against closed forms, published data and general statistics libraries."""

import random
from datetime import date
from math import exp, inf, isinf, log

import numpy as np
import pytest
from lifelines import WeibullFitter
from lifelines.datasets import load_diabetes
from scipy.integrate import quad
from scipy.optimize import minimize
from scipy.special import roots_genlaguerre
from scipy.stats import gamma

from recall.cycle.likelihood import Likelihood, person
from recall.cycle.maximum import maximum
from recall.cycle.population import Population, decode, encode, fit
from recall.cycle.spells import Spell
from recall.errors import InputError
from tests.cycle.practice import FRAILTY, SCALE_DAYS, SHAPE, simulate, simulate_early_comers

DAY = date(2026, 1, 5)


@pytest.fixture(scope="module")
def people():
    return [p.past.spells for p in simulate(350, seed=11)]


@pytest.fixture(scope="module")
def fitted(people):
    return fit(people, DAY).population


def median_gap(population):
    """Return the median over all people, by the gamma's closed form."""
    if not population.frailty:
        return population.days(log(2))
    return population.days((2**population.frailty - 1) / population.frailty)


def test_closed_form_of_two_inspections():
    """100 seen at 6 and 12: 20 back by 6, 30 between, 50 later, so S(6) = .8 and S(12) = .5.

    Source: algebra, shape = ln(ln .5 / ln .8) / ln 2 = 1.63519, scale = 15.01497, median 12;
    lifelines `WeibullFitter.fit_interval_censoring` gives 1.63520 and 15.01498.
    """
    seen = [[Spell(0, 6)]] * 20 + [[Spell(6, 12)]] * 30 + [[Spell(12)]] * 50
    population = fit(seen, DAY, frailty=0.0).population

    assert population.shape == pytest.approx(log(log(0.5) / log(0.8)) / log(2), rel=1e-6)
    assert population.shape == pytest.approx(1.63519, abs=1e-5)
    assert population.scale_days == pytest.approx(15.01497, abs=1e-5)
    assert population.days(log(2)) == pytest.approx(12.0, abs=1e-5)


def test_diabetes_data():
    """731 people, 595 of them known exactly: shape 2.8235, scale 18.8565, log-likelihood -2028.566.

    Source: `lifelines.datasets.load_diabetes`; the figures are lifelines' own fit and a
    separate likelihood maximised with scipy. An exact time becomes an interval of 0.002
    here, so its density is the interval's chance divided by that width.
    """
    rows = load_diabetes()
    half = 0.001
    spells, exact = [], 0
    for low, high in zip(rows.left, rows.right, strict=True):
        if low == high:
            spells.append([Spell(low - half, low + half)])
            exact += 1
        else:
            spells.append([Spell(low, None if isinf(high) else high)])
    found = fit(spells, DAY, frailty=0.0)

    assert (len(rows), exact) == (731, 595)
    assert found.population.shape == pytest.approx(2.8235, abs=1e-4)
    assert found.population.scale_days == pytest.approx(18.8565, abs=1e-4)
    assert found.population.days(log(2)) == pytest.approx(16.561, abs=1e-3)
    assert found.log_likelihood - exact * log(2 * half) == pytest.approx(-2028.566, abs=1e-3)


@pytest.mark.parametrize(
    ("weeks", "shape", "scale"),
    [
        (
            "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+",
            1.3537,
            33.765,
        ),
        ("1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23", 1.3705, 9.4821),
    ],
)
def test_leukaemia_remissions(weeks, shape, scale):
    """Freireich et al., Blood 1963;21:699; Weibull figures by lifelines.

    Every person is counted five times, which leaves the answer as it is.
    """
    seen = []
    for week in weeks.split():
        at = float(week.rstrip("+"))
        seen.append([Spell(at) if week.endswith("+") else Spell(at - 0.001, at + 0.001)])
    population = fit(seen * 5, DAY, frailty=0.0).population

    assert population.shape == pytest.approx(shape, abs=1e-4)
    assert population.scale_days == pytest.approx(scale, abs=1e-3)


@pytest.mark.parametrize(("n", "back", "at"), [(100, 40, 180), (500, 450, 90)])
def test_current_status_exponential(n, back, at):
    """Everybody looked at once: rate = -ln(1 - back / n) / at. Source: algebra."""
    seen = [[Spell(0, at)]] * back + [[Spell(at)]] * (n - back)
    population = fit(seen, DAY, shape=1.0, frailty=0.0).population

    assert population.scale_days == pytest.approx(-at / log(1 - back / n), rel=1e-6)


def test_without_frailty_a_simulated_practice_fits_as_in_lifelines(people):
    spells = [s for p in people for s in p]
    low = np.array([float(s.low_days) for s in spells])
    high = np.array([float(s.high_days) if s.high_days else inf for s in spells])
    theirs = WeibullFitter().fit_interval_censoring(low, high)
    ours = fit(people, DAY, frailty=0.0)

    assert ours.population.shape == pytest.approx(theirs.rho_, rel=1e-3)
    assert ours.population.scale_days == pytest.approx(theirs.lambda_, rel=1e-3)
    assert ours.log_likelihood >= theirs.log_likelihood_ - 1e-4


def _integrated(spells, shape, scale, frailty):
    """Return a person's chance by scipy's adaptive integration over the gamma rate."""

    def chance(rate):
        value = gamma.pdf(rate, 1 / frailty, scale=frailty)
        for s in spells:
            alive = np.exp(-rate * (s.low_days / scale) ** shape)
            back = np.exp(-rate * (s.high_days / scale) ** shape) if s.high_days else 0.0
            value *= alive - back
        return value

    return quad(chance, 0, 1, limit=400)[0] + quad(chance, 1, inf, limit=400)[0]


@pytest.mark.parametrize("frailty", [0.05, 0.4, 0.9, 2.5])
@pytest.mark.parametrize("returns", [0, 1, 2, 4, 5, 9, 16])
def test_a_persons_chance_equals_adaptive_integration(frailty, returns):
    rng = random.Random(returns)
    spells = [Spell(200), Spell(35)]
    for _ in range(returns):
        low = rng.randint(0, 300)
        spells.append(Spell(low, low + rng.randint(20, 300)))
    ours = Likelihood([person(spells)])(1.6, 250.0, frailty)

    assert ours == pytest.approx(log(_integrated(spells, 1.6, 250.0, frailty)), abs=2e-4)


def test_signed_sums_that_cancel_are_averaged_on_the_grid():
    spells = [Spell(200 + i, 201 + i) for i in range(4)]
    ours = Likelihood([person(spells)])(1.6, 250.0, 0.4)

    assert ours == pytest.approx(log(_integrated(spells, 1.6, 250.0, 0.4)), abs=2e-4)


def test_general_optimiser_and_quadrature_find_the_same_population(people):
    """scipy's simplex over numpy's Gauss-Laguerre points (the gamma's own), 40 of them."""
    few = people[:60]

    def negative(at):
        scale, shape, frailty = np.exp(at)
        points, weights = roots_genlaguerre(40, 1 / frailty - 1)
        rates, weights = points * frailty, weights / weights.sum()
        total = 0.0
        for spells in few:
            chance = np.array(weights)
            for s in spells:
                back = np.exp(-rates * (s.high_days / scale) ** shape) if s.high_days else 0.0
                chance = chance * (np.exp(-rates * (s.low_days / scale) ** shape) - back)
            total -= np.log(chance.sum())
        return total

    theirs = minimize(negative, np.log([200.0, 1.5, 0.5]), method="Nelder-Mead")
    ours = fit(few, DAY)
    found = ours.population

    assert ours.log_likelihood == pytest.approx(-theirs.fun, abs=1e-4)
    assert [found.scale_days, found.shape, found.frailty] == pytest.approx(
        list(np.exp(theirs.x)), rel=2e-3
    )


def test_the_truth_of_a_simulated_practice_is_found(fitted):
    assert fitted.shape == pytest.approx(SHAPE, rel=0.1)
    assert fitted.scale_days == pytest.approx(SCALE_DAYS, rel=0.1)
    assert fitted.frailty == pytest.approx(FRAILTY, abs=0.15)


def test_people_who_do_not_differ_are_found_alike():
    population = fit([p.past.spells for p in simulate(200, seed=4, frailty=0.0)], DAY).population

    assert population.frailty < 0.08


def test_the_day_of_the_visit_taken_for_the_return_is_biased_long(people, fitted):
    """The naive median is over 40% too long here; ours is within 2% of the truth."""
    truth = SCALE_DAYS * (((1 / 0.5) ** FRAILTY - 1) / FRAILTY) ** (1 / SHAPE)
    spells = [s for p in people for s in p]
    ends = [float(s.high_days or s.low_days) for s in spells]
    naive = WeibullFitter().fit(ends, [s.high_days is not None for s in spells])
    ours = median_gap(fitted)
    print(
        f"median gap: true {truth:.0f}, ours {ours:.0f}, "
        f"naive {naive.median_survival_time_:.0f} days"
    )

    assert abs(ours / truth - 1) < 0.05
    assert naive.median_survival_time_ / truth - 1 > 0.3


def test_people_who_come_once_blocked_make_checks_sooner_never_later():
    """The stated limit of the method: the error is on the safe side."""
    medians = []
    for share in (0.0, 0.7):
        found = fit(
            [p.spells for p in simulate_early_comers(300, seed=8, share=share)], DAY
        ).population
        medians.append(median_gap(found))

    assert medians[1] < medians[0]


def test_time_scales(people):
    few = people[:120]
    once = fit(few, DAY).population
    weekly = [
        [Spell(s.low_days / 7, s.high_days and s.high_days / 7) for s in spells] for spells in few
    ]
    scaled = fit(weekly, DAY).population

    assert scaled.shape == pytest.approx(once.shape, rel=1e-4)
    assert scaled.scale_days == pytest.approx(once.scale_days / 7, rel=1e-4)
    assert scaled.frailty == pytest.approx(once.frailty, rel=1e-3)


def test_order_of_people_and_of_ears_does_not_matter(people):
    few = people[:80]
    mixed = [tuple(reversed(spells)) for spells in reversed(few)]

    assert fit(mixed, DAY) == fit(few, DAY)


def test_a_large_practice_is_sampled_evenly_and_gives_nearly_the_same(people, fitted, monkeypatch):
    monkeypatch.setattr("recall.cycle.population.SPELLS_ENOUGH", 1200)
    part = fit(people, DAY).population

    assert part.spells <= 1250
    assert part.scale_days == pytest.approx(fitted.scale_days, rel=0.1)


def test_too_few_returns_are_said():
    found = fit([[Spell(0, 100)]] * 5 + [[Spell(50)]] * 90, DAY)

    assert found.population is None
    assert found.reason == "Too little data: wax has come back 5 times, 30 are needed."


def test_too_few_people_with_two_gaps_are_said():
    found = fit([[Spell(0, 100 + i)] for i in range(60)], DAY)

    assert found.population is None
    assert "0 people have two gaps, 20 are needed" in found.reason


@pytest.mark.parametrize(("returns", "said"), [(29, "wax has come back 29 times"), (30, "")])
def test_thirty_returns_are_enough(returns, said):
    """How many are needed is common practice, no source."""
    people = [[Spell(0, 100 + 7 * i)] for i in range(returns)] + [[Spell(50)]] * 40

    reason = fit(people, DAY, frailty=0).reason
    assert said in reason
    assert said or "wax has come back" not in reason


@pytest.mark.parametrize(("pairs", "said"), [(19, "19 people have two gaps"), (20, "")])
def test_twenty_people_with_two_gaps_are_enough(pairs, said):
    """How many are needed is common practice, no source. A gap seen for no day tells nothing."""
    two = [[Spell(0, 60 + 9 * i), Spell(0, 80 + 11 * i)] for i in range(pairs)]
    one = [[Spell(0, 70 + 5 * i), Spell(0)] for i in range(30)]

    reason = fit(two + one, DAY).reason
    assert said in reason
    assert said or "two gaps" not in reason


def test_looks_that_all_come_after_the_same_time_cannot_tell_the_spread():
    seen = [[Spell(0, 182), Spell(182)]] * 40 + [[Spell(0, 182), Spell(0, 182)]] * 20

    assert fit(seen, DAY).population is None


def test_population_survives_its_file():
    population = Population(
        shape=1.7, scale_days=260.0, frailty=0.4, fitted_on=DAY, people=400, spells=2500
    )

    assert decode(encode(population)) == population


@pytest.mark.parametrize("text", [b"", b"{}", b'{"shape": -1}', b"[1]"])
def test_a_broken_population_file_is_refused_with_the_next_step(text):
    with pytest.raises(InputError, match="Fit it again"):
        decode(text)


def test_who_tells_nothing_is_not_counted_among_the_people():
    seen = [[Spell(0, 6)]] * 20 + [[Spell(6, 12)]] * 30 + [[Spell(12)]] * 50
    silent = [[], [Spell(0)], [Spell(0), Spell(0)]]
    found = fit([*seen, *silent * 5], DAY, frailty=0.0).population

    assert (found.people, found.spells) == (100, 100)


def test_two_gaps_that_nobody_saw_end_do_not_show_how_people_differ():
    once = [[Spell(0, 60 + 9 * i)] for i in range(40)]

    reason = fit(once + [[Spell(40), Spell(60)]] * 30, DAY).reason
    assert reason == "Too little data: 0 people have two gaps, 20 are needed."


def test_a_gap_seen_clear_for_one_day_tells_of_that_day():
    assert person([Spell(1), Spell(0), Spell(0, 1)]) == ((1,), ((0, 1),))


def test_a_climb_goes_no_further_than_one_e_fold_at_once():
    """The peak lies 5 away along one axis and at the start along the other."""
    asked = []

    def hill(at):
        asked.append(tuple(at))
        return -((at[0] - 5.0) ** 2) - 2.0 * at[1] ** 2

    peak = maximum(hill, [0.0, 0.0])

    assert peak.at == pytest.approx((5.0, 0.0), abs=1e-3)
    assert peak.spread == pytest.approx((0.5**0.5, 0.5), rel=1e-3)
    steps = [
        min(max(abs(a - b) for a, b in zip(at, before, strict=True)) for before in asked[:n])
        for n, at in enumerate(asked)
        if n
    ]
    assert max(steps) <= 1.0 + 1e-9


@pytest.mark.parametrize("start", [0.5, 2.0, 3.0])
def test_a_climb_begins_well_where_the_hill_is_hollow(start):
    """Beyond one spread a bell curve is hollow: there a bare Newton step would lead downhill."""
    peak = maximum(lambda at: exp(-(at[0] ** 2) / 2.0), [start], enough=1e-9)

    assert peak.at[0] == pytest.approx(0.0, abs=1e-3)
    assert peak.value == pytest.approx(1.0)
