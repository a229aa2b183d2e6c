"""Strokes and their evenness: made traces whose strokes are known, and published or hand-made intervals."""

import numpy as np
import pytest
from footroom.analysis.evenness import (
    TIMING_FLOOR_MS,
    interval_figures,
    steady_intervals,
    timing_against,
    wing_kristofferson,
)
from footroom.analysis.strokes import find_strokes
from footroom.sample_sessions.music import lift_curve, press_curve, routine

RATE = 200.0


def dips(times, depth=6.0, width=0.05, seconds=None, *, rate=RATE, noise=0.1, seed=1, base=10.0):
    """An ankle angle that falls by `depth` [deg] and comes back at each time; Gaussian dips of `width` (SD) [s]."""
    times = np.asarray(times, dtype=float)
    depth = np.broadcast_to(depth, times.shape)
    t = np.arange(round((seconds or times[-1] + 1.0) * rate)) / rate
    trace = np.full(t.size, base)
    for at, deep in zip(times, depth, strict=True):
        near = slice(max(0, int((at - 6 * width) * rate)), int((at + 6 * width) * rate) + 1)
        trace[near] -= deep * np.exp(-0.5 * ((t[near] - at) / width) ** 2)
    slow = 1.5 * np.sin(2 * np.pi * t / 40.0)
    return trace + slow + np.random.default_rng(seed).normal(0, noise, t.size)


@pytest.mark.parametrize("per_s", [0.5, 1.0, 2.0, 4.0, 6.0, 8.0, 10.0, 13.0])
@pytest.mark.parametrize("depth", [3.0, 8.0])
def test_every_stroke_is_found_from_one_in_two_seconds_to_thirteen_a_second(per_s, depth):
    times = 1.0 + np.arange(round(20 * per_s)) / per_s
    found = find_strokes(dips(times, depth, min(0.05, 0.2 / per_s)), RATE)
    assert found.count == times.size
    assert np.abs(found.time_s - times).max() < 0.06
    assert found.doubled == 0


def test_soft_and_loud_fast_and_slow_passages_in_one_session():
    slow, fast = 1.0 + np.arange(20) / 1.5, 20.0 + np.arange(80) / 8.0
    times = np.concatenate([slow, fast])
    depth = np.concatenate([np.full(20, 12.0), np.full(80, 3.0)])
    assert find_strokes(dips(times, depth, 0.025), RATE).count == 100


def test_excursion_and_time_of_a_stroke():
    times = 1.0013 + np.arange(30) * 0.5
    found = find_strokes(dips(times, 7.0, noise=0.0), RATE)
    assert found.excursion_deg == pytest.approx(np.full(30, 7.0), abs=0.2)
    early = times - found.time_s  # a dip of 7 deg is within 1 deg of its bottom 28 ms before it
    assert early == pytest.approx(np.full(30, 0.05 * np.sqrt(2 * np.log(7 / 6))), abs=0.002)


def test_a_foot_that_stays_down_has_come_down_when_it_did():
    """Half a second down, with noise: the lowest sample is anywhere in it."""
    t = np.arange(round(40 * RATE)) / RATE
    down = np.clip((t % 2.0 - 0.95) / 0.05, 0, 1) - np.clip((t % 2.0 - 1.5) / 0.1, 0, 1)
    found = find_strokes(10 - 6 * down + np.random.default_rng(1).normal(0, 0.05, t.size), RATE)
    assert found.count == 20
    late = found.time_s - (1.0 + 2.0 * np.arange(20))
    assert late.std() < 0.002


def test_a_slower_grid_finds_the_same_strokes():
    times = 1.0 + np.arange(60) / 6.0
    assert find_strokes(dips(times, 6.0, 0.03, rate=50.0), 50.0).count == 60


def test_noise_and_rests_are_no_strokes():
    assert find_strokes(dips([5.0], 0.0, seconds=60), RATE).count == 0
    times = np.concatenate([1 + np.arange(10) * 0.5, 30 + np.arange(10) * 0.5])
    assert find_strokes(dips(times), RATE).count == 20


@pytest.mark.parametrize("trace", [np.zeros(0), np.array([3.0]), np.full(50, np.nan), np.zeros(50)])
def test_nothing_known_or_no_movement_has_no_strokes(trace):
    found = find_strokes(trace, RATE)
    assert (found.count, found.doubled, found.alternating_share) == (0, 0, 0.0)


def test_a_gap_hides_its_strokes_and_no_others():
    times = 1.0 + np.arange(40) * 0.5
    trace = dips(times)
    gone = (times > 8.2) & (times < 12.3)
    trace[round(8.2 * RATE) : round(12.3 * RATE)] = np.nan
    found = find_strokes(trace, RATE)
    assert found.count == 40 - gone.sum()
    assert len(set(found.run.tolist())) == 2


def test_impossible_arguments_are_refused():
    with pytest.raises(ValueError, match="turns must be None, 1 or 2, got 3"):
        find_strokes(np.zeros(10), RATE, turns=3)
    with pytest.raises(ValueError, match="rate above 0"):
        find_strokes(np.zeros(10), 0.0)


# ---- two turns of the ankle in a stroke


def two_turns(per_s=2.0, count=60, second=0.5, after=0.3):
    first = 1.0 + np.arange(count) / per_s
    times = np.sort(np.concatenate([first, first + after / per_s]))
    depth = np.where(np.isin(times, first), 8.0, 8.0 * second)
    return dips(times, depth, 0.06 / per_s), first


@pytest.mark.parametrize("per_s", [1.0, 2.0, 4.0])
def test_a_shallower_second_turn_at_uneven_times_belongs_to_the_stroke(per_s):
    trace, first = two_turns(per_s)
    found = find_strokes(trace, RATE)
    assert found.count == first.size
    assert found.doubled == first.size
    assert np.abs(found.time_s - first).max() < 0.04


def test_two_equal_turns_at_uneven_times_are_two_strokes():
    trace, first = two_turns(second=1.0)
    assert find_strokes(trace, RATE).count == 2 * first.size


def test_accents_at_even_times_are_all_counted_and_said_to_be_undecided():
    trace, first = two_turns(second=0.5, after=0.5)
    found = find_strokes(trace, RATE)
    assert found.count == 2 * first.size
    assert found.alternating_share > 0.9
    told = find_strokes(trace, RATE, turns=2)
    assert (told.count, told.alternating_share) == (first.size, 0.0)


def test_a_technique_that_is_told_is_believed():
    trace, first = two_turns()
    assert find_strokes(trace, RATE, turns=1).count == 2 * first.size


def test_plain_strokes_of_varying_strength_are_not_paired():
    rng = np.random.default_rng(4)
    times = 1.0 + np.cumsum(rng.normal(0.4, 0.02, 200))
    found = find_strokes(dips(times, rng.uniform(4, 9, 200), 0.04), RATE)
    assert (found.count, found.doubled) == (200, 0)
    assert found.alternating_share < 0.05


@pytest.mark.parametrize(("side", "least"), [("right", 0.92), ("left", 0.98)])
def test_strokes_of_the_invented_pupils_are_found(side, least):
    """Three minutes of the sample evenings' routine, lifts and pairs of sixteenths included; none is made up."""
    rng = np.random.default_rng(1)
    strokes = routine(side, 180.0, 100.0, rng)
    t = np.arange(round(180 * RATE)) / RATE
    ankle = 10 - press_curve(t, strokes) + lift_curve(t, strokes, 8.0) + rng.normal(0, 0.05, t.size)
    found = find_strokes(ankle, RATE)
    nearest = np.abs(found.time_s[:, None] - strokes.onset_s).min(axis=1)
    assert (nearest < 0.12).all()
    assert least * strokes.onset_s.size <= found.count <= strokes.onset_s.size


# ---- evenness


def test_intervals_by_hand():
    """500, 520, 480, 510, 490 ms: RMSSD 28.722813, nPVI 5.495544 (facts worked out by hand); CV about a level line."""
    piece = np.array([0.5, 0.52, 0.48, 0.51, 0.49])
    found = interval_figures(np.tile(piece, 2), np.repeat([1, 3], 5))
    assert found["interval_ms"] == pytest.approx(500.0)
    assert found["rmssd_ms"] == pytest.approx(28.722813)
    assert found["npvi"] == pytest.approx(5.495544)
    line = np.polyfit(np.arange(5), piece, 1)
    off = piece - np.polyval(line, np.arange(5))
    assert found["sd_ms"] == pytest.approx(1e3 * np.sqrt(2 * off @ off / 6))
    assert found["intervals"] == 10


def test_fewer_than_eight_intervals_are_not_known():
    assert interval_figures(np.full(7, 0.5), np.zeros(7, dtype=int)) is None
    assert interval_figures(np.full(9, 0.5), np.repeat([0, 1, 2], 3)) is None
    assert steady_intervals(np.array([1.0]))[0].size == 0


def test_wing_and_kristofferson():
    """sC = 20, sM = 10: variance 600, covariance of neighbours -100, lag 1 -1/6 (Wing & Kristofferson 1973)."""
    assert wing_kristofferson(600.0, -100.0) == pytest.approx((20.0, 10.0))
    assert wing_kristofferson(600.0, 50.0) == (None, None)
    assert wing_kristofferson(600.0, -301.0) == (None, None)
    assert wing_kristofferson(0.0, 0.0) == (None, None)


def test_clock_and_motor_spread_are_found_in_simulated_tapping():
    rng = np.random.default_rng(8)
    clock, motor = rng.normal(500, 20, 20_000), rng.normal(0, 10, 20_001)
    interval = (clock + np.diff(motor)) / 1e3
    found = interval_figures(interval, np.zeros(interval.size, dtype=int))
    assert found["sd_ms"] ** 2 == pytest.approx(600, rel=0.04)
    assert found["clock_sd_ms"] == pytest.approx(20, rel=0.05)
    assert found["motor_sd_ms"] == pytest.approx(10, rel=0.08)
    assert found["lag1"] == pytest.approx(-1 / 6, abs=0.02)


def test_a_rhythm_of_long_and_short_notes_and_a_slowing_one_are_not_uneven():
    pattern = np.concatenate([[1.0, 0.5, 0.5] * 20, [0.5] * 40])
    steady, stretch = steady_intervals(np.cumsum(pattern))
    assert interval_figures(steady, stretch)["cv"] < 1e-9
    mixed = np.tile([0.47, 0.16, 0.31, 0.94], 15)
    assert interval_figures(*steady_intervals(np.cumsum(mixed))) is None
    slowing = np.cumsum(np.linspace(0.4, 0.6, 60))
    assert interval_figures(*steady_intervals(slowing))["cv"] < 1e-9


def test_intervals_do_not_reach_from_one_run_to_the_next():
    times = np.arange(20) * 0.5
    steady, _ = steady_intervals(times, np.repeat([0, 7], 10))
    assert steady.size == 18


# ---- against a tempo


def test_timing_against_a_tempo_by_simulation():
    rng = np.random.default_rng(2)
    grid = 3.21 + np.arange(240) * 60 / (90 * 2)
    for sd, worth in ((0.008, False), (0.025, True)):
        found = timing_against(grid + rng.normal(0, sd, grid.size), 90.0)
        assert found["grid_per_beat"] == 2.0
        assert found["tempo_played_bpm"] == pytest.approx(90.0, abs=0.5)
        assert found["off_grid_ms"] == pytest.approx(1e3 * sd, rel=0.15)
        assert found["worth_saying"] is worth
    assert TIMING_FLOOR_MS == 15.0


def test_a_pattern_lies_on_the_coarsest_grid_that_holds_all_of_it():
    steps = np.concatenate([16 * bar + np.array([0, 7, 8, 10]) for bar in range(16)])
    found = timing_against(1.7 + steps * 60 / (96 * 4) + np.random.default_rng(1).normal(0, 0.01, 64), 96.0)
    assert found["grid_per_beat"] == 4.0
    assert found["off_grid_ms"] == pytest.approx(10, rel=0.2)
    assert found["worth_saying"] is False


def test_a_drift_against_the_tempo_is_the_tempo_played():
    found = timing_against(np.arange(200) * 60 / 100.4, 100.0)
    assert found["tempo_played_bpm"] == pytest.approx(100.4, abs=0.02)


def test_what_the_tempo_does_not_explain_is_not_known():
    assert timing_against(np.arange(8) * 0.5, 120.0) is None  # too few
    assert timing_against(np.arange(50) * 0.42, 120.0) is None  # no grid of 120 fits
    assert timing_against(np.arange(50) * 0.5, float("nan")) is None
    assert timing_against(np.zeros(0), 120.0) is None
