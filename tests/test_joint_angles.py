"""Joint angles: ISB vectors by scipy, cross-talk of a mis-set axis, left legs as mirrors, and a slow clear twin."""

import numpy as np
import pytest
from footroom.analysis.alignment import Alignment, Axis
from footroom.analysis.joint_angles import (
    EARTH_TO_BODY,
    MIN_KNEE_FOR_ROTATION_DEG,
    ankle_dorsiflexion,
    cardan_zxy,
    hip_angles,
    horizontal_abduction,
    knee_flexion,
)
from footroom.analysis.orientation import Track
from footroom.analysis.segments import SegmentAxes, about_up, mean_angle, segment_axes
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

MIRROR = np.array([1.0, 1.0, -1.0])  # through the sagittal plane, components forward, up, right

# Wu et al. 2002, J Biomech 35:543-548 (frames, Z-X'-Y''); numbers computed with scipy from_euler('ZXY'), right leg:
# (flexion, adduction, internal rotation), quaternion x y z w, knee-ward direction, shank direction with the knee at 90.
VECTORS = [
    (
        (30, 10, 5),
        (0.072859, 0.064509, 0.261261, 0.960350),
        (0.492404, -0.852869, -0.173648),
        (-0.855163, -0.511204, 0.085832),
    ),
    (
        (90, -20, 15),
        (-0.212631, -0.030844, 0.674380, 0.706434),
        (0.939693, 0.0, 0.342020),
        (-0.088521, -0.965926, 0.243210),
    ),
    ((60, -20, 0), (-0.150384, -0.086824, 0.492404, 0.852869), (0.813798, -0.469846, 0.342020), (-0.5, -0.866025, 0.0)),
    (
        (100, -35, -25),
        (-0.030580, -0.357579, 0.755107, 0.548648),
        (0.806707, 0.142244, 0.573576),
        (0.396100, -0.850446, -0.346189),
    ),
    ((90, 0, 30), (-0.183013, 0.183013, 0.683013, 0.683013), (1.0, 0.0, 0.0), (0.0, -0.866025, 0.5)),
]


def rows(vector):
    return np.asarray(vector, dtype=float).reshape(-1, 3)


def of_rotation(rotation):
    """Cardan angles by the package from a scipy rotation."""
    matrices = rotation.as_matrix().reshape(-1, 3, 3)
    return np.array(cardan_zxy(*(matrices[:, :, k] for k in range(3)))).T


# ---- Cardan angles


@pytest.mark.parametrize(("angles", "quaternion", "_kneeward", "_shank"), VECTORS)
def test_isb_vectors(angles, quaternion, _kneeward, _shank):
    assert of_rotation(Rotation.from_quat(quaternion))[0] == pytest.approx(angles, abs=2e-4)


@pytest.mark.parametrize(("angles", "_quaternion", "kneeward", "shank"), VECTORS)
def test_isb_vectors_by_the_directions_of_thigh_and_shank(angles, _quaternion, kneeward, shank):
    """With the knee at 90 the shank shows the rotation: the last row is the seated sign check (foot goes outward)."""
    found = np.array(hip_angles(-rows(kneeward), -rows(shank), "right"))[:, 0]
    assert found == pytest.approx(angles, abs=1e-3)


@pytest.mark.parametrize(("angles", "_quaternion", "kneeward", "shank"), VECTORS)
def test_the_left_leg_is_the_mirrored_right_one(angles, _quaternion, kneeward, shank):
    found = np.array(hip_angles(-rows(kneeward) * MIRROR, -rows(shank) * MIRROR, "left"))[:, 0]
    assert found == pytest.approx(angles, abs=1e-3)


def test_mirroring_negates_the_second_and_third_angle():
    """(90, -20, 15) mirrored through the sagittal plane reads (90, 20, -15) by the right-side formula (scipy)."""
    matrix = Rotation.from_euler("ZXY", [90, -20, 15], degrees=True).as_matrix()
    mirrored = np.diag(MIRROR) @ matrix @ np.diag(MIRROR)
    assert of_rotation(Rotation.from_matrix(mirrored))[0] == pytest.approx((90, 20, -15), abs=1e-9)


# A flexion axis mis-set by eps about the long axis fakes adduction and rotation; computed with scipy.
@pytest.mark.parametrize(
    ("eps", "flexion", "expected"),
    [(5, 90, (90, 5, -5)), (10, 90, (90, 10, -10)), (10, 110, (110.284, 9.391, -13.451))],
)
def test_cross_talk_of_a_mis_set_axis(eps, flexion, expected):
    turned = Rotation.from_euler("Y", eps, degrees=True)
    about_turned_axis = turned * Rotation.from_euler("Z", flexion, degrees=True) * turned.inv()
    assert of_rotation(about_turned_axis)[0] == pytest.approx(expected, abs=1e-3)


@given(st.integers(0, 1_000_000))
@settings(max_examples=100, deadline=None)
def test_cardan_angles_agree_with_scipy(seed):
    rotations = Rotation.random(10, rng=np.random.default_rng(seed))
    expected = rotations.as_euler("ZXY", degrees=True)
    away = np.abs(expected[:, 1]) < 89.9  # at 90 deg the first and third angle are one
    assert np.allclose(of_rotation(rotations)[away], expected[away], atol=1e-6)


# ---- horizontal abduction: kinesiology textbooks' term, common practice, no source; numbers by tan h = -tan b / sin a


@pytest.mark.parametrize(
    ("flexion", "adduction", "expected"), [(60, -20, 22.796), (100, -35, 35.413), (30, 10, -19.425)]
)
def test_horizontal_abduction_vectors(flexion, adduction, expected):
    y = Rotation.from_euler("ZXY", [flexion, adduction, 17.0], degrees=True).apply([0.0, 1.0, 0.0])
    assert horizontal_abduction(rows(y), "right")[0] == pytest.approx(expected, abs=1e-3)
    assert horizontal_abduction(rows(y) * MIRROR, "left")[0] == pytest.approx(expected, abs=1e-3)


@given(st.floats(20, 130), st.floats(-60, 40))
def test_at_any_flexion_the_tangent_rule_holds(flexion, adduction):
    y = Rotation.from_euler("ZXY", [flexion, adduction, 0.0], degrees=True).apply([0.0, 1.0, 0.0])
    found = horizontal_abduction(rows(y), "right")[0]
    rule = -np.degrees(np.arctan2(np.tan(np.radians(adduction)), np.sin(np.radians(flexion))))
    assert found == pytest.approx(rule, abs=1e-6)


# ---- knee


@pytest.mark.parametrize("flexion", [0.5, 30.0, 90.0, 140.0])
def test_knee_flexion_is_minus_the_z_rotation(flexion):
    thigh = Rotation.from_euler("ZXY", [80, -15, 10], degrees=True)
    shank = thigh * Rotation.from_euler("Z", -flexion, degrees=True)
    up = [0.0, 1.0, 0.0]
    assert knee_flexion(rows(thigh.apply(up)), rows(shank.apply(up)))[0] == pytest.approx(flexion, abs=1e-5)


def test_a_twist_of_the_shank_about_itself_leaves_the_knee_alone():
    thigh = Rotation.from_euler("ZXY", [80, -15, 10], degrees=True)
    up = [0.0, 1.0, 0.0]
    straight, twisted = (thigh * Rotation.from_euler("ZY", [-90, t], degrees=True) for t in (0, 20))
    a, b = (knee_flexion(rows(thigh.apply(up)), rows(s.apply(up)))[0] for s in (straight, twisted))
    assert a == pytest.approx(90) and b == pytest.approx(90)


# ---- hip


def leg_directions(hip, knee):
    """(y thigh, y shank) from hip angles (n, 3) and knee flexion (n,) [deg], by scipy, right leg."""
    thigh = Rotation.from_euler("ZXY", np.asarray(hip, dtype=float).reshape(-1, 3), degrees=True)
    bend = Rotation.from_euler("Z", -np.asarray(knee, dtype=float).reshape(-1, 1), degrees=True)
    return thigh.apply([0.0, 1.0, 0.0]), (thigh * bend).apply([0.0, 1.0, 0.0])


@pytest.mark.parametrize(
    ("knee", "is_known"),
    [(0.0, False), (15.0, False), (29.0, False), (31.0, True), (90.0, True), (120.0, True), (155.0, True)],
)
def test_hip_rotation_needs_a_bent_knee(knee, is_known):
    assert MIN_KNEE_FOR_ROTATION_DEG == 30.0
    flexion, adduction, rotation = hip_angles(*leg_directions((80, -15, 12), [knee]), "right")
    assert np.isfinite(rotation[0]) == is_known
    if is_known:
        assert (flexion[0], adduction[0], rotation[0]) == pytest.approx((80, -15, 12), abs=1e-6)
    if knee >= 15.0:
        assert (flexion[0], adduction[0]) == pytest.approx((80, -15), abs=1e-6)


def slow_hip_angles(y_thigh, y_shank, side):
    """The clear version: one sample at a time, scipy's own Euler angles, a left leg mirrored into a right one."""
    found = []
    for thigh, shank in zip(y_thigh, y_shank, strict=True):
        if side == "left":
            thigh, shank = thigh * MIRROR, shank * MIRROR
        z = np.cross(shank, thigh)
        z = z / np.linalg.norm(z)
        frame = np.column_stack([np.cross(thigh, z), thigh, z])
        flexion, adduction, rotation = Rotation.from_matrix(frame).as_euler("ZXY", degrees=True)
        knee = np.degrees(np.arccos(np.clip(thigh @ shank, -1.0, 1.0)))
        found.append((flexion, adduction, rotation if knee > 30.0 else np.nan))
    return np.array(found).T


@given(st.integers(0, 1_000_000), st.sampled_from(["right", "left"]))
@settings(max_examples=60, deadline=None)
def test_the_fast_hip_equals_the_slow_clear_one(seed, side):
    rng = np.random.default_rng(seed)
    n = 12
    hip = np.column_stack([rng.uniform(-20, 130, n), rng.uniform(-60, 40, n), rng.uniform(-50, 50, n)])
    knee = rng.uniform(2, 150, n)
    assume(np.abs(knee - 30).min() > 1e-6)
    y_thigh, y_shank = leg_directions(hip, knee)
    if side == "left":
        y_thigh, y_shank = y_thigh * MIRROR, y_shank * MIRROR
    fast, slow = hip_angles(y_thigh, y_shank, side), slow_hip_angles(y_thigh, y_shank, side)
    assert np.allclose(fast, slow, atol=1e-6, equal_nan=True)
    bent = knee > 30
    assert np.allclose(np.array(fast)[:, bent], hip.T[:, bent], atol=1e-6)


# ---- ankle, from segment axes in the earth frame


def axes_of(rotation):
    """SegmentAxes of a segment given in body components (forward, up, right), in an earth frame with z up."""
    n = len(rotation)
    y, z = (rotation.apply(v) @ EARTH_TO_BODY for v in ([0.0, 1.0, 0.0], [0.0, 0.0, 1.0]))
    return SegmentAxes(y, z, np.ones(n, dtype=bool), np.zeros(n, dtype=np.int32))


@given(st.integers(0, 1_000_000), st.floats(-3.0, 3.0))
@settings(max_examples=60, deadline=None)
def test_ankle_is_the_first_cardan_angle_of_the_foot_in_the_shank(seed, heading):
    rng = np.random.default_rng(seed)
    n = 8
    shank = Rotation.from_euler("ZXY", rng.uniform(-25, 25, (n, 3)), degrees=True)
    angles = np.column_stack([rng.uniform(-50, 30, n), rng.uniform(-25, 25, n), rng.uniform(-20, 20, n)])
    foot = axes_of(shank * Rotation.from_euler("ZXY", angles, degrees=True))
    turned = SegmentAxes(about_up(heading, foot.y), about_up(heading, foot.z), foot.known, foot.stretch)
    found = ankle_dorsiflexion(axes_of(shank), turned, np.full(n, heading))
    assert np.allclose(found, angles[:, 0], atol=1e-6)


def test_toes_up_is_dorsiflexion():
    upright = axes_of(Rotation.identity(1))
    toes_up = axes_of(Rotation.from_euler("Z", [[10.0]], degrees=True))  # about the right axis: forward turns up
    assert ankle_dorsiflexion(upright, toes_up, np.zeros(1))[0] == pytest.approx(10.0)


# ---- segment axes from a clip


def test_headings_are_zeroed_in_the_still_pose():
    """However the clip is mounted and wherever it faces, in the still pose forward is earth x and right is earth -y."""
    rng = np.random.default_rng(5)
    mount, facing = Rotation.random(rng=rng), Rotation.from_euler("z", 131.0, degrees=True)
    body = Rotation.from_matrix(EARTH_TO_BODY.T)  # the upright segment in the earth frame
    pose = facing * body * mount
    quat = np.tile(pose.as_quat(scalar_first=True), (20, 1))
    known = np.ones(20, dtype=bool)
    track = Track(quat, np.zeros((20, 3)), known, np.zeros(20, dtype=np.int32), 100.0)
    frame = mount.inv().as_matrix()
    nothing = Axis(frame[:, 2], 1.0, 0.0, "made up")
    axes = segment_axes(track, Alignment(frame, nothing, "made up", 1.0), known)
    assert np.allclose(axes.x, [1.0, 0.0, 0.0])
    assert np.allclose(axes.y, [0.0, 0.0, 1.0])
    assert np.allclose(axes.z, [0.0, -1.0, 0.0])


def test_mean_angle_is_circular():
    assert abs(mean_angle(np.radians([170.0, -170.0]))) == pytest.approx(np.pi)
    assert mean_angle(np.radians([10.0, 20.0])) == pytest.approx(np.radians(15.0))
