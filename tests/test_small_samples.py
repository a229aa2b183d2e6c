"""The statistics of few sessions, against scipy and statsmodels."""

import numpy as np
import pytest
from footroom.analysis.measures import wearing_sd
from footroom.analysis.small_samples import cohen_d, holm, paired_difference, pairs_needed, separate_difference
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.power import TTestPower
from statsmodels.stats.weightstats import CompareMeans, DescrStatsW

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


def test_both_are_also_those_of_statsmodels():
    """statsmodels.stats.weightstats: CompareMeans (usevar="unequal") and DescrStatsW."""
    apart = CompareMeans(DescrStatsW(B[:3]), DescrStatsW(A))
    assert separate_difference(A, B[:3]).interval == pytest.approx(apart.tconfint_diff(usevar="unequal"))
    within = DescrStatsW(np.subtract(B, A))
    assert paired_difference(np.subtract(B, A)).interval == pytest.approx(within.tconfint_mean())


@pytest.mark.parametrize(("b", "assumed"), [([10.0, 10.1, 9.9], 2.0), ([4.0, 10.0, 16.0, 9.0], 2.0), (A, 7.0)])
def test_an_assumed_sd_counts_as_one_session_more_and_fades(b, assumed):
    """By hand: variance (w a^2 + f s^2) / (w + f) on w + f degrees of freedom, w = min(1, (a / s)^2), a side."""
    parts = []
    for values in (A, b):
        s2, f = np.var(values, ddof=1), len(values) - 1
        w = min(1.0, assumed**2 / s2)
        parts.append(((w * assumed**2 + f * s2) / (w + f) / len(values), w + f))
    error2 = sum(part for part, _ in parts)
    freedom = error2**2 / sum(part**2 / f for part, f in parts)
    ours = separate_difference(A, b, assumed_sd=assumed)
    assert (ours.error, ours.freedom) == pytest.approx((np.sqrt(error2), freedom))
    assert ours.p == pytest.approx(2 * stats.t.sf(abs(ours.mean) / ours.error, freedom))


def test_an_assumed_sd_is_outweighed_by_scattered_pairs_and_by_many():
    scattered, many = np.array([-20.0, 5.0, 30.0, 9.0]), np.random.default_rng(5).normal(3.0, 1.0, 400)
    for d in (scattered, many):
        assert paired_difference(d, assumed_sd=2.0).error == pytest.approx(paired_difference(d).error, rel=0.01)
    few = paired_difference([3.0, 3.1, 2.9], assumed_sd=2.0)
    assert few.error == pytest.approx(np.sqrt((4.0 + 2 * 0.01) / 3 / 3))
    assert few.freedom == 3.0


def test_an_offset_between_the_sides_enters_whole():
    """A range measured once for each side: its error does not shrink with the number of sessions."""
    many = np.random.default_rng(6).normal(0.0, 1.0, (2, 200))
    apart = separate_difference(many[0], many[1], apart_sd=3.0)
    assert apart.error == pytest.approx(np.hypot(separate_difference(many[0], many[1]).error, 3.0))


@pytest.mark.parametrize(
    ("a", "b", "d"),
    [(A, B, -1.5720786), (A, B[:3], -2.0705764), ([2.0, 4.0, 9.0, 1.0], [3.0, 8.0, 12.0, 2.0], -0.5437099)],
)
def test_effect_sizes_are_those_of_pingouin(a, b, d):
    """pingouin 0.7.0, compute_effsize(a, b, paired=len(a) == len(b), eftype="cohen"), which is a minus b.

    Its figures instead of the library: it would bring a dozen packages into every setting-up for this one check.
    """
    assert cohen_d(a, b) == pytest.approx(-d, abs=1e-6)


def test_the_spread_of_wearings_comes_from_the_minimal_detectable_change():
    """Weir 2005, J Strength Cond Res 19:231-240: MDC95 = 2.771859 SEM (facts.md section 6); here 5 deg at the ankle."""
    found = wearing_sd("median_room_deg", "ankle_dorsiflexion", 6.0, range_reused=True)
    assert found == pytest.approx(5.0 / 2.771859, rel=1e-6)
    assert wearing_sd("median_room_deg", "ankle_dorsiflexion", 6.0, range_reused=False) == 6.0
    assert wearing_sd("median_room_deg", "ankle_dorsiflexion", 1.0, range_reused=True) == 1.0


def test_no_effect_size_where_nothing_varies():
    assert cohen_d([1.0, 1.0], [2.0, 2.0]) is None


def test_the_paired_interval_of_bland_and_altman():
    """Bland & Altman 1986, Lancet i:307-310, first readings of two meters: -2.1 (-22.0 to 17.8)."""
    wright = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
    mini = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]
    found = paired_difference(np.subtract(wright, mini))
    assert (found.mean, found.error, found.freedom) == (pytest.approx(-2.117647), pytest.approx(9.401925), 16)
    assert found.interval == pytest.approx((-22.0488, 17.8135), abs=1e-4)


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


@settings(max_examples=12, deadline=None)
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
