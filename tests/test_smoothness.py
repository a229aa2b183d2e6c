"""SPARC and log dimensionless jerk against their authors' own example and analytic values."""

import math

import numpy as np
import pytest
from footroom.analysis.smoothness import log_dimensionless_jerk, movement_speed, sparc

U = np.arange(101) / 100
BELL = 30 * U**2 - 60 * U**3 + 30 * U**4
"""Speed of the minimum-jerk movement, T = 1 s at 100 Hz (Flash & Hogan 1985)."""


def copies(n):
    return np.concatenate([BELL[:-1]] * n + [BELL[-1:]])


def test_the_authors_example():
    """exp(-5 t^2), t = -1 ... 0.99 s at 100 Hz: SPARC -1.41403, LDLJ -5.81636 (docstrings of the authors' code)."""
    speed = np.exp(-5 * np.arange(-1, 1, 0.01) ** 2)
    assert sparc(speed, 100.0) == pytest.approx(-1.41403, abs=5e-6)
    assert log_dimensionless_jerk(speed, 100.0) == pytest.approx(-5.81636, abs=5e-6)


def test_minimum_jerk_movement():
    """Analytic jerk 204.8, so LDLJ -5.322034; the authors' code gives SPARC -1.40583 and LDLJ -5.30163 at 100 Hz."""
    assert sparc(BELL, 100.0) == pytest.approx(-1.40583, abs=5e-6)
    assert log_dimensionless_jerk(BELL, 100.0) == pytest.approx(-5.30163, abs=5e-6)
    u = np.arange(100_001) / 100_000
    assert log_dimensionless_jerk(30 * u**2 - 60 * u**3 + 30 * u**4, 1e5) == pytest.approx(-math.log(204.8), abs=1e-4)


@pytest.mark.parametrize(
    ("n", "arc", "jerk"),
    [(2, -2.24455, -8.08427), (3, -2.70384, -9.70933), (4, -3.09684, -10.86163), (5, -3.30176, -11.75514)],
)
def test_movements_made_of_parts_are_less_smooth(n, arc, jerk):
    """Back-to-back copies, as the authors' code gives them."""
    assert sparc(copies(n), 100.0) == pytest.approx(arc, abs=5e-6)
    assert log_dimensionless_jerk(copies(n), 100.0) == pytest.approx(jerk, abs=5e-5)


def test_size_of_the_movement_does_not_matter():
    assert sparc(1000 * BELL, 100.0) == pytest.approx(sparc(BELL, 100.0), abs=1e-12)
    assert log_dimensionless_jerk(1000 * BELL, 100.0) == pytest.approx(log_dimensionless_jerk(BELL, 100.0), abs=1e-12)


@pytest.mark.parametrize("speed", [np.zeros(0), np.zeros(50), np.ones(4), np.array([0, 1, np.nan, 1, 0, 0])])
def test_no_movement_is_not_known(speed):
    assert sparc(speed, 100.0) is None
    assert log_dimensionless_jerk(speed, 100.0) is None


def test_a_movement_is_cut_from_its_rest():
    angle = np.concatenate([np.zeros(50), np.cumsum(BELL) / 100, np.full(50, 1.0)])
    speed = movement_speed(angle, 100.0)
    assert 75 < speed.size < 95
    assert speed.min() > 0.05 * BELL.max() - 1e-9
    assert sparc(speed, 100.0) == pytest.approx(-1.4, abs=0.1)


@pytest.mark.parametrize("angle", [np.zeros(0), np.zeros(20), np.array([0.0, np.nan, 3.0, 4.0])])
def test_no_movement_has_no_speed(angle):
    assert movement_speed(angle, 100.0).size == 0
