"""How far a heel-up foot turns about its ball: against the estimate written out, and swings that are known."""

import numpy as np
import pytest
from footroom.analysis import ball_turn as module
from footroom.analysis.ball_turn import ball_turn, swing_of
from footroom.analysis.segments import SegmentAxes
from footroom.analysis.timebase import Grid

RATE = 20.0
GRID = Grid(0.0, RATE, round(RATE * 640.0))
TIME = GRID.time_s
RESTING = TIME < 10.0
PLAYING = TIME >= 12.0
WHOLE = np.zeros(GRID.n, dtype=np.int32)


def foot(heading_deg, known=None):
    """Axes of a level foot with this heading, to the left positive."""
    h = np.radians(heading_deg)
    y = np.tile([0.0, 0.0, 1.0], (GRID.n, 1))
    z = np.column_stack([np.sin(h), -np.cos(h), np.zeros(GRID.n)])
    return SegmentAxes(y, z, np.ones(GRID.n, dtype=bool) if known is None else known, WHOLE)


def turned(heading_deg, stretches=WHOLE):
    return np.degrees(ball_turn(foot(heading_deg), RESTING, PLAYING, stretches, GRID))


def swing(seed):
    """A smooth stationary swing of 4 deg SD that forgets itself in about 40 s; 0 at rest."""
    rng = np.random.default_rng(seed)
    slow, start = rng.uniform(1 / 240, 1 / 60, (8, 1)), rng.uniform(0, 6, (8, 1))
    parts = np.sin(2 * np.pi * slow * TIME + start)
    return 4.0 * np.sqrt(2.0 / 8.0) * np.sum(parts, axis=0) * np.clip((TIME - 10.0) / 2.0, 0.0, 1.0)


def test_a_foot_that_stays_has_not_turned():
    assert turned(np.full(GRID.n, 37.0)) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("rate_deg_min", [-2.5, 2.5])
def test_a_steady_drift_is_no_swing(rate_deg_min):
    """25 deg of drift in ten minutes, and hardly any of it passes for a turn."""
    found = turned(rate_deg_min / 60.0 * TIME)
    assert np.abs(found[PLAYING]).max() < 3.0
    assert np.sqrt(np.mean(found[PLAYING] ** 2)) < 1.0


@pytest.mark.parametrize("seed", range(4))
def test_the_swing_comes_through_the_drift(seed):
    """With a drift of 2 deg a minute on top, most of the swing is found, and none of it turned about."""
    true = swing(seed)
    found = turned(90.0 + true + 2.0 / 60.0 * TIME)
    left = (found - true)[PLAYING]
    assert np.sqrt(np.mean(left**2)) < 0.62 * np.sqrt(np.mean(true[PLAYING] ** 2))


def test_nothing_is_claimed_outside_the_playing():
    found = turned(swing(1))
    assert np.all(found[~PLAYING] == 0.0)


def test_a_heading_does_not_carry_over_a_gap():
    """After the gap the heading starts anywhere; only the swing about its own mean is kept."""
    stretches = np.where(TIME < 300.0, 0, 1).astype(np.int32)
    before, after = turned(np.where(TIME < 300.0, 0.0, 120.0), stretches)[[5000, -5000]]
    assert (before, after) == pytest.approx((0.0, 0.0), abs=0.05)


def test_fast_swivelling_is_averaged_out():
    """A heel that swings at every stroke, twice a second, has not turned over the minutes."""
    found = turned(6.0 * np.sin(2 * np.pi * 2.0 * TIME))
    assert np.abs(found).max() < 0.3


@pytest.mark.parametrize("known_zero", [True, False])
def test_the_estimate_written_out(known_zero):
    """The same best linear guess from covariances summed up numerically (trapezoids in steps of 0.5 s)."""
    at = np.arange(6.0, 90.0, 7.0)
    heading = np.random.default_rng(3).normal(0.0, 5.0, len(at))
    u = np.arange(0.0, 90.0, 0.5) + 0.25
    rate = module.RATE_SD_DEG_S**2 * np.exp(-np.abs(u[:, None] - u[None, :]) / module.RATE_TIME_S)
    inside = [(u < t).astype(float) * 0.5 for t in at]
    zero = (module.REST_SD_DEG if known_zero else module.NO_REST_SD_DEG) ** 2
    swings = np.array([[module.TURN_SD_DEG**2 * np.exp(-abs(a - b) / module.TURN_TIME_S) for b in at] for a in at])
    drifts = np.array([[p @ rate @ q + zero for q in inside] for p in inside])
    total = swings + drifts + module.REST_SD_DEG**2 * np.eye(len(at))
    assert swing_of(heading, at, known_zero) == pytest.approx(swings @ np.linalg.inv(total) @ heading, abs=0.02)
