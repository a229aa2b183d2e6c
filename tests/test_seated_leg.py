"""The seated leg in closed form: against the chain of matrices, a hand triangle, and the trade's knob effects."""

import numpy as np
import pytest
from footroom.analysis.body_size import Body, body_of
from footroom.analysis.seated_leg import Pedal, Seat, Stroke, leg_pose, stroke_poses
from footroom.analysis.seated_pose import degrees
from footroom.logger.errors import InputError
from footroom.logger.models import Participant
from footroom.logger.setup_checks import popliteal_height_cm
from footroom.logger.virtual_leg import LegSize, PedalPlace, angles_from_pose, leg_on_pedal

# The planar leg of the trade's knob effects: thigh 43, shank 42, ankle 10 cm above the floor (our own drawing).
PLANAR = Body(0.43, 0.42, 0.10, 0.0, 0.0, 0.0, hip_above_seat=0.0)
TALL = Body(0.44, 0.43, 0.07, 0.13, 0.07, 0.17)
COMPARED = (
    "hip_flexion", "hip_adduction", "hip_rotation", "knee_flexion", "ankle_dorsiflexion", "ankle_inversion",
)  # fmt: skip


def test_the_triangle_worked_out_by_hand():
    """Hip 50 cm above the floor, ankle 10 cm, reach 43 cm, thigh 43, shank 40: a level thigh over an upright shank.

    The knee is 43 ahead and 0 below the hip, so the shank drops 50 - 10 = 40 straight down. Hip 90, knee 90,
    trunk to thigh 90; on a board of 20 deg the ankle is at 20 + 0 = 20 deg of dorsiflexion.
    """
    body = Body(0.43, 0.40, 0.10, 0.0, 0.0, 0.0, hip_above_seat=0.0)
    # heel, ankle and ball in one point: the ankle is 10 cm off the board, square to it, so its height is 10 cos 20
    seat = Seat(0.40 + 0.10 * np.cos(np.radians(20)))
    angles = degrees(leg_pose(body, seat, Pedal(np.radians(20), sole=0.0), 0.43, 0.0))
    for name, value in {
        "hip_flexion": 90, "knee_flexion": 90, "ankle_dorsiflexion": 20, "thigh_slope": 0, "torso_thigh": 90,
        "hip_adduction": 0, "hip_rotation": 0, "shank_lean": 0, "side_tilt": 0,
    }.items():  # fmt: skip
        assert angles[name] == pytest.approx(value, abs=1e-9), name


def test_the_sideways_triangle_worked_out_by_hand():
    """As above, with the foot 15 cm outward of the hip: sin(abduction) = 15 / 43, so 20.416 deg.

    An upright shank puts the knee 15 out and sqrt(43^2 - 15^2) = 40.30 ahead; with a reach of 40.30 the thigh stays
    level. Horizontal abduction is then 20.416 deg, adduction -20.416, rotation 0, spacing 2 * 15 = 30 (hips 0 apart).
    """
    body = Body(0.43, 0.40, 0.10, 0.0, 0.0, 0.0, hip_above_seat=0.0)
    angles = degrees(leg_pose(body, Seat(0.50), Pedal(0.0, sole=0.0), np.sqrt(0.43**2 - 0.15**2), 0.30))
    assert angles["hip_horizontal_abduction"] == pytest.approx(20.416, abs=1e-3)
    assert angles["hip_adduction"] == pytest.approx(-20.416, abs=1e-3)
    assert angles["hip_rotation"] == pytest.approx(0, abs=1e-9)
    assert angles["hip_flexion"] == pytest.approx(90, abs=1e-9)


def test_what_each_knob_does():
    """Our own planar arithmetic (domain notes): reach +5 cm -> ankle about -7 deg, thigh slope < 1 deg; throne +5 cm
    -> hip opens about 6.5 deg, knee about 7 deg; pitch +5 deg -> +5 deg of dorsiflexion, heel-down."""
    pedal, seat = Pedal(np.radians(20), sole=0.0), Seat(0.52)
    at = degrees(leg_pose(PLANAR, seat, pedal, 0.43, 0.0))
    far = degrees(leg_pose(PLANAR, seat, pedal, 0.48, 0.0))
    high = degrees(leg_pose(PLANAR, Seat(seat.height + 0.05), pedal, 0.43, 0.0))
    steep = degrees(leg_pose(PLANAR, seat, Pedal(np.radians(25), sole=0.0), 0.43, 0.0))
    assert far["ankle_dorsiflexion"] - at["ankle_dorsiflexion"] == pytest.approx(-7, abs=0.7)
    assert abs(far["thigh_slope"] - at["thigh_slope"]) < 1
    assert high["hip_flexion"] - at["hip_flexion"] == pytest.approx(-6.5, abs=0.6)
    assert high["torso_thigh"] - at["torso_thigh"] == pytest.approx(6.5, abs=0.6)
    assert high["knee_flexion"] - at["knee_flexion"] == pytest.approx(-7, abs=1.5)
    assert abs(high["shank_lean"] - at["shank_lean"]) < 2
    assert steep["ankle_dorsiflexion"] - at["ankle_dorsiflexion"] == pytest.approx(5, abs=0.5)


def test_dorsiflexion_at_rest_is_pitch_plus_forward_lean():
    """Heel-down, foot in the plane of the leg: common practice, and plane geometry."""
    reach = np.linspace(0.35, 0.50, 7)
    angles = degrees(leg_pose(PLANAR, Seat(0.52), Pedal(np.radians(22), sole=0.0), reach, 0.0))
    np.testing.assert_allclose(angles["ankle_dorsiflexion"], 22 + angles["shank_lean"], atol=1e-9)
    assert np.all(np.diff(angles["ankle_dorsiflexion"]) < 0), "a shorter reach demands more dorsiflexion"


def test_a_shoe_with_a_drop_asks_for_less_dorsiflexion():
    """10 mm over a heel-to-ball length of 20 cm: asin(1 / 20) = 2.87 deg."""
    flat, dropped = Pedal(np.radians(20), sole=0.025), Pedal(np.radians(20), sole=0.025, drop=0.010)
    assert np.degrees(dropped.drop_angle(TALL)) == pytest.approx(2.866, abs=1e-3)
    a, b = (degrees(leg_pose(TALL, Seat(0.5), p, 0.45, 0.3))["ankle_dorsiflexion"] for p in (flat, dropped))
    assert a - b == pytest.approx(2.9, abs=0.6)


@pytest.mark.parametrize("side", ["right", "left"])
@pytest.mark.parametrize("way", ["heel-down", "heel-up"])
def test_it_is_the_same_leg_as_the_chain_of_matrices(side, way):
    rng = np.random.default_rng(5)
    stroke = Stroke(way)
    compared = 0
    for _ in range(60):
        body = Body(*rng.uniform((0.36, 0.36, 0.05, 0.10, 0.05, 0.14), (0.50, 0.48, 0.09, 0.15, 0.09, 0.20)))
        pedal = Pedal(rng.uniform(0.1, 0.5), rng.uniform(-0.1, 0.5), rng.uniform(0, 0.03), rng.uniform(0, 0.04))
        seat, reach, spacing = Seat(rng.uniform(0.42, 0.58)), rng.uniform(0.35, 0.6), rng.uniform(0.3, 0.7)
        size = LegSize(
            body.thigh, body.shank, body.ankle_height + pedal.sole, body.ball_to_ankle, body.heel_to_ankle,
            body.hip_width,
        )  # fmt: skip
        place = PedalPlace(
            seat.height + body.hip_above_seat, reach, spacing, pedal.pitch, pedal.splay, pedal.heel_plate
        )
        for name, pose in stroke_poses(
            body, seat, pedal, reach, spacing, stroke, swivel=rng.uniform(-0.2, 0.2)
        ).items():
            board, sole = stroke.poses(pedal.pitch)[name]
            if not np.isfinite(pose.hip_flexion):
                continue
            # the same knee, found as a turn from the vertical plane through hip and ankle
            knee, ankle = np.array(pose.knee), np.array(pose.ankle)
            ahead = ankle / np.linalg.norm(ankle)
            up = np.array([0, 1, 0]) - ahead * ahead[1]
            up /= np.linalg.norm(up)
            swivel = np.arctan2(knee @ np.cross(ahead, up), knee @ up)
            chain = leg_on_pedal(place, size, side, board_pitch=board, foot_pitch=sole, swivel=swivel)
            theirs = angles_from_pose(chain)
            for angle in COMPARED:
                assert getattr(pose, angle) == pytest.approx(getattr(theirs, angle)[0], abs=2e-11), angle
            assert pose.hip_horizontal_abduction == pytest.approx(theirs.hip_horizontal_abduction[0], abs=2e-11)
            compared += 1
    assert compared > 80


def test_the_default_knee_is_straight_above_the_ankle_and_swivel_moves_it_outward():
    at = leg_pose(TALL, Seat(0.5), Pedal(0.35, 0.2), 0.45, 0.5)
    out = leg_pose(TALL, Seat(0.5), Pedal(0.35, 0.2), 0.45, 0.5, swivel=np.radians(8))
    assert at.side_tilt == pytest.approx(0, abs=1e-12)
    assert abs(np.degrees(at.hip_rotation)) < 5, "near 0"
    assert out.knee[2] > at.knee[2] + 0.02
    assert out.hip_horizontal_abduction > at.hip_horizontal_abduction
    assert out.hip_rotation < at.hip_rotation, "the foot stays, the knee goes out: external rotation"
    assert np.hypot(np.hypot(*out.knee[:2]), out.knee[2]) == pytest.approx(TALL.thigh, abs=1e-12)


def test_a_trunk_that_leans_closes_the_hip_and_leaves_the_thigh_where_it_is():
    up, lean = (degrees(leg_pose(TALL, Seat(0.5, np.radians(a)), Pedal(0.35), 0.45, 0.17)) for a in (0, 10))
    assert lean["hip_flexion"] - up["hip_flexion"] == pytest.approx(10, abs=0.1)
    assert lean["torso_thigh"] - up["torso_thigh"] == pytest.approx(-10, abs=0.1)
    assert lean["thigh_slope"] == up["thigh_slope"]


def test_heel_up_and_the_stroke_move_the_ankle_toward_plantarflexion():
    down = stroke_poses(TALL, Seat(0.5), Pedal(0.35), 0.45, 0.4)
    up = stroke_poses(TALL, Seat(0.5), Pedal(0.35), 0.45, 0.4, Stroke("heel-up", lift=np.radians(5)))
    ankle = {name: float(np.degrees(pose.ankle_dorsiflexion)) for name, pose in down.items()}
    assert 4 < ankle["rest"] - ankle["contact"] < 9
    assert np.degrees(up["rest"].ankle_dorsiflexion) < ankle["rest"] - 8
    assert set(up) == {"rest", "contact", "lifted"} and up["lifted"].ankle_dorsiflexion > up["rest"].ankle_dorsiflexion


def test_out_of_reach_is_not_known_and_the_rest_of_a_map_is():
    pose = leg_pose(TALL, Seat(0.5), Pedal(0.35), np.array([[0.45], [0.90]]), np.array([0.4, 1.95]))
    known = np.isfinite(pose.hip_flexion)
    assert known.tolist() == [[True, False], [False, False]]
    assert np.isfinite(pose.ankle_dorsiflexion).tolist() == known.tolist()


def test_lengths_from_stature_lie_near_the_army_survey():
    """ANSUR II men (public data): epicondyle to malleolus .2384 of stature, trochanter to epicondyle .2330, foot .1544.

    The shares of Drillis & Contini (.246, .245) are joint centres, a little longer: within 6 %.
    Popliteal height: .2446 of a man's 175.62 cm and .2383 of a woman's 162.85.
    """
    body = body_of(Participant(id="p", stature_cm=175.62))
    assert body.shank == pytest.approx(0.2384 * 1.7562, rel=0.06)
    assert body.thigh == pytest.approx(0.2330 * 1.7562, rel=0.06)
    assert body.foot == pytest.approx(0.2009, abs=0.01), "heel to ball"
    for stature, popliteal in ((175.62, 42.98), (162.85, 38.82)):
        mean, sd = popliteal_height_cm(stature)
        assert abs(mean - popliteal) < sd
    # the knee crease lies below the knee centre: shank + ankle height, less about 4 to 7 cm
    assert 3 < 100 * (body.shank + body.ankle_height) - 42.98 < 8


def test_measured_lengths_go_before_stature_and_neither_is_refused():
    person = Participant(id="p", stature_cm=170, thigh_length_cm=40, shank_length_cm=41, thigh_width_cm=16)
    body = body_of(person)
    assert (body.thigh, body.shank, body.thigh_radius) == (0.40, 0.41, 0.08)
    assert body.hip_width == pytest.approx(0.0955 * 1.70)
    assert body.length_sd < body_of(Participant(id="p", stature_cm=170)).length_sd
    with pytest.raises(InputError, match="neither shank_length_cm nor stature_cm of 'p' is known"):
        body_of(Participant(id="p", thigh_length_cm=40))
