"""The samples of the physics leg: ideal ones against the poses, spoilt ones against the stated errors."""

import numpy as np
import pytest
from clip_noise import ClipErrors, quantise, spoil
from physics_cases import SHORT
from physics_leg import (
    Dropout,
    PhysicsParameters,
    SetupScript,
    Slip,
    replace,
    simulate,
)
from physics_measure import fine_steps, measure
from physics_model import GRAVITY, require_mujoco
from physics_quaternion import increments, multiply
from scipy.spatial.transform import Rotation


@pytest.fixture(autouse=True)
def _engine():
    require_mujoco()


@pytest.fixture(scope="module")
def short():
    require_mujoco()
    return simulate(SHORT)


# Samples --------------------------------------------------------------------------------------------------------


def test_a_clip_on_a_turntable_feels_the_centre_and_reads_the_rate():
    """Closed form: spin w about the vertical at radius r: w up, and w^2 r inward plus g upward."""
    rate, spin, radius = 200.0, 3.0, 0.25
    steps = fine_steps(rate)
    angle = spin * np.arange(50 * steps + 3) / (rate * steps)
    turned = Rotation.from_rotvec(angle[:, None] * np.array([0.0, 1.0, 0.0]))
    acc, gyr = measure(turned.as_quat(scalar_first=True), turned.apply([radius, 0, 0]), 1 / (rate * steps), steps)
    np.testing.assert_allclose(gyr, np.tile([0, spin, 0], (50, 1)), atol=1e-9)
    np.testing.assert_allclose(acc, np.tile([-(spin**2) * radius, GRAVITY, 0], (50, 1)), atol=1e-4)


def test_fast_quaternions_are_those_of_scipy():
    rng = np.random.default_rng(3)
    a, b = Rotation.random(200, rng=rng), Rotation.random(200, rng=rng)
    fast = multiply(a.as_quat(scalar_first=True), b.as_quat(scalar_first=True))
    assert (Rotation.from_quat(fast, scalar_first=True) * (a * b).inv()).magnitude().max() < 1e-12
    run = a.as_quat(scalar_first=True)
    run[50] = run[49]
    pose = Rotation.from_quat(run, scalar_first=True)
    np.testing.assert_allclose(increments(run), (pose[:-1].inv() * pose[1:]).as_rotvec(), atol=1e-7)


@pytest.mark.parametrize(("rate", "steps"), [(50, 20), (100, 10), (200, 6), (400, 4)])
def test_fine_grid_is_even_and_one_kilohertz_or_finer(rate, steps):
    assert fine_steps(rate) == steps
    assert rate * steps >= 1000


def test_still_clips_feel_gravity_upward(short):
    at = short.within("still")
    for clip, (acc, gyr) in short.ideal.items():
        world = np.einsum("nij,nj->ni", short.orientations[f"clip {clip}"][at], acc[at])
        np.testing.assert_allclose(world, np.tile([0, 9.81, 0], (at.sum(), 1)), atol=1e-6)
        assert np.abs(gyr[at]).max() < 1e-9


def test_integrated_rate_is_the_change_of_pose(short):
    at = np.flatnonzero(short.within("playing"))
    for clip, (_, gyr) in short.ideal.items():
        pose = Rotation.from_matrix(short.orientations[f"clip {clip}"])
        between = 0.5 * (gyr[at[:-1]] + gyr[at[1:]]) / 200.0
        total = Rotation.identity()
        for step in Rotation.from_rotvec(between):
            total = total * step
        off = (pose[at[0]] * total).inv() * pose[at[-1]]
        assert np.degrees(off.magnitude()) < 0.1


def test_acceleration_is_the_second_difference_of_position(short):
    """At the clip's rate, the second difference is the triangle-weighted mean of three samples, nearly."""
    at = np.flatnonzero(short.within("playing"))
    for clip, (acc, _) in short.ideal.items():
        world = np.einsum("nij,nj->ni", short.orientations[f"clip {clip}"][at], acc[at]) - [0, GRAVITY, 0]
        second = np.diff(short.points[clip][at], n=2, axis=0) * 200.0**2
        smooth = (world[:-2] + 6.0 * world[1:-1] + world[2:]) / 8.0
        assert np.std(second) > 0.3
        assert np.std(smooth - second) < 0.03 * np.std(second)


def test_clips_sit_at_random_mountings_away_from_the_axis(short):
    turns = [short.mounts[c].rotation for c in short.clips]
    assert min((turns[i].inv() * turns[j]).magnitude() for i, j in [(0, 1), (0, 2), (1, 2)]) > 0.05
    assert 0.08 <= short.mounts["right_foot"].position[0] <= 0.10
    assert all(np.hypot(m.position[0], m.position[2]) > 0.02 for m in short.mounts.values())


# Errors of the clips --------------------------------------------------------------------------------------------


def test_noise_and_bias_have_the_stated_size():
    n, rate = 200_000, 200.0
    flat = np.zeros((n, 3))
    errors = ClipErrors(gyro_full_scale_dps=np.inf, acc_full_scale_g=np.inf)
    rng = np.random.default_rng(2)
    records = [spoil(np.arange(n) / rate, flat, flat, rate, errors, rng, reference_clock=True) for _ in range(3)]
    for record in records:
        dps = np.degrees(record.gyr)
        np.testing.assert_allclose(dps.mean(axis=0), record.gyro_bias_dps, atol=0.001)
        np.testing.assert_allclose(dps.std(axis=0), 0.007 * np.sqrt(100.0), rtol=0.02)
        np.testing.assert_allclose(record.acc.std(axis=0), 120e-6 * 9.81 * np.sqrt(100.0), rtol=0.02)
    many = [spoil(np.arange(2) / rate, flat[:2], flat[:2], rate, errors, rng, reference_clock=True) for _ in range(500)]
    assert np.std([r.gyro_bias_dps for r in many]) == pytest.approx(0.4, rel=0.1)


def test_sixteen_bits_have_steps_and_ends():
    step = 2000.0 / 32768
    assert quantise(np.array([0.6 * step, -0.4 * step]), 2000.0, 16) == pytest.approx([step, 0.0])
    assert quantise(np.array([5000.0, -5000.0]), 2000.0, 16) == pytest.approx([2000.0 - step, -2000.0])


def test_clocks_losses_and_gaps():
    errors = ClipErrors(clock_offset_s=0.5, clock_skew_ppm=80.0, clock_jitter_s=0.002, lost_share=0.05)
    drop = Dropout("right_shank", length_s=2.0, after_s=1.0)
    setup = SetupScript(playing_s=6.0)
    session = simulate(
        PhysicsParameters(
            seed=6, moves=(), ranges=(), end_checks=False, errors=errors, dropouts=(drop,), setups=(setup,)
        )
    )
    stamps = len(session.truth)
    for record in session.clips.values():
        assert np.all(np.diff(record.time_s) > 0)
        assert len(record.time_s) == len(record.acc) == len(record.gyr)
    foot, shank = session.clips["right_foot"], session.clips["right_shank"]
    assert len(foot.time_s) / stamps == pytest.approx(0.95, abs=0.02)
    assert abs(foot.time_s[0] - 0.5 / 200) < 0.1, "the first clip's clock is the session's"
    assert np.diff(shank.time_s).max() == pytest.approx(2.0, abs=0.1)
    assert session.gaps[0].start_s == pytest.approx(session.span("playing")[0] + 1.0)


def bone_to_clip(session, clip):
    """Turn of a clip against its bone, from its mounting at the still pose (scipy Rotation)."""
    bone = Rotation.from_matrix(session.orientations[clip])
    return bone.inv() * Rotation.from_matrix(session.orientations[f"clip {clip}"]) * session.mounts[clip].rotation.inv()


def test_slip_lag_and_wobble_turn_the_clip_on_the_leg():
    parameters = replace(
        SHORT,
        seed=8,
        moves=(),
        ranges=("hip_internal_rotation",),
        thigh_lag=0.4,
        wobble_deg=(("foot", 0.3),),
        slips=(Slip("right_shank", 15.0, (1.0, 1.0, 0.0), after_s=10.0),),
    )
    session = simulate(parameters)
    time = session.truth.time_s.to_numpy()
    shank = np.degrees(bone_to_clip(session, "right_shank").magnitude())
    when = session.slips[0]["time_s"]
    np.testing.assert_allclose(shank[time < when - 0.2], 0.0, atol=1e-4)
    np.testing.assert_allclose(shank[time > when + 0.2], 15.0, atol=1e-4)
    turn = np.degrees(bone_to_clip(session, "right_thigh").as_rotvec())
    axial = session.truth.right_hip_rotation.to_numpy()
    assert axial.max() > 25.0
    np.testing.assert_allclose(turn[:, 1], -0.4 * axial, atol=1e-6)
    foot = np.degrees(bone_to_clip(session, "right_foot").magnitude())[session.within("playing")]
    assert np.sqrt(np.mean(foot**2)) == pytest.approx(0.3, rel=0.05)


def test_knocks_are_felt_by_the_foot_only_while_playing():
    tiny = replace(SHORT, seed=9, moves=(), ranges=(), knock_g=10.0, setups=(SetupScript(playing_s=15.0),))
    quiet, loud = simulate(replace(tiny, knock_g=0.0)), simulate(tiny)
    change = np.linalg.norm(loud.clips["right_foot"].acc - quiet.clips["right_foot"].acc, axis=1) / 9.81
    assert 5.0 < change.max() <= 10.0
    assert change[quiet.within("rest_on_pedal")].max() == 0.0
    assert np.array_equal(loud.clips["right_thigh"].acc, quiet.clips["right_thigh"].acc)
