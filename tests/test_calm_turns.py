"""The unit of an angular rate, told from turns between moments of calm."""

import numpy as np
import pytest
from footroom.logger.calm_turns import calm_turn_slip
from scipy.spatial.transform import Rotation

RATE = 100.0
TO = {"rad/s": 1.0, "deg/s": 180.0 / np.pi}


def gentle_clip(turn_deg=15.0, moves=8, tremble=0.0, seed=1):
    """3 s still, 1 s of turning about a skew axis, back after the next rest, and so on: (time_s, acc in g, rad/s)."""
    t = np.arange(round(RATE * (4 * moves + 3))) / RATE
    angle = np.zeros(t.size)
    for i in range(moves):
        u = np.clip(t - 3 - 4 * i, 0, 1)
        angle += (-1) ** i * np.radians(turn_deg) * u**3 * (10 - 15 * u + 6 * u * u)
    axis = np.array([0.6, 0.2, np.sqrt(1 - 0.4)])
    turned = Rotation.from_rotvec(angle[:, None] * axis)
    rng = np.random.default_rng(seed)
    acc = turned.inv().apply([0.0, 1.0, 0.0]) + rng.normal(0, 0.002, (t.size, 3))
    acc += tremble * np.sin(2 * np.pi * 6 * t)[:, None]
    gyr = np.gradient(angle, t)[:, None] * axis + np.radians([0.8, -0.5, 0.6]) + rng.normal(0, 0.003, (t.size, 3))
    return t, acc, gyr


@pytest.mark.parametrize("turn_deg", [12.0, 40.0, 110.0])
@pytest.mark.parametrize("true", list(TO))
def test_the_wrong_unit_is_told_however_gentle_or_fast_the_moves(true, turn_deg):
    t, acc, gyr = gentle_clip(turn_deg)
    said = next(unit for unit in TO if unit != true)
    reason = calm_turn_slip(t, acc, gyr * TO[true], said)
    assert reason == (
        f"between moments of calm gravity turns in the clip as the angular rate says in {true}, not in {said}, so it "
        f'looks like {true}; write angular_rate = "{true}" in [units]'
    )
    assert calm_turn_slip(t, acc, gyr * TO[true], true) is None


def test_what_shows_too_little_is_not_judged():
    for t, acc, gyr in (gentle_clip(5.0), gentle_clip(moves=3), gentle_clip(tremble=0.1)):
        assert calm_turn_slip(t, acc, gyr, "deg/s") is None
    t, acc, gyr = gentle_clip()
    for part in (slice(0, 2), slice(0, 30)):
        assert calm_turn_slip(t[part], acc[part], gyr[part], "deg/s") is None
    assert calm_turn_slip(t, 0 * acc, gyr, "deg/s") is None


def test_a_gyroscope_that_says_something_else_altogether_is_not_called_the_other_unit():
    t, acc, gyr = gentle_clip()
    for other in (10.0 * gyr, gyr[:, [1, 2, 0]], np.zeros_like(gyr)):
        assert calm_turn_slip(t, acc, other, "rad/s") is None
        assert calm_turn_slip(t, acc, other, "deg/s") is None


def test_a_turn_across_a_gap_says_nothing():
    t, acc, gyr = gentle_clip()
    moving = np.abs(np.linalg.norm(gyr, axis=1)) > 0.1
    assert calm_turn_slip(t[~moving], acc[~moving], gyr[~moving], "deg/s") is None
