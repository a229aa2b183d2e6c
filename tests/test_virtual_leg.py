"""The seated leg: hand-checkable geometry, ISB vectors, left and right, and what a clip on it measures."""

import numpy as np
import pytest
from footroom.logger.virtual_clip import GRAVITY, ClipMount, clip_samples, random_rotation, rotation_about, to_counts
from footroom.logger.virtual_leg import (
    ANGLE_NAMES,
    LegAngles,
    LegSize,
    PedalPlace,
    angles_from_pose,
    cardan_angles,
    cardan_matrix,
    horizontal_abduction,
    leg_from_angles,
    leg_on_pedal,
    still_angles,
    thigh_angles,
)
from scipy.spatial.transform import Rotation

SIDES = ("right", "left")
# The planar leg of our domain notes: thigh 43, shank 42, ankle 10 cm above the floor, foot turning below the ankle.
PLANAR = LegSize(0.43, 0.42, 0.10, 0.12, 0.0, 0.17)
LEG = LegSize(0.43, 0.42, 0.09, 0.12, 0.05, 0.17)
DRUM = PedalPlace(hip_height=0.60, reach=0.47, spacing=0.48, pitch=np.deg2rad(20), splay=np.deg2rad(15))


def planar(reach, hip_height, pitch_deg=0.0):
    """Ankle dorsiflexion, hip and knee flexion [deg] of the planar leg, foot straight below its hip."""
    place = PedalPlace(hip_height, reach, PLANAR.hip_width, np.deg2rad(pitch_deg))
    angles = angles_from_pose(leg_on_pedal(place, PLANAR, "right"))
    return np.degrees([angles.ankle_dorsiflexion[0], angles.hip_flexion[0], angles.knee_flexion[0]])


# --- the closed chain, by hand (planar two-link geometry, derived in our domain notes) ---------------------------


@pytest.mark.parametrize("hip_height", [0.58, 0.60])
def test_five_cm_more_reach_takes_about_seven_degrees_of_dorsiflexion(hip_height):
    near, far = planar(0.40, hip_height), planar(0.45, hip_height)
    assert far[0] - near[0] == pytest.approx(-7.0, abs=0.4)
    assert abs(far[1] - near[1]) < 1.0  # the thigh hardly moves


def test_five_cm_more_throne_opens_the_hip_about_six_and_a_half_degrees():
    low, high = planar(0.43, 0.55), planar(0.43, 0.60)
    assert low[1] - high[1] == pytest.approx(6.5, abs=0.3)
    assert abs(high[0] - low[0]) < 2.0  # the shank hardly leans
    assert low[2] - high[2] == pytest.approx(7.0, abs=1.0)  # the knee opens


def test_a_square_leg_is_exactly_square():
    angles = planar(reach=0.43, hip_height=0.52)
    np.testing.assert_allclose(angles, [0.0, 90.0, 90.0], atol=1e-9)


def test_footboard_pitch_adds_to_dorsiflexion_and_moves_the_shank_nowhere():
    """Dorsiflexion = footboard pitch + forward lean of the shank (the ankle turns about itself when heel = 0)."""
    place = PedalPlace(0.52 + 0.10 * (np.cos(np.deg2rad(20)) - 1), 0.43, PLANAR.hip_width, np.deg2rad(20))
    angles = angles_from_pose(leg_on_pedal(place, PLANAR, "right"))
    assert np.degrees(angles.ankle_dorsiflexion[0]) == pytest.approx(20.0, abs=1e-9)


@pytest.mark.parametrize("side", SIDES)
def test_tape_measures_come_back_from_the_pose(side):
    pose = leg_on_pedal(DRUM, LEG, side)
    sign = 1 if side == "right" else -1
    assert pose.ankle[0, 0] - pose.hip[0, 0] == pytest.approx(DRUM.reach)
    assert pose.ball[0, 2] == pytest.approx(sign * DRUM.spacing / 2)
    assert pose.heel[0, 1] == pytest.approx(0.0, abs=1e-12)
    assert np.linalg.norm(pose.hip - pose.knee) == pytest.approx(LEG.thigh)
    assert np.linalg.norm(pose.knee - pose.ankle) == pytest.approx(LEG.shank)
    assert pose.foot[0, 1, 0] == pytest.approx(np.sin(DRUM.pitch))  # toes up


def test_heel_down_keeps_the_heel_and_heel_up_keeps_the_ball():
    pitch = DRUM.pitch + np.deg2rad([0.0, -5.0, -9.0])
    down = leg_on_pedal(DRUM, LEG, "right", board_pitch=pitch)
    np.testing.assert_allclose(down.heel, np.broadcast_to(down.heel[0], (3, 3)), atol=1e-12)
    up = leg_on_pedal(DRUM, LEG, "right", foot_pitch=pitch - np.deg2rad([0.0, 10.0, 20.0]))
    np.testing.assert_allclose(up.ball, np.broadcast_to(up.ball[0], (3, 3)), atol=1e-12)
    assert up.heel[2, 1] > 0.03  # the heel has left its plate


def test_heel_down_stroke_costs_the_ankle_a_little_more_than_the_board_turns():
    """6 deg of board, and the ankle (9 cm above the sole) moves 0.09 x 6 deg = 0.9 cm ahead: 0.9 x 7 / 5 = 1.3 deg."""
    strokes = angles_from_pose(leg_on_pedal(DRUM, LEG, "right", board_pitch=DRUM.pitch - np.deg2rad([0.0, 6.0])))
    assert np.degrees(np.diff(strokes.ankle_dorsiflexion)[0]) == pytest.approx(-7.3, abs=0.4)


@pytest.mark.parametrize("side", SIDES)
def test_swivel_turns_the_knee_outward_and_leaves_the_ends_alone(side):
    straight, splayed = (leg_on_pedal(DRUM, LEG, side, swivel=np.deg2rad(s)) for s in (0.0, 8.0))
    np.testing.assert_allclose(splayed.ankle, straight.ankle)
    out = abs(splayed.knee[0, 2]) - abs(straight.knee[0, 2])
    assert out > 0.02
    a, b = angles_from_pose(straight), angles_from_pose(splayed)
    assert b.hip_horizontal_abduction[0] > a.hip_horizontal_abduction[0] + np.deg2rad(3)


@pytest.mark.parametrize(("reach", "hip_height"), [(0.95, 0.60), (0.003, 0.09)])
def test_a_leg_that_cannot_reach_says_so(reach, hip_height):
    with pytest.raises(ValueError, match=r"the right leg cannot close: hip to ankle is .* check reach, throne height"):
        leg_on_pedal(PedalPlace(hip_height, reach, 0.17, 0.0), LEG, "right")


def test_still_pose_has_an_upright_shank_and_a_flat_sole():
    pose = leg_from_angles(still_angles(LEG, 0.60), LEG, "left", 0.60)
    np.testing.assert_allclose(pose.shank[0], np.eye(3), atol=1e-12)
    np.testing.assert_allclose([pose.ball[0, 1], pose.heel[0, 1]], 0.0, atol=1e-12)
    with pytest.raises(ValueError, match=r"hip height of 1\.200 m: change the throne"):
        still_angles(LEG, 1.2)


# --- ISB angles -----------------------------------------------------------------------------------------------------

# facts: right leg, (flexion, adduction, internal rotation), thigh axis R(0,-1,0), shank direction R(-1,0,0);
# computed with scipy from the definition of Wu et al. 2002 / Grood & Suntay 1983.
ISB_VECTORS = [
    ((30, 10, 5), (0.492404, -0.852869, -0.173648), (-0.855163, -0.511204, 0.085832)),
    ((90, -20, 15), (0.939693, 0, 0.342020), (-0.088521, -0.965926, 0.243210)),
    ((60, -20, 0), (0.813798, -0.469846, 0.342020), (-0.5, -0.866025, 0)),
    ((100, -35, -25), (0.806707, 0.142244, 0.573576), (0.396100, -0.850446, -0.346189)),
    ((90, 0, 30), (1, 0, 0), (0, -0.866025, 0.5)),
]
MIRROR = np.array([1.0, 1.0, -1.0])


def angles_of(**degrees):
    return LegAngles.from_array([[np.deg2rad(degrees.get(name, 0.0)) for name in ANGLE_NAMES]])


@pytest.mark.parametrize(("hip", "thigh_axis", "shank_direction"), ISB_VECTORS)
@pytest.mark.parametrize("side", SIDES)
def test_isb_vectors_on_the_right_and_mirrored_on_the_left(hip, thigh_axis, shank_direction, side):
    flexion, adduction, rotation = hip
    angles = angles_of(hip_flexion=flexion, hip_adduction=adduction, hip_rotation=rotation, knee_flexion=90)
    pose = leg_from_angles(angles, LEG, side, 0.6)
    mirror = MIRROR if side == "left" else np.ones(3)
    np.testing.assert_allclose(-pose.thigh[0, :, 1], mirror * thigh_axis, atol=1e-6)
    np.testing.assert_allclose(-pose.shank[0, :, 1], mirror * shank_direction, atol=1e-6)
    np.testing.assert_allclose(angles_from_pose(pose).as_array(), angles.as_array(), atol=1e-12)


@pytest.mark.parametrize(
    ("flexion", "adduction", "azimuth"), [(60, -20, 22.796), (100, -35, 35.413), (30, 10, -19.425)]
)
def test_horizontal_abduction_is_outward_positive(flexion, adduction, azimuth):
    """Outward positive: the sign our design fixes; magnitudes from tan h = -tan b / sin a."""
    assert np.degrees(horizontal_abduction(np.deg2rad(flexion), np.deg2rad(adduction))) == pytest.approx(
        azimuth, abs=1e-3
    )


def test_thigh_angles_invert_slope_and_azimuth():
    slope, azimuth = np.deg2rad([-15.0, 0.0, 5.0]), np.deg2rad([20.0, -10.0, 35.0])
    flexion, adduction = thigh_angles(slope, azimuth)
    np.testing.assert_allclose(horizontal_abduction(flexion, adduction), azimuth)
    np.testing.assert_allclose(-cardan_matrix(flexion, adduction, 0.3)[:, 1, 1], np.sin(slope), atol=1e-12)


def test_cardan_matrices_agree_with_scipy():
    """scipy's intrinsic ZXY as reference."""
    angles = np.random.default_rng(1).uniform(-1.4, 1.4, (200, 3))
    rotation = Rotation.from_euler("ZXY", angles).as_matrix()
    np.testing.assert_allclose(cardan_matrix(*angles.T), rotation, atol=1e-14)
    np.testing.assert_allclose(np.stack(cardan_angles(rotation), 1), angles, atol=1e-12)


@pytest.mark.parametrize("side", SIDES)
def test_pedal_pose_goes_through_angles_and_back(side):
    t = np.linspace(0, 1, 50)
    pose = leg_on_pedal(
        DRUM, LEG, side, board_pitch=DRUM.pitch - 0.1 * t, foot_pitch=DRUM.pitch - 0.4 * t,
        swivel=0.1 * t, tibial_rotation=0.05 * t, hip_shift=np.stack([0.01 * t, 0 * t, 0 * t], 1),
    )  # fmt: skip
    again = leg_from_angles(angles_from_pose(pose), LEG, side, DRUM.hip_height)
    for segment in ("thigh", "shank", "foot"):
        np.testing.assert_allclose(getattr(again, segment), getattr(pose, segment), atol=1e-10)
    np.testing.assert_allclose(again.ankle - again.hip, pose.ankle - pose.hip, atol=1e-10)


def test_left_and_right_legs_mirror_each_other():
    right, left = (leg_on_pedal(DRUM, LEG, side, swivel=0.1, tibial_rotation=0.1) for side in SIDES)
    np.testing.assert_allclose(left.knee, right.knee * MIRROR, atol=1e-12)
    np.testing.assert_allclose(
        angles_from_pose(left).as_array(), angles_from_pose(right).as_array(), atol=1e-12
    )  # clinical signs on both sides


def test_from_array_refuses_a_wrong_number_of_angles():
    with pytest.raises(ValueError, match="8 columns, got 3"):
        LegAngles.from_array(np.zeros((5, 3)))


def test_leg_from_stature_follows_the_published_fractions():
    """Drillis & Contini 1966 in Winter 2009: 0.245 + 0.246 + 0.039 = 0.530 of stature is hip height."""
    size = LegSize.from_stature(1.80, shoe=0.0)
    assert size.thigh + size.shank + size.ankle_height == pytest.approx(0.530 * 1.80)


# --- what a clip measures -------------------------------------------------------------------------------------------


def test_a_still_clip_feels_gravity_upward_and_only_its_bias():
    rotation = random_rotation(np.random.default_rng(3))
    mount = ClipMount(rotation=rotation, gyr_bias=np.array([0.01, -0.02, 0.03]))
    acc, gyr = clip_samples(np.tile(np.eye(3), (400, 1, 1)), np.zeros((400, 3)), mount, 800.0, 4)
    np.testing.assert_allclose(acc, np.tile(rotation.T @ [0, GRAVITY, 0], (100, 1)), atol=1e-9)
    np.testing.assert_allclose(gyr, np.tile([0.01, -0.02, 0.03], (100, 1)), atol=1e-12)


def test_a_turning_clip_feels_its_rate_and_the_centripetal_acceleration():
    """Uniform rotation about z: rate w, specific force -w^2 r along the arm (gravity taken out)."""
    rate, arm, w = 1000.0, 0.1, 4.0
    t = np.arange(2000) / rate
    segment = rotation_about(np.outer(w * t, [0, 0, 1.0]))
    mount = ClipMount(position=np.array([arm, 0.0, 0.0]))
    acc, gyr = clip_samples(segment, np.zeros((2000, 3)), mount, rate, 1)
    np.testing.assert_allclose(gyr, np.tile([0, 0, w], (2000, 1)), atol=1e-9)
    gravity = np.einsum("nij,i->nj", segment, [0, GRAVITY, 0])
    np.testing.assert_allclose((acc - gravity)[1:-1], np.tile([-(w**2) * arm, 0, 0], (1998, 1)), atol=1e-4)


def test_the_angular_rate_adds_up_to_the_turn():
    """A swing there and back: integrating the rate gives the angle within 0.01 deg."""
    rate = 800.0
    angle = 0.5 * np.sin(2 * np.pi * 2.0 * np.arange(1600) / rate)
    segment = rotation_about(np.outer(angle, [0, 0, 1.0]))
    _, gyr = clip_samples(segment, np.zeros((1600, 3)), ClipMount(), rate, 4)
    assert np.degrees(gyr[:100, 2].sum() * 4 / rate) == pytest.approx(np.degrees(angle[400]), abs=0.2)
    assert np.max(np.abs(np.cumsum(gyr[:, 2]) * 4 / rate - angle[3::4])) < np.deg2rad(0.5)


def test_a_turn_of_the_clip_on_the_leg_shows_in_both_sensors():
    n = 400
    turned = rotation_about(np.outer(np.linspace(0, np.deg2rad(12), n), [0, 0, 1.0]))
    acc, gyr = clip_samples(np.tile(np.eye(3), (n, 1, 1)), np.zeros((n, 3)), ClipMount(), 400.0, 2, turned=turned)
    tilt = np.degrees(np.arctan2(acc[-1, 0], acc[-1, 1]))
    assert tilt == pytest.approx(12.0, abs=0.1)
    assert np.degrees(gyr[:, 2].sum() / 200) == pytest.approx(12.0, abs=0.1)


def test_noise_has_the_stated_density_and_the_seed_repeats_it():
    still, origin = np.tile(np.eye(3), (40000, 1, 1)), np.zeros((40000, 3))
    mount = ClipMount()
    first, again = (clip_samples(still, origin, mount, 200.0, 1, np.random.default_rng(5)) for _ in range(2))
    np.testing.assert_array_equal(first[1], again[1])
    assert np.degrees(first[1].std()) == pytest.approx(7e-3 * np.sqrt(100), rel=0.02)  # white noise over fs/2
    assert first[0][:, 0].std() == pytest.approx(120e-6 * GRAVITY * np.sqrt(100), rel=0.02)


def test_counts_are_held_at_the_ends_of_the_range():
    np.testing.assert_array_equal(to_counts(np.array([0.0, 1.26, -1e9, 1e9]), 0.5), [0, 3, -32768, 32767])


def test_clip_samples_refuse_shapes_that_do_not_fit():
    with pytest.raises(ValueError, match="do not fit"):
        clip_samples(np.zeros((10, 3, 3)), np.zeros((9, 3)), ClipMount(), 100.0, 1)
