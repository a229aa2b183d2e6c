"""The common time grid: known values stay what they were, gaps stay gaps."""

import numpy as np
import pytest
from footroom.analysis.timebase import GAP_S, Grid, common_grid, find_gaps, median_rate_hz, onto_grid
from hypothesis import given, settings
from hypothesis import strategies as st


def stamps(rate_hz, seconds, start_s=0.0):
    return start_s + np.arange(round(rate_hz * seconds)) / rate_hz


def jittered(rate_hz, seconds, seed=0, share=0.3):
    rng = np.random.default_rng(seed)
    return stamps(rate_hz, seconds) + rng.uniform(-share, share, round(rate_hz * seconds)) / rate_hz


def wave(time_s):
    return np.column_stack([np.sin(2 * np.pi * 2.0 * time_s), np.cos(2 * np.pi * 1.0 * time_s)])


# ---- the grid itself


def test_grid_times_by_hand():
    grid = Grid(10.0, 50.0, 4)
    assert np.allclose(grid.time_s, [10.0, 10.02, 10.04, 10.06])


def test_slice_takes_the_start_and_leaves_the_end():
    grid = Grid(0.0, 100.0, 100)
    assert grid.slice(0.10, 0.20) == slice(10, 20)


def test_slices_that_meet_share_no_sample_and_lose_none():
    grid = Grid(0.3, 200.0, 1000)  # 0.3 and 1/200 have no exact binary form
    edges = np.arange(0.3, 5.3, 0.1)
    parts = [grid.slice(a, b) for a, b in zip(edges, edges[1:], strict=False)]
    assert all(a.stop == b.start for a, b in zip(parts, parts[1:], strict=False))


@pytest.mark.parametrize(
    ("span", "expected"), [((-5.0, 0.05), 5), ((0.95, 9.0), 5), ((3.0, 4.0), 0), ((-2.0, -1.0), 0)]
)
def test_slice_is_cut_at_the_ends_of_the_recording(span, expected):
    grid = Grid(0.0, 100.0, 100)
    assert len(range(100)[grid.slice(*span)]) == expected


def test_mask_joins_spans():
    grid = Grid(0.0, 10.0, 30)
    assert grid.mask([(0.0, 1.0), (0.5, 2.0)]).sum() == 20
    assert not grid.mask([]).any()


@pytest.mark.parametrize(
    ("rates", "expected"),
    [
        ((200,), 200),
        ((208,), 200),
        ((400,), 200),
        ((190,), 200),
        ((97,), 100),
        ((104, 400), 100),
        ((50,), 50),
        ((52, 200), 50),
    ],
)
def test_common_rate_is_the_highest_no_clip_falls_short_of(rates, expected):
    grid = common_grid({f"clip {i}": stamps(rate, 5.0) for i, rate in enumerate(rates)})
    assert grid.rate_hz == expected


def test_common_grid_follows_the_first_clip():
    grid = common_grid({"a": stamps(100, 5.0, start_s=3.0), "b": stamps(100, 60.0)})
    assert grid.start_s == 3.0
    assert grid.time_s[-1] == pytest.approx(3.0 + 4.99)


def test_no_clips_and_empty_clips_are_refused():
    with pytest.raises(ValueError, match="no clips"):
        common_grid({})
    with pytest.raises(ValueError, match="'right_foot' has fewer than two samples"):
        common_grid({"right_foot": np.array([1.0])})


def test_rate_from_stamps_survives_jitter_losses_and_bursts():
    time_s = jittered(200, 20.0)
    lost = time_s[np.random.default_rng(1).random(time_s.size) > 0.02]
    assert median_rate_hz(lost) == pytest.approx(200, rel=0.03)
    bursts = np.repeat(np.arange(0, 10, 0.1), 10)  # ten samples share each stamp
    assert median_rate_hz(bursts) == pytest.approx(100, rel=0.02)


# ---- gaps


def test_gaps_are_silences_longer_than_a_tenth_of_a_second():
    time_s = np.array([0.0, 0.01, 0.11, 0.32, 0.33])
    assert find_gaps(time_s) == [(0.11, 0.32)]
    assert GAP_S == 0.1


@pytest.mark.parametrize("rate_hz", [50, 97, 104, 200, 208, 400])
@pytest.mark.parametrize("length_s", [0.15, 1.0, 30.0])
def test_nothing_inside_a_gap_is_called_known(rate_hz, length_s):
    time_s = jittered(rate_hz, 60.0)
    time_s = time_s[(time_s < 10.0) | (time_s > 10.0 + length_s)]
    grid = common_grid({"clip": time_s})
    _, known = onto_grid(time_s, wave(time_s), grid)
    before, after = time_s[time_s < 10.0][-1], time_s[time_s > 10.0][0]
    step = 1.0 / grid.rate_hz
    inside = (grid.time_s > before + step) & (grid.time_s < after - step)
    assert not known[inside].any()
    outside = (grid.time_s < before - step) | (grid.time_s > after + step)
    assert known[outside].all()


def test_a_short_silence_is_bridged():
    time_s = stamps(100, 10.0)
    time_s = time_s[(time_s < 5.0) | (time_s > 5.08)]
    _, known = onto_grid(time_s, wave(time_s), Grid(0.0, 100.0, 999))
    assert known.all()


def test_beyond_the_ends_is_unknown_and_held():
    time_s = stamps(100, 10.0, start_s=5.0)
    values = 1.0 + time_s[:, None]
    grid = Grid(0.0, 100.0, 2000)
    out, known = onto_grid(time_s, values, grid)
    assert not known[grid.time_s < 4.98].any()
    assert not known[grid.time_s > 15.02].any()
    assert np.all(out[grid.time_s < 4.9] == values[0])
    assert np.all(out[grid.time_s > 15.1] == values[-1])


@pytest.mark.parametrize("rate_hz", [100, 400])
def test_a_clip_that_stops_halfway_is_unknown_from_there(rate_hz):
    grid = common_grid({"first": stamps(100, 20.0), "second": stamps(rate_hz, 8.0)})
    out, known = onto_grid(stamps(rate_hz, 8.0), wave(stamps(rate_hz, 8.0)), grid)
    assert known[grid.time_s < 7.9].all()
    assert not known[grid.time_s > 8.1].any()
    assert np.isfinite(out).all()


# ---- values


@pytest.mark.parametrize("rate_hz", [50, 97, 104, 200, 208, 285.7, 400])
def test_a_slow_wave_comes_through_jitter_at_every_rate(rate_hz):
    time_s = jittered(rate_hz, 20.0)
    grid = common_grid({"clip": time_s})
    out, known = onto_grid(time_s, wave(time_s), grid)
    inner = known & (grid.time_s > 0.1) & (grid.time_s < 19.9)
    # Linear interpolation of a 2 Hz wave at 50 Hz errs by (2 pi 2 / 50)^2 / 8 = 0.008; jitter doubles the longest step.
    assert np.abs(out - wave(grid.time_s))[inner].max() < 0.02


def test_stamps_on_the_grid_come_back_untouched():
    time_s = stamps(200, 5.0, start_s=2.0)
    values = np.random.default_rng(1).normal(size=(1000, 6))
    out, known = onto_grid(time_s, values, common_grid({"clip": time_s}))
    assert np.array_equal(out, values)
    assert known.all()


def test_averaging_removes_what_the_lower_rate_cannot_carry():
    time_s = stamps(400, 20.0)
    tone = np.sin(2 * np.pi * 197.0 * time_s)[:, None]  # would fold down to 3 Hz at 200 Hz
    grid = common_grid({"clip": time_s})
    out, _ = onto_grid(time_s, tone, grid)
    picked = tone[::2]
    assert np.std(out[5:-5]) < 0.15 * np.std(picked)


@given(
    level=st.floats(-50, 50),
    rate_hz=st.floats(50, 400),
    seed=st.integers(0, 10_000),
    gap_s=st.sampled_from([0.0, 0.5, 3.0]),
)
@settings(max_examples=60, deadline=None)
def test_a_constant_stays_constant(level, rate_hz, seed, gap_s):
    time_s = jittered(rate_hz, 12.0, seed)
    time_s = time_s[(time_s < 6.0) | (time_s >= 6.0 + gap_s)]
    grid = common_grid({"clip": time_s})
    out, _ = onto_grid(time_s, np.full((time_s.size, 2), level), grid)
    assert np.allclose(out, level, atol=1e-9)


@given(rate_hz=st.floats(250, 800), seed=st.integers(0, 10_000))
@settings(max_examples=40, deadline=None)
def test_averaging_keeps_the_integral(rate_hz, seed):
    """A gyroscope's turn must not change when the rate falls: sums times step equal the trapezoids of the original."""
    time_s = jittered(rate_hz, 10.0, seed)
    rates = np.random.default_rng(seed).normal(size=(time_s.size, 1)).cumsum(axis=0)
    grid = Grid(1.0, 200.0, 1601)  # inside the recording, ends at 9.0
    out, _ = onto_grid(time_s, rates, grid)
    area = np.concatenate([[0.0], np.cumsum(np.diff(time_s) * (rates[1:, 0] + rates[:-1, 0]) / 2)])
    low, high = np.interp([1.0 - 0.0025, 9.0 + 0.0025], time_s, area)
    assert out.sum() / 200.0 == pytest.approx(high - low, abs=1e-6 * max(1.0, np.abs(rates).max()))


# ---- bad input


@pytest.mark.parametrize("bad", [[0.0, 0.02, 0.01, 0.03], [0.0, 0.01, 0.01, 0.03]])
def test_stamps_out_of_order_or_repeated_are_refused(bad):
    with pytest.raises(ValueError, match="increase strictly"):
        onto_grid(np.array(bad), np.zeros((4, 2)), Grid(0.0, 50.0, 2))


def test_lengths_that_differ_are_refused():
    with pytest.raises(ValueError, match="5 stamps but 4 samples"):
        onto_grid(np.arange(5.0), np.zeros((4, 2)), Grid(0.0, 50.0, 2))
