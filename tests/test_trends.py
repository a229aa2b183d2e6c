"""Theil-Sen trends against scipy, and how often nothing is called a trend."""

import numpy as np
import pytest
from footroom.analysis.exposure import NotKnown
from footroom.analysis.trends import FEWEST_BLOCKS, theil_sen
from scipy.stats import theilslopes


def noisy(n=30, slope=0.0, seed=0, r=0.0):
    rng = np.random.default_rng(seed)
    noise = rng.normal(size=n)
    for i in range(1, n):
        noise[i] = r * noise[i - 1] + np.sqrt(1 - r * r) * noise[i]
    minutes = np.arange(n) + 0.5
    return 60 * minutes, noise + slope * minutes


@pytest.mark.parametrize("seed", range(6))
def test_slope_and_interval_are_scipys_where_neighbours_do_not_resemble(seed):
    time, value = noisy(seed=seed, slope=0.1)
    value[1::2] += 3.0  # alternating: no positive resemblance, so nothing is widened
    found = theil_sen(time, value)
    slope, _, low, high = theilslopes(value, time / 60, alpha=0.95)
    assert found.resemblance == 0.0
    assert (found.per_minute, found.low, found.high) == pytest.approx((slope, low, high))


def test_slope_of_a_line_with_ties_and_outliers():
    value = np.arange(12.0)
    value[4] = 99.0
    found = theil_sen(60 * np.arange(12.0), value)
    assert found.per_minute == pytest.approx(1.0)
    assert found.verdict == "rises"
    assert theil_sen(60 * np.arange(12.0), -value).verdict == "falls"
    assert theil_sen(60 * np.arange(12.0), np.ones(12)).verdict == "no trend"


def test_a_change_of_exercise_is_no_trend():
    time, value = noisy(24, seed=3)
    value[12:] += 10.0
    assert theil_sen(time, value).verdict == "rises"
    assert theil_sen(time, value, group=["slow"] * 12 + ["fast"] * 12).verdict == "no trend"


def test_a_trend_too_small_to_matter_is_none():
    time = 60 * np.arange(20.0)
    assert theil_sen(time, 0.01 * np.arange(20.0), worth=1.0).verdict == "no trend"
    assert theil_sen(time, 0.1 * np.arange(20.0), worth=1.0).verdict == "rises"


def test_resemblance_widens_the_interval():
    time, value = noisy(60, r=0.7, seed=5)
    found = theil_sen(time, value)
    _, _, low, high = theilslopes(value, time / 60, alpha=0.95)
    assert 0.4 < found.resemblance < 0.9
    assert found.high - found.low > 1.5 * (high - low)


@pytest.mark.parametrize(("r", "most"), [(0.0, 0.06), (0.5, 0.10)])
def test_nothing_is_seldom_called_a_trend(r, most):
    """Of 400 half hours without a trend; scipy's own interval calls 0.05 and 0.25 of them one."""
    called = sum(theil_sen(*noisy(30, r=r, seed=1000 + i)).verdict != "no trend" for i in range(400))
    assert called / 400 <= most


def test_a_real_trend_is_found():
    found = sum(theil_sen(*noisy(30, slope=0.12, seed=i)).verdict == "rises" for i in range(100))
    assert found >= 90


@pytest.mark.parametrize(
    ("value", "group", "reason"),
    [
        (np.zeros(0), None, "0 blocks are known"),
        (np.ones(1), None, "1 blocks are known"),
        (np.full(20, np.nan), None, "0 blocks are known"),
        (np.r_[np.ones(7), np.full(9, np.nan)], None, f"7 blocks are known, and a trend needs {FEWEST_BLOCKS}"),
        (np.ones(10), list("aabbccddee"), "blocks of the same exercise"),
    ],
)
def test_too_little_is_not_known_and_never_a_number(value, group, reason):
    found = theil_sen(60 * np.arange(float(value.size)), value, group=group)
    assert isinstance(found, NotKnown)
    assert reason in found.reason


def test_arrays_of_different_length_are_refused():
    with pytest.raises(ValueError, match="one length"):
        theil_sen(np.zeros(3), np.zeros(4))
    with pytest.raises(ValueError, match="one length"):
        theil_sen(np.zeros(3), np.zeros(3), group=["a"])
