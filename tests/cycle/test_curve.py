"""Curves and shares against published tables and lifelines."""

import warnings

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines import AalenJohansenFitter, KaplanMeierFitter

from recall.cycle.curve import COME, OTHERWISE, arrivals, half_came, wilson
from tests.seeds import examples

# Freireich et al., Blood 1963;21:699: weeks in remission on 6-MP, + still in remission.
TREATED = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"


def weeks(text):
    return [(int(w.rstrip("+")), 0 if w.endswith("+") else COME) for w in text.split()]


@pytest.mark.parametrize("people", range(1, 61))
def test_where_everybody_came_the_curve_ends_at_all_of_them(people):
    last = arrivals([(week, COME) for week in range(people)])[-1]
    assert (last.share, last.error, last.low, last.high) == (1.0, 0.0, 1.0, 1.0)


def test_leukaemia_remission_table():
    """Without other ends it is one less Kaplan-Meier's curve, with Greenwood's error.

    Remaining and errors as in textbooks; the same by hand and by lifelines.
    """
    table = [
        (6, 21, 0.8571, 0.0764),
        (7, 17, 0.8067, 0.0869),
        (10, 15, 0.7529, 0.0963),
        (13, 12, 0.6902, 0.1068),
        (16, 11, 0.6275, 0.1141),
        (22, 7, 0.5378, 0.1282),
        (23, 6, 0.4482, 0.1346),
    ]
    steps = arrivals(weeks(TREATED))

    told = [(s.at, s.at_risk, round(1 - s.share, 4), round(s.error, 4)) for s in steps]
    assert told == table


def test_the_leukaemia_medians():
    """23 and 8: textbooks, and lifelines."""
    assert half_came(arrivals(weeks(TREATED))) == 23
    assert half_came(arrivals(weeks(PLACEBO))) == 8


def test_when_all_have_come_it_says_so_and_not_before():
    steps = arrivals(weeks(PLACEBO))

    assert (steps[-1].share, steps[-2].share) == pytest.approx((1.0, 20 / 21))
    assert steps[-2].high < 1.0


def test_nobody_followed_gives_no_curve():
    assert arrivals([]) == ()
    assert half_came(()) is None


def test_who_declined_stays_in_the_whole():
    """By hand: of four one came, one declined, one came, one is awaited still.

    Taken as censored, the one who declined would make it 1 - 3/4 * 1/2 = 0.625.
    """
    steps = arrivals([(1, COME), (2, OTHERWISE), (3, COME), (4, 0)])

    assert [(s.at, s.at_risk, s.events, s.otherwise) for s in steps] == [
        (1, 4, 1, 0),
        (2, 3, 0, 1),
        (3, 2, 1, 0),
    ]
    assert [s.share for s in steps] == pytest.approx([0.25, 0.25, 0.5])


def test_of_a_whole_cohort_it_is_the_plain_share_with_its_plain_error():
    """Nobody awaited: k of n with the binomial error, whatever the order (any textbook)."""
    times = [(n, COME if n % 3 else OTHERWISE) for n in range(1, 31)]
    last = arrivals(times)[-1]

    assert last.share == pytest.approx(20 / 30)
    assert last.error == pytest.approx((20 / 30 * 10 / 30 / 30) ** 0.5)


ANY = st.lists(
    st.tuples(st.integers(1, 400), st.sampled_from([0, COME, OTHERWISE])),
    min_size=2,
    max_size=30,
    unique_by=lambda pair: pair[0],
)


@settings(max_examples=examples(40))
@given(ANY)
def test_any_curve_with_other_ends_equals_lifelines(times):
    """Also its variance and interval, where lifelines has one: it needs somebody left at risk."""
    steps = arrivals(times)
    if not any(how == COME for _, how in times):
        assert all(step.share == 0.0 for step in steps)
        return
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        theirs = AalenJohansenFitter().fit(
            [t for t, _ in times], [how for _, how in times], event_of_interest=COME
        )
    share, variance = theirs.cumulative_density_.iloc[:, 0], theirs.variance_
    bounds = theirs.confidence_interval_
    for step in steps:
        assert step.share == pytest.approx(share.loc[step.at], abs=1e-9)
        if step.at_risk > 1 and 0 < step.share < 1:
            assert step.error**2 == pytest.approx(variance.loc[step.at], abs=1e-9)
            low, high = sorted(bounds.loc[step.at])
            assert (step.low, step.high) == pytest.approx((low, high), abs=1e-6)


@settings(max_examples=examples(30))
@given(st.lists(st.tuples(st.integers(1, 30), st.booleans()), min_size=1, max_size=40))
def test_any_curve_without_other_ends_equals_lifelines(times):
    theirs = KaplanMeierFitter().fit([t for t, _ in times], [e for _, e in times])

    for step in arrivals([(t, COME if e else 0) for t, e in times]):
        assert step.share == pytest.approx(1 - theirs.predict(step.at), abs=1e-9)


@pytest.mark.parametrize(
    ("hits", "of", "low", "high"),
    [
        # Newcombe, Statistics in Medicine 1998;17:857, table I (figures from memory,
        # reproduced by statsmodels' proportion_confint, method "wilson").
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0, 0.1611),
        (1, 29, 0.0061, 0.1718),
        # Ears from published retraction series, by statsmodels.
        (1, 81, 0.0022, 0.0667),
        (5, 81, 0.0267, 0.1365),
        (10, 81, 0.0685, 0.2126),
        (2, 37, 0.0150, 0.1770),
        (28, 37, 0.5988, 0.8664),
        (22, 527, 0.0277, 0.0624),
    ],
)
def test_wilson_interval(hits, of, low, high):
    assert wilson(hits, of) == pytest.approx((low, high), abs=5e-5)


@pytest.mark.parametrize(("hits", "of"), [(-1, 5), (6, 5)])
def test_a_share_of_less_than_none_or_more_than_all_is_refused(hits, of):
    with pytest.raises(ValueError, match="between 0"):
        wilson(hits, of)


def test_nothing_counted_tells_nothing():
    assert wilson(0, 0) == (0.0, 1.0)
