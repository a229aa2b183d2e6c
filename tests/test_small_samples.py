"""The statistics of few sessions, against scipy and statsmodels."""

import numpy as np
import pytest
from footroom.analysis.small_samples import holm, paired_difference, pairs_needed, separate_difference
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.power import TTestPower

A = [8.1, 7.2, 9.4, 6.6, 8.8]
B = [11.0, 9.1, 12.9, 8.0, 12.2]


def test_paired_difference_is_the_paired_t_test_of_scipy():
    """scipy.stats.ttest_rel."""
    ours, theirs = paired_difference(np.subtract(B, A)), stats.ttest_rel(B, A)
    interval = theirs.confidence_interval(0.95)
    assert ours.p == pytest.approx(theirs.pvalue)
    assert ours.freedom == theirs.df
    assert ours.interval == pytest.approx((interval.low, interval.high))


@pytest.mark.parametrize("b", [B, B[:3], [11.0, 11.5, 30.0, 2.0]])
def test_separate_difference_is_welch_of_scipy(b):
    """scipy.stats.ttest_ind(equal_var=False)."""
    ours, theirs = separate_difference(A, b), stats.ttest_ind(b, A, equal_var=False)
    interval = theirs.confidence_interval(0.95)
    assert ours.p == pytest.approx(theirs.pvalue)
    assert ours.freedom == pytest.approx(theirs.df)
    assert ours.interval == pytest.approx((interval.low, interval.high))


def test_a_known_wearing_offset_bounds_the_standard_error_from_below():
    tight = separate_difference([8.0, 8.1, 7.9], [10.0, 10.1, 9.9], offset_sd=2.0)
    assert tight.error == pytest.approx(2.0 * np.sqrt(2 / 3))
    wide = separate_difference([2.0, 8.0, 14.0], [4.0, 10.0, 16.0], offset_sd=2.0)
    assert wide.error == pytest.approx(separate_difference([2.0, 8.0, 14.0], [4.0, 10.0, 16.0]).error)


@pytest.mark.parametrize(
    ("p", "adjusted"),
    [
        ([0.01, 0.04, 0.03, 0.005], [0.03, 0.06, 0.06, 0.02]),
        ([0.0005, 0.02, 0.02, 0.06, 0.9], [0.0025, 0.08, 0.08, 0.12, 0.9]),
        ([0.01, 0.02, 0.03, 0.04, 0.05], [0.05, 0.08, 0.09, 0.09, 0.09]),
    ],
)
def test_holm_vectors(p, adjusted):
    """Holm 1979; the vectors are of statsmodels 0.15.0 and pingouin 0.7.0 (facts.md section 6)."""
    assert holm(p) == pytest.approx(adjusted)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=30))
def test_holm_equals_statsmodels(p):
    """statsmodels.stats.multitest.multipletests(method="holm")."""
    assert holm(p) == pytest.approx(multipletests(p, method="holm")[1].tolist())


def test_holm_of_nothing_is_nothing():
    assert holm([]) == []


@pytest.mark.parametrize("n", [4, 6, 10, 20])
def test_detectable_difference_has_about_eighty_percent_power(n):
    """statsmodels.stats.power.TTestPower (noncentral t)."""
    d = np.random.default_rng(n).normal(2, 1.5, n)
    size = paired_difference(d).detectable / np.std(d, ddof=1)
    assert TTestPower().power(effect_size=size, nobs=n, alpha=0.05) == pytest.approx(0.8, abs=0.06)


@pytest.mark.parametrize(("size", "sd"), [(2.0, 2.0), (5.0, 2.0), (1.0, 1.5)])
def test_pairs_needed_have_about_eighty_percent_power(size, sd):
    """statsmodels.stats.power.TTestPower (noncentral t)."""
    n = pairs_needed(size, sd)
    assert n is not None
    assert TTestPower().power(effect_size=size / sd, nobs=n, alpha=0.05) >= 0.75
    if n > 4:
        assert TTestPower().power(effect_size=size / sd, nobs=n - 2, alpha=0.05) < 0.8


def test_pairs_needed_gives_up_on_nothing_and_on_too_many():
    assert pairs_needed(0.0, 1.0) is None
    assert pairs_needed(0.01, 5.0) is None
    assert pairs_needed(100.0, 0.1) == 3


def test_identical_differences_are_not_certainty():
    """Three times the same figure says that the resolution was reached, not that nothing varies."""
    assert paired_difference([0.02] * 3, resolution=0.05).p > 0.05
    assert paired_difference([0.0] * 3).p == 1.0
    assert paired_difference([1.0] * 3).p == 0.0
    assert separate_difference([1.0] * 3, [1.0] * 3).p == 1.0


@pytest.mark.parametrize("values", [[1.0], [], [1.0, float("nan")], [[1.0, 2.0]]])
def test_a_spread_needs_two_finite_values(values):
    with pytest.raises(ValueError, match="at least two finite values"):
        paired_difference(values)
