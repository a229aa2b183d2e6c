"""Frames in order, and when their samples were: against published vectors, and against clocks made up here."""

from dataclasses import replace

import numpy as np
import pytest
from footroom.logger.recorder.clock_fit import fit_clock, lower_edge, lower_hull
from footroom.logger.recorder.frames_in_order import in_order, sample_ticks
from footroom.logger.recorder.stream_batch import frames_of
from footroom.logger.recorder.sync_taps import tap_offsets, tap_time
from sent import as_text, frames

# Two worked cases of the line below all delays, computed independently as a linear programme (the method of Moon,
# Skelly and Towsley, INFOCOM 1999, doi 10.1109/INFCOM.1999.749287). Least squares gives 0.785714 and 1.285714 in the
# first and 35.363 ppm in the second.
DELAYS = np.array([1.0, 3.0, 1.0, 2.0, 1.0, 4.0])


def test_the_edge_below_all_delays_of_a_worked_case():
    t = np.arange(6.0)
    slope, level = lower_edge(t, DELAYS + 0.5 * t)
    assert (slope, level) == pytest.approx((0.5, 1.0), abs=1e-12)


def test_the_edge_below_all_delays_of_a_simulated_half_hour():
    rng = np.random.default_rng(7)
    t = np.arange(0, 1800, 0.5)
    delay = 35e-6 * t + rng.exponential(0.015, len(t))
    assert lower_edge(t, delay)[0] * 1e6 == pytest.approx(34.993, abs=0.001)


def test_the_hull_is_the_one_scipy_finds():
    from scipy.spatial import ConvexHull

    rng = np.random.default_rng(3)
    x, y = np.sort(rng.uniform(0, 10, 3000)), rng.uniform(0, 1, 3000)
    found = set(lower_hull(x, y)[0])
    hull = ConvexHull(np.column_stack([x, y]))
    corners = {
        x[i] for equation, edge in zip(hull.equations, hull.simplices, strict=True) if equation[1] < 0 for i in edge
    }
    assert found == corners


def test_points_with_one_time_and_bounds_on_the_slope():
    x, y = np.array([0.0, 0.0, 1.0, 2.0, 2.0]), np.array([3.0, 1.0, 5.0, 3.0, 9.0])
    assert lower_edge(x, y) == pytest.approx((1.0, 1.0))
    assert lower_edge(x, y, (-0.5, 0.5)) == pytest.approx((0.5, 1.0))
    assert lower_edge(x, y, (2.0, 3.0)) == pytest.approx((2.0, -1.0))
    assert lower_edge(x[:2], y[:2]) == pytest.approx((0.0, 1.0))


def arrivals(length_s, ppm, seed=0, warming_ppm=0.0, least_s=0.005, most_s=0.060, a_second=20, exponential=False):
    """Host times of samples [s], the clip's ticks [s], and when each was heard [s]: 5-60 ms later, never overtaking."""
    rng = np.random.default_rng(seed)
    host = np.arange(1 / a_second, length_s, 1 / a_second)
    tick = host * (1 + ppm * 1e-6) + warming_ppm * 1e-6 * (host - 600 * (1 - np.exp(-host / 600)))
    late = least_s + (rng.exponential(0.015, len(host)) if exponential else rng.uniform(0, most_s - least_s, len(host)))
    return host, tick + 1000.0, np.maximum.accumulate(host + late)


def errors_s(host, tick, arrived, least_s=0.005, **more):
    """How far each sample is put from where it was, the shortest delay not counted [s], and the fit."""
    fit = fit_clock(tick, arrived, **more)
    return fit.to_host(tick) - least_s - host, fit


@pytest.mark.parametrize("exponential", [False, True])
@pytest.mark.parametrize("warming_ppm", [0.0, 5.0, 10.0])
def test_two_clips_agree_within_5_ms_over_an_hour(exponential, warming_ppm):
    """50 ppm apart either way; much better is measured: 0.3 ms at most, of which the bound here keeps the half."""
    worst = []
    for ppm in (50.0, -50.0):
        host, tick, arrived = arrivals(
            3600, ppm, seed=round(ppm) + 60, warming_ppm=ppm / 50 * warming_ppm, exponential=exponential
        )
        off, fit = errors_s(host, tick, arrived)
        worst.append(off)
        assert np.abs(off).max() < max(fit.uncertainty_s, 0.0003)
        assert fit.uncertainty_s < (0.001 if warming_ppm == 0 else 0.005)
    assert np.abs(worst[0] - worst[1]).max() < 0.0006


def test_without_bends_a_warming_clock_would_be_off_by_more():
    host, tick, arrived = arrivals(3600, 20, warming_ppm=-5)
    slope, level = lower_edge(tick - tick[0], arrived - tick)
    straight = tick + level + slope * (tick - tick[0]) - 0.005 - host
    bent = errors_s(host, tick, arrived)[0]
    assert np.abs(straight).max() > 0.002 > 0.0004 > np.abs(bent).max()


@pytest.mark.parametrize("more_s", [0.002, 0.005, 0.030])
@pytest.mark.parametrize("until_s", [2400, 3600])
def test_a_way_that_gets_slower_for_a_while_is_no_clock(more_s, until_s):
    """A radio that is shadowed: from the 20th or 40th minute on even the fastest frames are later."""
    host, tick, arrived = arrivals(3600, 50)
    slower = (host > 3600 - 1200) & (host <= 3600) if until_s == 3600 else (host > 1200) & (host <= 2400)
    off, _ = errors_s(host, tick, np.maximum.accumulate(arrived + more_s * slower))
    assert np.abs(off).max() < 0.0005


def test_what_may_be_either_is_stated_as_unsure():
    """Three milliseconds that come on slowly might be the crystal or the way: both lie within the uncertainty."""
    host, tick, arrived = arrivals(3600, 50)
    off, fit = errors_s(host, tick, np.maximum.accumulate(arrived + 0.003 * np.clip(host / 1200 - 2, 0, 1)))
    assert np.abs(off).max() < fit.uncertainty_s < 0.006


def test_the_stated_uncertainty_holds_at_any_length():
    inside = total = 0
    for length_s in (10, 30, 100, 600):
        for seed in range(25):
            off, fit = errors_s(*arrivals(length_s, 40, seed, exponential=seed % 2 == 0))
            inside, total = inside + (np.abs(off).max() <= fit.uncertainty_s), total + 1
    assert inside >= 0.93 * total  # 95 % promised, of the largest error of a run; binomial spread of 100 runs


def test_a_short_run_is_held_to_a_plausible_pace_and_borrows_a_known_one():
    assert all(abs(fit_clock(*arrivals(10, 0, seed)[1:]).skew_ppm) <= 150.1 for seed in range(20))
    off, fit = errors_s(*arrivals(10, 400, 1), skew_ppm=400.0)
    assert fit.skew_ppm == pytest.approx(400, abs=0.5) and np.abs(off).max() < 0.003


def test_a_clock_that_is_plainly_off_is_followed_even_over_a_short_time():
    off, fit = errors_s(*arrivals(60, 10_000, 2))  # an RC oscillator, 1 %
    assert fit.skew_ppm == pytest.approx(10_000, rel=0.02) and np.abs(off).max() < 0.003


def test_one_frame_and_none():
    fit = fit_clock(np.array([5.0]), np.array([105.0]))
    assert fit.to_host(np.array([4.0, 5.0, 6.0])) == pytest.approx([104.0, 105.0, 106.0], abs=0.001)
    with pytest.raises(ValueError, match="no frames to fit a clock to"):
        fit_clock(np.empty(0), np.empty(0))


def test_beyond_its_knots_a_clock_goes_on():
    fit = fit_clock(*arrivals(200, 50)[1:])
    inside = fit.to_host(np.array([1100.0]))[0]
    assert fit.to_host(np.array([900.0, 1300.0])) == pytest.approx([inside - 200, inside + 200], abs=0.012)
    assert fit.shifted(0.5).to_host(np.array([1100.0]))[0] == pytest.approx(inside + 0.5)


# Frames in order


def ordered(heard, rate_hz=200.0):
    return in_order(frames_of(heard), rate_hz)


def numbers_of(run):
    return run.first.tolist()


WRAP = 2**32 - 10_000_000  # ten seconds before the tick wraps


def test_ticks_and_numbers_go_on_over_their_wraps():
    heard = frames(0, 400, first_tick_us=WRAP, ppm=50)
    done = ordered(heard)
    (run,) = done.runs
    assert not done.breaks and (done.repeated, done.late, done.odd) == (0, 0, 0)
    assert numbers_of(run) == list(range(0, 80_000, 10))
    assert run.tick_us[-1] - run.tick_us[0] == pytest.approx(79_990 / 200 * 1.00005 * 1e6, abs=2)


@pytest.mark.parametrize("rate_hz", [200.0, 190.0])
def test_a_gap_of_several_wraps_is_measured(rate_hz):
    """2.5 hours: ticks wrap twice, numbers 50 times; the part may be 5 % slower than its data sheet says."""
    heard = frames(0, 9_000, rate_hz=rate_hz, first_tick_us=WRAP, size=20)
    kept = heard[:1000] + heard[-1000:]
    (run,) = ordered(kept).runs
    assert numbers_of(run)[-1] == (len(heard) - 1) * 20
    assert (run.tick_us[-1] - run.tick_us[0]) / 1e6 == pytest.approx((len(heard) - 1) * 20 / rate_hz, abs=0.001)


def test_late_and_repeated_frames_come_into_place():
    heard = frames(0, 20)
    mixed = [*heard[:50], heard[52], heard[51], heard[50], *heard[53:100], *heard[90:100], *heard[100:]]
    done = ordered(mixed)
    (run,) = done.runs
    assert numbers_of(run) == list(range(0, 4000, 10))
    assert (done.repeated, done.late, done.odd, done.breaks) == (10, 2, 0, [])
    ticks = np.diff(run.tick_us)
    assert ticks.min() > 0


def test_any_order_within_a_few_frames_is_put_right():
    heard = frames(0, 60)
    rng = np.random.default_rng(4)
    order = np.argsort(np.arange(len(heard)) + rng.uniform(0, 4, len(heard)))
    arrived = sorted(h.arrived_s for h in heard)
    shuffled = [replace(heard[j], arrived_s=arrived[i]) for i, j in enumerate(order)]
    done = ordered(shuffled)
    assert len(done.runs) == 1 and numbers_of(done.runs[0]) == list(range(0, 12_000, 10))
    assert done.late > 100 and done.repeated == done.odd == 0


@pytest.mark.parametrize("seed", range(20))
def test_whatever_is_lost_repeated_or_late_each_frame_is_there_once_and_in_place(seed):
    rng = np.random.default_rng(seed)
    size = int(rng.integers(1, 20))
    heard = frames(0, 30, size=size, first_tick_us=int(rng.integers(2**32)), ppm=float(rng.uniform(-200, 200)))
    heard = [h for h in heard if rng.random() > rng.choice([0.0, 0.02, 0.3])]
    mixed = heard + [h for h in heard if rng.random() < 0.05]
    order = np.argsort([h.arrived_s + rng.uniform(0, 0.1) for h in mixed])
    arrived = sorted(h.arrived_s for h in mixed)
    mixed = [replace(mixed[j], arrived_s=arrived[i]) for i, j in enumerate(order)]
    done = ordered(mixed)
    (run,) = done.runs
    assert [mixed[i].tick_us for i in run.index] == [h.tick_us for h in heard]
    assert np.diff(run.first).tolist() == np.diff(np.unwrap([h.sequence for h in heard], period=2**15)).tolist()
    assert (done.odd, done.breaks, done.repeated) == (0, [], len(mixed) - len(heard))


def test_a_frame_that_says_something_else_of_the_same_samples_is_left_out():
    heard = frames(0, 10)
    other = replace(heard[100], counts=heard[100].counts[::-1])
    done = ordered([*heard[:101], other, *heard[101:]])
    assert (done.odd, done.repeated) == (1, 0)
    assert numbers_of(done.runs[0]) == list(range(0, 2000, 10))


@pytest.mark.parametrize("off_s", [3.0, 40.0])
def test_a_restart_begins_another_run(off_s):
    before = frames(0, 30, first_tick_us=5_000_000)
    after = frames(0, 30 + off_s + 20, begin_s=30 + off_s, first_tick_us=900_000)
    done = ordered(before + after)
    assert [len(run.index) for run in done.runs] == [len(before), len(after)]
    assert [why.kind for why in done.breaks] == ["restart"]
    assert done.breaks[0].at_s == after[0].arrived_s


def test_started_anew_without_losing_its_clock():
    before = frames(0, 30, first_tick_us=5_000_000)
    after = frames(0, 40, begin_s=31, first_tick_us=36_000_000)
    assert [why.kind for why in ordered(before + after).breaks] == ["restart"]


def test_restarted_after_a_second_or_two():
    before = frames(0, 2, first_tick_us=2_000_000)
    after = frames(0, 20, begin_s=5, first_tick_us=900_000)
    assert [len(run.index) for run in ordered(before + after).runs] == [len(before), len(after)]


@pytest.mark.parametrize(("by_us", "kind"), [(-1_200_000, "clock back"), (+700_000, "clock ahead")])
def test_a_clock_that_jumps_while_the_samples_go_on_is_named(by_us, kind):
    heard = frames(0, 60, first_tick_us=10_000_000)
    jumped = [*heard[:500], *(replace(h, tick_us=h.tick_us + by_us) for h in heard[500:])]
    done = ordered(jumped)
    assert [len(run.index) for run in done.runs] == [500, len(heard) - 500]
    assert [(why.kind, round(why.by_s, 3)) for why in done.breaks] == [(kind, by_us / 1e6)]


def test_a_clock_that_runs_backwards_fits_nothing():
    heard = frames(0, 20, first_tick_us=30_000_000)
    backwards = [replace(h, tick_us=60_000_000 - h.tick_us) for h in heard]
    assert ordered(backwards).odd > 0.9 * len(heard)


@pytest.mark.parametrize("change", [{"tick_us": 1 << 24}, {"sequence": 1 << 9}])
def test_one_wrong_frame_is_left_out_alone(change):
    """A damaged frame passes a 16-bit check sum once in 65536 times."""
    heard = frames(0, 20)
    wrong = replace(heard[200], **{key: getattr(heard[200], key) ^ bit for key, bit in change.items()})
    done = ordered([*heard[:200], wrong, *heard[201:]])
    assert (len(done.runs), done.odd, done.breaks) == (1, 1, [])
    assert 2000 not in numbers_of(done.runs[0])


def test_lines_of_text_have_ticks_only():
    text = as_text(frames(0, 60, first_tick_us=WRAP))
    (run,) = ordered(text).runs
    assert len(run.index) == len(text)
    gap = ordered(text[:100] + text[150:])
    assert len(gap.runs) == 1 and numbers_of(gap.runs[0])[100] == pytest.approx(1500, abs=1)
    again = [replace(h, arrived_s=h.arrived_s + 20) for h in as_text(frames(0, 30))]
    assert [why.kind for why in ordered(as_text(frames(0, 15)) + again).breaks] == ["restart"]


def test_samples_lie_evenly_between_the_ticks_of_their_frames():
    heard = frames(0, 5, ppm=300, first_tick_us=WRAP)
    lost = heard[:30] + heard[33:]
    read = frames_of(lost)
    (run,) = in_order(read, 200.0).runs
    ticks = sample_ticks(read, run, 200.0)
    number = np.concatenate([np.arange(300), np.arange(330, 1000)])
    assert ticks - WRAP == pytest.approx(number / 200 * 1.0003 * 1e6, abs=2)
    text = frames_of(as_text(lost))
    own = sample_ticks(text, in_order(text, 200.0).runs[0], 200.0)
    assert own - WRAP == pytest.approx(number / 200 * 1.0003 * 1e6, abs=15)


def test_nothing_is_in_order_too():
    assert in_order(frames_of([]), 200.0).runs == []
    (run,) = ordered(frames(0, 0.06)).runs
    assert sample_ticks(frames_of(frames(0, 0.06)), run, 200.0) == pytest.approx(np.arange(10) * 5000)


# Sync taps


def window(at_s, clip_off_s=0.0, tap=True, second=0.0, seed=0):
    rng = np.random.default_rng(seed)
    time_s = np.arange(at_s - 1.5, at_s + 1.5, 0.005)
    size = 2048 + rng.normal(0, 4, len(time_s))
    for height, moment in ((900.0 * tap, at_s + clip_off_s), (second, at_s - 0.6)):
        size += height * np.exp(-(((time_s - moment) / 0.006) ** 2))
    return time_s, size


def test_taps_show_what_is_left_between_clocks():
    offs = {"right_foot": 0.0, "right_shank": 0.008, "left_foot": -0.012}
    taps = [{name: window(at, off, seed=i) for i, (name, off) in enumerate(offs.items())} for at in (10.0, 20.0, 30.0)]
    found = tap_offsets(taps)
    assert found["right_foot"] - found["right_shank"] == pytest.approx(0.008, abs=0.003)
    assert found["left_foot"] - found["right_foot"] == pytest.approx(0.012, abs=0.003)


@pytest.mark.parametrize(
    "taps",
    [
        [],
        [{"a": window(10.0), "b": window(10.0, 0.01)}],  # one tap shows nothing
        [{"a": window(t), "b": window(t, tap=False)} for t in (10.0, 20.0)],  # felt by one clip only
        [{"a": window(10.0), "b": window(10.0, 0.01)}, {"a": window(20.0), "b": window(20.0, -0.01)}],  # they disagree
        [{"a": window(t), "b": window(t, 0.3)} for t in (10.0, 20.0)],  # no clock is so far off
        [{"a": window(t), "b": window(t, second=800.0)} for t in (10.0, 20.0)],  # two peaks: which one?
    ],
)
def test_unclear_taps_change_nothing(taps):
    assert tap_offsets(taps) == {}


def test_a_clip_that_was_silent_felt_no_tap():
    assert tap_time((np.empty(0), np.empty(0))) is None
