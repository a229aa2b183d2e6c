"""A sensor at the end of its range, told from its samples."""

import numpy as np
import pytest
from footroom.analysis.sensor_limits import reached_limits
from footroom.logger.recording import STANDARD_GRAVITY

RATE = 200.0
STILL = np.tile([0.0, 0.0, STANDARD_GRAVITY], (6000, 1))


def turning(per_s=4.0, top_deg_s=400.0, noise=0.002, step=0.001):
    """30 s of strokes about x as a part with steps of `step` rad/s gives them [rad/s]."""
    t = np.arange(6000) / RATE
    gyr = np.random.default_rng(1).normal(0, noise, (t.size, 3))
    gyr[:, 0] += np.radians(top_deg_s) * np.sin(2 * np.pi * per_s * t) * (0.7 + 0.3 * np.sin(0.2 * t))
    return step * np.round(gyr / step)


@pytest.mark.parametrize("limit", [125.0, 250.0])
def test_a_gyroscope_at_its_limit_is_named_with_how_often(limit):
    edge = np.radians(limit)
    [found] = reached_limits(STILL, np.clip(turning(), -edge, edge))
    assert (found["sensor"], found["unit"]) == ("gyroscope", "deg/s")
    assert found["limit"] == pytest.approx(limit, abs=0.1)
    cut = "".join("x" if one else " " for one in np.abs(turning()[:, 0]) >= edge).split()
    rows = [len(one) for one in cut if len(one) >= 3]
    assert found["times"] == len(rows) > 100
    assert found["share"] == pytest.approx(sum(rows) / 6000)


def test_what_turns_round_by_itself_is_not_at_a_limit():
    coarse = turning(noise=0.0, step=np.radians(0.07))
    for gyr in (turning(), coarse, turning(top_deg_s=60.0, per_s=0.2), np.zeros((6000, 3)), np.zeros((1, 3))):
        assert reached_limits(STILL, gyr) == []
    edge = np.radians(50.0)  # no part ends there: a foot that rests against something does
    assert reached_limits(STILL, np.clip(turning(), -edge, edge)) == []


def test_an_accelerometer_is_named_where_more_than_knocks_are_cut_off():
    force = STILL + 40.0 * np.sin(2 * np.pi * 3 * np.arange(6000) / RATE)[:, None] * [1.0, 0.0, 0.0]
    [found] = reached_limits(np.clip(force, -2 * STANDARD_GRAVITY, 2 * STANDARD_GRAVITY), turning())
    assert (found["sensor"], found["limit"], found["unit"]) == ("accelerometer", 2.0, "g")
    knocks = STILL.copy()
    for start in (1000, 3000):
        knocks[start : start + 2, 2] = 78.0
    assert reached_limits(np.clip(knocks, -78.0, 78.0), turning()) == []
