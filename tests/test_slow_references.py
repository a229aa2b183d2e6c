"""Each fast numeric step of the angles against a slow, clear version of itself: loops, matrices, a solver.

References: scipy's rotations and root finder; the textbook (ISB) formulas of `physics_truth.py` are held against the
whole in `test_angle_accuracy.py`.
"""

import numpy as np
import pytest
from footroom.analysis.alignment import Axis
from footroom.analysis.clocks import RateSize, _coarse_lag_s, rate_size
from footroom.analysis.joint_angles import ankle_dorsiflexion
from footroom.analysis.orientation import Track
from footroom.analysis.segments import (
    Alignment,
    SegmentAxes,
    about_up,
    cross,
    heading_tie,
    joint_stretches,
    runs,
    segment_axes,
    slow,
)
from footroom.analysis.tape import Tape, triangle_azimuth
from footroom.analysis.timebase import Grid, onto_grid
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

RNG = np.random.default_rng


def turning(seed, n=400):
    """A smoothly turning frame, (n,) rotations."""
    rng = RNG(seed)
    steps = np.cumsum(rng.normal(0.0, 0.01, (n, 3)), axis=0) + rng.normal(0.0, 1.0, 3)
    return Rotation.from_rotvec(steps)


def axes_of(rotation):
    n = len(rotation)
    whole = np.zeros(n, dtype=np.int32)
    return SegmentAxes(rotation.apply([0, 1, 0]), rotation.apply([0, 0, 1]), np.ones(n, dtype=bool), whole)


@pytest.mark.parametrize("seed", range(5))
def test_axes_over_time_are_rotated_frames_turned_to_face_ahead(seed):
    rotation = turning(seed)
    frame = Rotation.random(rng=RNG(seed)).as_matrix()
    quat = rotation.as_quat(scalar_first=True).astype(np.float32)
    n = len(quat)
    track = Track(quat, np.zeros((n, 3), np.float32), np.ones(n, bool), np.zeros(n, np.int32), 100.0)
    still = np.arange(n) < 30
    found = segment_axes(track, Alignment(frame, Axis(frame[:, 2], 1.0, 1.0, "made up"), "made up", 1.0), still)
    earth = [rotation[i].as_matrix() @ frame for i in range(n)]
    right = sum(np.array([m[0, 2], m[1, 2]]) / np.hypot(m[0, 2], m[1, 2]) for m in earth[:30])
    turn = Rotation.from_euler("z", -np.pi / 2 - np.arctan2(right[1], right[0])).as_matrix()
    assert np.allclose(found.y, [turn @ m[:, 1] for m in earth], atol=1e-6)
    assert np.allclose(found.z, [turn @ m[:, 2] for m in earth], atol=1e-6)
    assert np.allclose(found.x, [turn @ m[:, 0] for m in earth], atol=1e-6)


def test_turns_about_the_vertical_and_cross_products():
    rng = RNG(1)
    angle, a, b = rng.uniform(-4, 4, 50), rng.normal(size=(50, 3)), rng.normal(size=(50, 3))
    assert np.allclose(about_up(angle, a), Rotation.from_euler("z", angle[:, None]).apply(a))
    assert np.allclose(cross(a, b), np.cross(a, b))


@pytest.mark.parametrize("width_s", [0.5, 3.0])
def test_slow_mean_is_a_gaussian_mean_at_every_fourth_of_a_second(width_s):
    rng = RNG(2)
    rate, n = 100.0, 3000
    values, weight = rng.normal(size=n).cumsum() / 10, (rng.random(n) < 0.7).astype(float)
    step = 25
    centres = np.arange(n // step) * step + (step - 1) / 2
    mean = []
    for centre in centres:
        # One block's samples all weigh as their block's centre does, as in the fast version.
        block_centre = (np.arange(n) // step) * step + (step - 1) / 2
        away = (block_centre - centre) / rate
        g = np.where(np.abs(away) <= 4 * width_s + 1e-9, np.exp(-0.5 * (away / width_s) ** 2), 0.0) * weight
        mean.append((g * values).sum() / g.sum())
    expected = np.interp(np.arange(n), centres, mean)
    assert np.allclose(slow(values, weight, width_s, rate), expected, atol=2e-3)


def test_the_tie_between_neighbours_is_the_slow_difference_of_headings():
    """Two upright segments that swing in their own planes while they turn apart, ever so slowly, from 20 to 40 deg."""
    rng = RNG(3)
    n = 6000
    upright = Rotation.from_matrix(np.column_stack([(1, 0, 0), (0, 0, 1), (0, -1, 0)]))  # y up, z to the right
    apart = np.radians(np.linspace(20.0, 40.0, n))

    def swinging(heading):
        swing = Rotation.from_euler("z", 0.3 * np.sin(np.arange(n) / rng.uniform(20, 60))[:, None])
        return axes_of(Rotation.from_euler("z", heading[:, None]) * upright * swing)

    found = heading_tie(swinging(np.full(n, 0.3)), swinging(0.3 + apart), Grid(0.0, 100.0, n), width_s=2.0)
    inner = slice(1000, 5000)
    assert np.allclose(found[inner], apart[inner], atol=1e-3)


def test_stretches_shared_by_two_clips():
    a = np.array([0, 0, 0, -1, 1, 1, 1, 1])
    b = np.array([0, 0, 0, 0, 0, -1, 1, 1])
    first, second = (SegmentAxes(np.zeros((8, 3)), np.zeros((8, 3)), s >= 0, s) for s in (a, b))
    found = joint_stretches(first, second)
    pairs = [(x, y) if x >= 0 and y >= 0 else None for x, y in zip(a, b, strict=True)]
    slow_runs, start = [], 0
    for i in range(1, 9):
        if i == 8 or pairs[i] != pairs[start]:
            if pairs[start] is not None:
                slow_runs.append(slice(start, i))
            start = i
    assert runs(found) == slow_runs == [slice(0, 3), slice(4, 5), slice(6, 8)]


@pytest.mark.parametrize("seed", range(3))
def test_ankle_angle_by_matrices(seed):
    """First angle of the Cardan Z-X'-Y'' decomposition of the foot in the shank, by scipy."""
    shank, foot = turning(seed), turning(seed + 10)
    heading = RNG(seed).uniform(-0.5, 0.5, len(shank))
    level = Rotation.from_euler("z", -heading[:, None]) * foot
    z, _, _ = (shank.inv() * level).as_euler("ZXY", degrees=True).T
    assert np.allclose(ankle_dorsiflexion(axes_of(shank), axes_of(foot), heading), z, atol=1e-6)


@pytest.mark.parametrize("seed", range(20))
def test_the_taped_triangle_by_a_solver(seed):
    """With an exact twist the azimuth is the one for which hip + thigh + shank ends on the taped ankle."""
    rng = RNG(seed)
    thigh, shank, twist = rng.uniform(0.3, 0.45), rng.uniform(0.02, 0.15), rng.uniform(-2.5, 2.5)
    true = rng.uniform(-0.2, 0.8)
    end = thigh * np.exp(1j * true) + shank * np.exp(1j * (true + twist))
    tape = Tape(end.real, end.imag, 0.45, 0.43, 0.13, 0.095, 0.0, 0.0, 0.085, True)

    def miss(azimuth):
        reached = thigh * np.exp(1j * azimuth) + shank * np.exp(1j * (azimuth + twist))
        return np.angle(reached / end)

    solved = brentq(miss, true - 1.0, true + 1.0)
    found, _, misfit = triangle_azimuth(np.array([thigh]), np.array([shank]), np.array([twist]), tape)
    assert found[0] == pytest.approx(solved, abs=1e-9)
    assert misfit[0] == pytest.approx(0.0, abs=1e-12)


def test_a_closed_chain_worked_by_hand():
    """Hip to pedal with every step shown (lengths in cm, angles in deg); the azimuth comes back.

    Thigh 42 long, falling forward by 10: horizontal part 42 cos 10 = 41.362.
    Shank 41 long, leaning by 5 from the vertical: horizontal part 41 sin 5 = 3.573, pointing 40 outward of the thigh.
    Thigh azimuth 20 outward. Knee: ahead 41.362 cos 20 = 38.867, outward 41.362 sin 20 = 14.147.
    Shank points to 20 + 40 = 60: ahead 3.573 cos 60 = 1.787, outward 3.573 sin 60 = 3.095.
    Ankle: ahead 38.867 + 1.787 = 40.654, outward 14.147 + 3.095 = 17.241 (17.242 by rounded steps).
    Back: the sides make 41.362 + 3.573 cos 40 = 44.099 along and 3.573 sin 40 = 2.297 across the thigh,
    a lead of atan(2.297 / 44.099) = 2.982; the ankle is seen at atan(17.241 / 40.654) = 22.982; 22.982 - 2.982 = 20.
    """
    tape = Tape(0.40654, 0.17241, 0.42, 0.41, 0.13, 0.095, 0.0, 0.0, 0.085, True)
    thigh, shank = 0.42 * np.cos(np.radians(10.0)), 0.41 * np.sin(np.radians(5.0))
    assert (thigh, shank) == (pytest.approx(0.41362, abs=1e-5), pytest.approx(0.03573, abs=1e-5))
    azimuth, twist, misfit = triangle_azimuth(np.array([thigh]), np.array([shank]), np.radians([40.0]), tape)
    assert np.degrees(azimuth[0]) == pytest.approx(20.0, abs=0.01)
    assert np.degrees(twist[0]) == pytest.approx(40.0, abs=0.01)
    assert misfit[0] == pytest.approx(0.0, abs=2e-5)


@pytest.mark.parametrize("rate", [100.0, 400.0])
def test_onto_the_grid_sample_by_sample(rate):
    rng = RNG(int(rate))
    time = np.arange(0.0, 4.0, 1.0 / rate) + rng.uniform(-0.2, 0.2, int(4 * rate)) / rate
    values = np.sin(3 * time)[:, None]
    grid = Grid(float(time[0]), 100.0, 390)
    found, known = onto_grid(time, values, grid)
    assert known.all()
    fine = np.linspace(-0.5, 0.5, 2001) / 100.0
    for i in range(2, 388, 17):
        at = grid.start_s + i / 100.0
        expected = np.interp(at + fine, time, values[:, 0]).mean() if rate > 120 else np.interp(at, time, values[:, 0])
        assert found[i, 0] == pytest.approx(expected, abs=2e-4)


def test_the_coarse_shift_between_two_clocks_by_trying_every_one():
    rng = RNG(7)
    size = np.repeat(np.abs(rng.normal(0.0, 1.0, 600)), 25)  # half-second steps at 50 Hz, 5 min
    shift = 7.3
    a, b = size, size[round(shift * 50) :]
    found = _coarse_lag_s(a, b, 0.0)
    best = max(np.arange(-20.0, 20.0, 0.1), key=lambda s: _matched(a, b, s))
    assert found == pytest.approx(shift, abs=0.11)
    assert found == pytest.approx(best, abs=0.11)


def _matched(a, b, shift):
    """Covariance of what overlaps when b starts `shift` after a; loud moves weighed less."""
    a, b = (np.sqrt(v) - np.sqrt(v).mean() for v in (a, b))
    k = round(shift * 50)
    a, b = (a[k:], b) if k >= 0 else (a, b[-k:])
    n = min(len(a), len(b))
    return a[:n] @ b[:n]


def test_the_size_of_the_rate_is_its_mean_over_a_fiftieth():
    time = np.arange(0.0, 3.0, 0.005)
    gyr = np.column_stack([np.sin(time), np.cos(2 * time), 0 * time])
    found = rate_size(time, gyr)
    assert isinstance(found, RateSize)
    exact = np.linalg.norm(gyr, axis=1)
    for i in range(0, 140, 7):
        at = np.linspace(i / 50, (i + 1) / 50, 41)
        assert found.size[i] == pytest.approx(np.trapezoid(np.interp(at, time, exact), at) * 50, rel=1e-6)
