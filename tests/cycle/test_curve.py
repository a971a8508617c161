"""Curves and shares against published tables and lifelines."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lifelines import KaplanMeierFitter

from recall.cycle.curve import kaplan_meier, median, wilson
from tests.seeds import examples

# Freireich et al., Blood 1963;21:699: weeks in remission on 6-MP, + still in remission.
TREATED = "6 6 6 6+ 7 9+ 10 10+ 11+ 13 16 17+ 19+ 20+ 22 23 25+ 32+ 32+ 34+ 35+"
PLACEBO = "1 1 2 2 3 4 4 5 5 8 8 8 8 11 11 12 12 15 17 22 23"


def weeks(text):
    return [(int(w.rstrip("+")), not w.endswith("+")) for w in text.split()]


def test_leukaemia_remission_table():
    """Survival and Greenwood's error as in textbooks; the same by hand and by lifelines."""
    table = [
        (6, 21, 0.8571, 0.0764),
        (7, 17, 0.8067, 0.0869),
        (10, 15, 0.7529, 0.0963),
        (13, 12, 0.6902, 0.1068),
        (16, 11, 0.6275, 0.1141),
        (22, 7, 0.5378, 0.1282),
        (23, 6, 0.4482, 0.1346),
    ]
    steps = kaplan_meier(weeks(TREATED))

    assert [(s.at, s.at_risk, round(s.left, 4), round(s.error, 4)) for s in steps] == table


def test_leukaemia_log_log_intervals_and_medians():
    """Intervals: lifelines. Medians 23 and 8: textbooks, and lifelines."""
    steps = kaplan_meier(weeks(TREATED))

    assert (steps[0].low, steps[0].high) == pytest.approx((0.6197, 0.9516), abs=5e-5)
    assert (steps[-1].low, steps[-1].high) == pytest.approx((0.1881, 0.6801), abs=5e-5)
    assert median(steps) == 23
    assert median(kaplan_meier(weeks(PLACEBO))) == 8


def test_nobody_left_keeps_the_upper_end():
    last = kaplan_meier(weeks(PLACEBO))[-1]

    assert (last.left, last.low) == (0.0, 0.0)
    assert last.high > 0.05


def test_nobody_followed_gives_no_curve():
    assert kaplan_meier([]) == ()
    assert median(()) is None


@settings(max_examples=examples(30))
@given(st.lists(st.tuples(st.integers(1, 30), st.booleans()), min_size=1, max_size=40))
def test_any_curve_equals_lifelines(times):
    theirs = KaplanMeierFitter().fit([t for t, _ in times], [e for _, e in times])

    for step in kaplan_meier(times):
        assert step.left == pytest.approx(theirs.predict(step.at), abs=1e-9)


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
