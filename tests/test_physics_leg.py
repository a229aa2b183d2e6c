"""The leg in the physics engine is itself checked: formulas, closed chain, samples, script, errors, folder.

Angle vectors: facts of the project, section "ISB joint coordinate systems" (computed with scipy from Wu et al. 2002,
J Biomech 35:543-548). Plane geometry of the seated leg: a two-link drawing of our own, tolerances stated beside it.
"""

import sys
import tomllib

import numpy as np
import pandas as pd
import pytest
from clip_noise import PERFECT, ClipErrors, quantise, spoil
from physics_leg import (
    Dropout,
    Person,
    PhysicsParameters,
    SetupScript,
    Slip,
    Strokes,
    replace,
    simulate,
)
from physics_measure import fine_steps, measure
from physics_model import GRAVITY, Lengths, SeatedBody, leg_signs, require_mujoco
from physics_motion import wander
from physics_pose import PedalGeometry, seated_leg
from physics_quaternion import increments, multiply
from physics_truth import cardan_zxy, joint_columns, truth_table
from scipy.signal import find_peaks
from scipy.spatial.transform import Rotation

STILL_PERSON = Person(posture_sd_deg=0.0, knee_splay_sd_deg=0.0, settle_deg=0.0)
SHORT = PhysicsParameters(
    seed=3,
    errors=PERFECT,
    setups=(SetupScript(playing_s=30.0),),
    ranges=("ankle_dorsiflexion", "hip_internal_rotation"),
)
HEEL_UP = PhysicsParameters(
    seed=4,
    sides=("right", "left"),
    both_at_once=True,
    pelvis_clip=True,
    rate_hz=100.0,
    moves=(),
    ranges=(),
    end_checks=False,
    person=Person(pelvis_yaw_sd_deg=6.0, pelvis_roll_sd_deg=1.0),
    setups=(SetupScript(name="up", playing_s=20.0, technique="heel_up", right=Strokes(amplitude_deg=(10.0, 25.0))),),
)


@pytest.fixture(autouse=True)
def _engine():
    require_mujoco()


@pytest.fixture(scope="module")
def short():
    require_mujoco()
    return simulate(SHORT)


@pytest.fixture(scope="module")
def heel_up():
    require_mujoco()
    return simulate(HEEL_UP)


# Truth formulas -------------------------------------------------------------------------------------------------

VECTORS = [
    ((30, 10, 5), (0.072859, 0.064509, 0.261261, 0.960350), -19.425),
    ((90, -20, 15), (-0.212631, -0.030844, 0.674380, 0.706434), 20.0),
    ((60, -20, 0), (-0.150384, -0.086824, 0.492404, 0.852869), 22.796),
    ((100, -35, -25), (-0.030580, -0.357579, 0.755107, 0.548648), 35.413),
    ((90, 0, 30), (-0.183013, 0.183013, 0.683013, 0.683013), 0.0),
]


@pytest.mark.parametrize(("angles", "quaternion", "outward"), VECTORS)
def test_right_hip_angles_of_the_isb_vectors(angles, quaternion, outward):
    thigh = Rotation.from_quat([quaternion]).as_matrix()
    still = np.eye(3)[None]
    columns, _ = joint_columns("right", still, thigh, thigh, thigh)
    found = [columns[f"right_hip_{name}"][0] for name in ("flexion", "adduction", "rotation")]
    np.testing.assert_allclose(found, angles, atol=2e-4)
    np.testing.assert_allclose(columns["right_hip_horizontal_abduction"], outward, atol=1e-3)


def test_left_leg_mirrored_through_the_middle_reads_the_same():
    thigh = Rotation.from_euler("ZXY", [[90, 20, -15]], degrees=True).as_matrix()
    columns, _ = joint_columns("left", np.eye(3)[None], thigh, thigh, thigh)
    found = [columns[f"left_hip_{n}"][0] for n in ("flexion", "adduction", "rotation", "horizontal_abduction")]
    np.testing.assert_allclose(found, (90, -20, 15, 20), atol=1e-9)


@pytest.mark.parametrize(
    ("off", "flexion", "reads"), [(5, 90, (90, 5, -5)), (10, 90, (90, 10, -10)), (10, 110, (110.284, 9.391, -13.451))]
)
def test_cross_talk_of_a_flexion_axis_set_wrong(off, flexion, reads):
    turn = Rotation.from_euler("Y", off, degrees=True)
    wrong = turn * Rotation.from_euler("Z", flexion, degrees=True) * turn.inv()
    np.testing.assert_allclose(np.degrees(cardan_zxy(wrong.as_matrix())), reads, atol=1e-3)


def test_bending_the_knee_is_positive_and_spread_is_the_sum_of_both_legs():
    square = np.eye(3)[None]
    thigh = Rotation.from_euler("ZXY", [[90, 0, 0]], degrees=True).as_matrix()
    right = Rotation.from_euler("ZXY", [[90, -20, 0]], degrees=True).as_matrix()
    left = Rotation.from_euler("ZXY", [[90, 12, 0]], degrees=True).as_matrix()
    poses = {"pelvis": square}
    for side, hip in (("right", right), ("left", left)):
        poses |= {f"{side}_thigh": hip, f"{side}_shank": square, f"{side}_foot": square}
    table, _ = truth_table(np.zeros(1), poses)
    np.testing.assert_allclose(table.hip_spread, 32.0, atol=1e-9)
    columns, _ = joint_columns("right", square, thigh, square, square)
    np.testing.assert_allclose(columns["right_knee_flexion"], 90.0, atol=1e-9)


@pytest.mark.parametrize("side", ["right", "left"])
def test_engine_and_cardan_formulas_agree_on_random_poses(side):
    rng = np.random.default_rng(0)
    body = SeatedBody((side,), Lengths(), {})
    low = np.radians([20, -40, -40, 5, -20, -50, -20])
    legs = rng.uniform(low, np.radians([110, 40, 40, 110, 20, 20, 20]), (50, 7))
    positions = np.zeros((50, body.model.nq))
    positions[:, body.leg_index(side)] = legs * leg_signs(side)
    poses, _ = body.run(positions)
    matrices = {name: Rotation.from_quat(q, scalar_first=True).as_matrix() for name, q in poses.items()}
    table, beside = truth_table(np.arange(50.0), matrices)
    names = ("hip_flexion", "hip_adduction", "hip_rotation", "knee_flexion", "ankle_dorsiflexion")
    np.testing.assert_allclose(table[[f"{side}_{n}" for n in names]], np.degrees(legs[:, [0, 1, 2, 3, 5]]), atol=1e-9)
    np.testing.assert_allclose(
        beside[[f"{side}_tibial_rotation", f"{side}_ankle_inversion"]], np.degrees(legs[:, [4, 6]]), atol=1e-9
    )


# Closed chain and set-up geometry -------------------------------------------------------------------------------


def rest(setup, person=STILL_PERSON, sides=("right", "left")):
    """The rest on the pedal of a still person, at 100 Hz."""
    setup = replace(setup, playing_s=3.0, rest_s=1.0)
    session = simulate(
        PhysicsParameters(
            sides=sides, both_at_once=True, rate_hz=100.0, errors=PERFECT, moves=(), ranges=(), end_checks=False,
            person=person, setups=(setup,),
        )
    )  # fmt: skip
    return session, session.within("rest_on_pedal")


def test_heel_stays_on_its_hinge_when_playing_heel_down(short):
    heel = short.points["right_heel"][short.within("rest_on_pedal") | short.within("playing")]
    assert np.abs(heel - heel[0]).max() < 1e-3
    assert heel[0, 1] == pytest.approx(0.02, abs=1e-3)


def test_ball_stays_and_heel_floats_when_playing_heel_up(heel_up):
    for side in ("right", "left"):
        ball = heel_up.points[f"{side}_ball"][heel_up.within("rest_on_pedal") | heel_up.within("playing")]
        assert np.abs(ball - ball[0]).max() < 1e-3
    heel = heel_up.points["right_heel"]
    assert np.abs(heel[heel_up.within("rest_on_pedal"), 1] - 0.02).max() < 1e-3
    assert heel[heel_up.within("playing"), 1].max() > 0.06


def test_reach_and_spacing_are_as_asked():
    setup = SetupScript(reach_cm=44.0, spacing_cm=52.0, splay_deg=20.0)
    session, at = rest(setup)
    body = SeatedBody(("right",), Lengths(), {})
    assert body.model.body("right_thigh").pos[0] == 0.0, "hip centres stand at x = 0"
    ball = session.points["right_ball"][at], session.points["left_ball"][at]
    np.testing.assert_allclose(ball[0][:, 2] - ball[1][:, 2], 0.52, atol=1e-9)
    foot = session.orientations["right_foot"][at]
    ankle = session.points["right_heel"][at] - foot @ np.array([-0.04, -0.10, 0.0])
    np.testing.assert_allclose(ankle[:, 0], 0.44, atol=1e-9)
    toes = foot[:, :, 0]
    np.testing.assert_allclose(np.degrees(np.arctan2(toes[:, 2], toes[:, 0])), 20.0, atol=1e-9)


STRAIGHT = SetupScript(reach_cm=45.0, spacing_cm=18.0, splay_deg=0.0, pitch_deg=20.0)


def lean_deg(session, at, side="right"):
    up = session.orientations[f"{side}_shank"][at][:, :, 1]
    return np.degrees(np.arctan2(up[:, 0], up[:, 1]))


@pytest.mark.parametrize("pitch", [0.0, 12.0, 24.0])
@pytest.mark.parametrize("reach", [40.0, 45.0])
def test_dorsiflexion_at_rest_is_pitch_plus_lean_of_the_shank(pitch, reach):
    """Plane geometry (heel down, leg straight ahead); tolerance 0.5 deg is ours."""
    session, at = rest(replace(STRAIGHT, pitch_deg=pitch, reach_cm=reach), sides=("right",))
    dorsiflexion = session.truth.right_ankle_dorsiflexion[at]
    np.testing.assert_allclose(dorsiflexion, pitch + lean_deg(session, at), atol=0.5)


def test_five_centimetres_of_reach_and_of_throne():
    """Two-link plane figures for thigh 43, shank 42, ankle 10 cm: about -7 deg of ankle, about 6.5 deg of hip."""
    values = {}
    for name, setup in {
        "as it is": STRAIGHT,
        "farther": replace(STRAIGHT, reach_cm=50.0),
        "higher": replace(STRAIGHT, seat_change_cm=5.0),
    }.items():
        session, at = rest(setup, sides=("right",))
        values[name] = session.truth[at].mean()
    change = {name: values[name] - values["as it is"] for name in ("farther", "higher")}
    assert change["farther"].right_ankle_dorsiflexion == pytest.approx(-7.0, abs=1.0)
    assert abs(change["farther"].right_hip_flexion) < 1.2
    assert change["higher"].right_hip_flexion == pytest.approx(-6.5, abs=1.0)


def test_a_pedal_out_of_reach_is_refused():
    far = PedalGeometry(hip_height=0.6, reach=0.9, spacing=0.4, pitch=0.3, splay=0.0)
    nothing = np.zeros(1)
    with pytest.raises(ValueError, match="out of the leg's reach"):
        far.leg_angles("right", np.eye(3)[None], nothing, nothing, nothing, False, Lengths())


@pytest.mark.parametrize("side", ["right", "left"])
def test_seated_sole_is_flat_however_the_leg_is_held(side):
    leg = seated_leg(side, 0.61, lean=0.05, adduction=0.04, rotation=-0.06, heading=0.1)
    body = SeatedBody((side,), Lengths(), {})
    positions = np.zeros((1, body.model.nq))
    positions[0, body.leg_index(side)] = leg * leg_signs(side)
    foot = Rotation.from_quat(body.run(positions)[0][f"{side}_foot"][0], scalar_first=True).as_matrix()
    np.testing.assert_allclose(foot[:, 1], (0, 1, 0), atol=1e-9)


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


# The script -----------------------------------------------------------------------------------------------------


def test_session_begins_seated_with_sloping_thigh_and_vertical_shank(short):
    first = short.truth[short.within("still")].mean()
    np.testing.assert_allclose(first.right_hip_flexion, 78.0, atol=1e-6)
    np.testing.assert_allclose(first[["right_ankle_dorsiflexion", "right_hip_rotation"]], 0.0, atol=1e-6)
    assert np.abs(lean_deg(short, short.within("still"))).max() < 1e-6


@pytest.mark.parametrize(
    ("phase", "column", "direction"),
    [
        ("ankle_taps", "right_ankle_dorsiflexion", -1),
        ("knee_kicks", "right_knee_flexion", -1),
        ("thigh_lifts", "right_hip_flexion", 1),
        ("range_dorsiflexion", "right_ankle_dorsiflexion", 1),
        ("range_internal_rotation", "right_hip_rotation", 1),
    ],
)
def test_moves_begin_in_the_agreed_direction_and_come_five_times(short, phase, column, direction):
    curve = direction * short.truth.loc[short.within(phase), column].to_numpy()
    curve = curve - curve[0]
    assert curve.min() > -0.1 * curve.max()
    peaks, _ = find_peaks(curve, height=0.5 * curve.max(), distance=300, plateau_size=1)
    assert len(peaks) == 5


def test_active_ends_are_those_of_the_held_repetitions(short):
    ends = short.repetition_ends
    kept = ends[(ends.motion == "ankle_dorsiflexion") & (ends.phase == "range_dorsiflexion")].end_deg
    assert len(kept) == 5
    assert short.active_end_deg["right"]["ankle_dorsiflexion"] == pytest.approx(kept.iloc[-3:].mean())
    assert 0.2 < kept.std() < 3.5
    assert kept.mean() == pytest.approx(18.0, abs=2.5)
    assert (ends.phase == "end_range").sum() == 2


def test_all_range_moves_reach_their_ends():
    person = Person(repetition_sd_deg=0.0, warm_up_deg=0.0, cross_deg=0.0)
    session = simulate(
        PhysicsParameters(
            sides=("left",), rate_hz=50.0, repetitions=3, moves=(), errors=PERFECT, end_checks=False,
            person=person, setups=(SetupScript(playing_s=3.0),),
        )
    )  # fmt: skip
    expected = {
        "ankle_dorsiflexion": 18.0, "ankle_plantarflexion": 45.0, "hip_flexion": 105.0,
        "hip_internal_rotation": 34.0, "hip_external_rotation": 38.0, "hip_horizontal_abduction": 35.0,
    }  # fmt: skip
    assert session.active_end_deg["left"] == pytest.approx(expected, abs=0.01)


def test_every_stroke_asked_for_is_in_the_ankle(short):
    at = short.within("playing")
    strokes = short.strokes["right"]
    down = -short.truth.right_ankle_dorsiflexion[at].to_numpy()
    peaks, _ = find_peaks(down, prominence=2.0, distance=12)
    assert len(strokes) > 30
    assert len(peaks) == len(strokes)
    times = short.truth.time_s[at].to_numpy()[peaks]
    np.testing.assert_allclose(times, strokes.time_s, atol=0.03)


def test_a_third_of_the_strokes_is_below_eight_degrees():
    starts, lengths, amplitudes = Strokes().draw(3000.0, np.random.default_rng(1))
    assert (amplitudes < 8.0).mean() == pytest.approx(1 / 3, abs=0.03)
    assert amplitudes.min() >= 3.0
    assert amplitudes.max() <= 20.0
    assert np.all(starts[1:] >= starts[:-1] + lengths[:-1]), "strokes must not overlap"
    interval = np.diff(starts)
    assert 1 / 6.2 < interval.min() < 0.2
    assert (interval > 0.8).sum() > 100, "rests between bursts"


def test_slow_wander_has_the_asked_spread():
    t = np.arange(0.0, 20_000.0, 0.5)
    curve = wander(t, 3.0, 40.0, np.random.default_rng(5))
    assert curve.std() == pytest.approx(3.0, rel=0.1)
    assert np.corrcoef(curve[:-20], curve[20:])[0, 1] > 0.7, "10 s apart it has hardly moved"


def test_knee_splay_is_the_asked_change_of_the_thigh(heel_up):
    geometry = SetupScript().geometry(Person().hip_height_m)
    factor = geometry.swivel_per_azimuth("left", Lengths())
    nothing = np.zeros(1)
    square = np.eye(3)[None]
    a, b = (
        geometry.leg_angles("left", square, nothing, nothing, np.array([x]), False, Lengths())
        for x in (0.0, np.radians(3.0) * factor)
    )
    outward = [np.degrees(np.arctan2(-np.sin(x[0, 1]), np.sin(x[0, 0]) * np.cos(x[0, 1]))) for x in (a, b)]
    assert outward[1] - outward[0] == pytest.approx(3.0, abs=0.1)


def test_two_legs_play_at_once_and_the_pelvis_turns_with_them(heel_up):
    assert set(heel_up.clips) == {f"{s}_{p}" for s in ("right", "left") for p in ("foot", "shank", "thigh")} | {
        "pelvis"
    }
    at = heel_up.within("playing")
    pelvis = heel_up.orientations["pelvis"][at][:, :, 0]
    yaw = np.degrees(np.arctan2(-pelvis[:, 2], pelvis[:, 0]))
    assert np.ptp(yaw) > 1.0
    spread = heel_up.truth.hip_spread[at]
    thighs = {s: heel_up.orientations[f"{s}_thigh"][at][:, :, 1] for s in ("right", "left")}
    world = sum(np.degrees(np.arctan2(-k * thighs[s][:, 2], -thighs[s][:, 0])) for s, k in (("right", 1), ("left", -1)))
    assert np.abs(spread - world).max() < 1.0, "spread hardly cares which way the pelvis faces"


def test_one_seed_makes_one_session():
    tiny = replace(HEEL_UP, sides=("right",), setups=(SetupScript(playing_s=4.0),), pelvis_clip=False)
    first = simulate(tiny)
    simulate.cache_clear()
    again, other = simulate(tiny), simulate(replace(tiny, seed=5))
    pd.testing.assert_frame_equal(first.truth, again.truth)
    np.testing.assert_array_equal(first.clips["right_foot"].acc, again.clips["right_foot"].acc)
    assert (first.mounts["right_foot"].rotation.inv() * other.mounts["right_foot"].rotation).magnitude() > 0.05


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


# Tape and folder ------------------------------------------------------------------------------------------------


def test_tape_errors_are_added_to_the_true_geometry(heel_up):
    assert heel_up.setups == heel_up.true_setups
    wrong = simulate(replace(HEEL_UP, tape_sd_cm=0.5, tape_sd_deg=1.0))
    off = wrong.setups[0]["reach_cm"] - wrong.true_setups[0]["reach_cm"]
    assert 0.0 < abs(off) < 2.0
    bare = simulate(replace(HEEL_UP, with_tape=False))
    assert bare.setups == [{"name": "up"}]
    pd.testing.assert_frame_equal(wrong.truth, heel_up.truth)


def test_import_folder_holds_what_was_simulated(short, tmp_path):
    folder = short.write_import_folder(tmp_path / "session")
    text = tomllib.loads((folder / "import.toml").read_text(encoding="utf-8"))
    assert text["units"] == {"acceleration": "m/s^2", "angular_rate": "rad/s"}
    assert [clip["file"] for clip in text["clip"]] == [f"right_{s}.csv" for s in ("foot", "shank", "thigh")]
    assert text["setup"][0]["reach_cm"] == 46.0
    assert [p["name"] for p in text["phase"]] == [p.name for p in short.phases]
    assert all(p["end_s"] > p["start_s"] for p in text["phase"])
    table = pd.read_csv(folder / "right_foot.csv")
    assert list(table) == ["time_s", "acc_x", "acc_y", "acc_z", "gyr_x", "gyr_y", "gyr_z"]
    np.testing.assert_allclose(table[["gyr_x", "gyr_y", "gyr_z"]], short.clips["right_foot"].gyr, atol=1e-8)
    assert np.all(np.diff(table.time_s) > 0)
    with pytest.raises(FileExistsError, match="is not empty"):
        short.write_import_folder(folder)


@pytest.mark.parametrize(("everything", "outcome"), [("1", pytest.fail.Exception), ("0", pytest.skip.Exception)])
def test_a_missing_engine_is_said(monkeypatch, everything, outcome):
    monkeypatch.setitem(sys.modules, "mujoco", None)
    monkeypatch.setenv("FOOTROOM_REQUIRE_ALL", everything)
    with pytest.raises(outcome, match="mujoco is not installed"):
        require_mujoco()
