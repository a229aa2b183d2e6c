"""Forward kinematics of the same leg in the mujoco engine: do the predicted joint angles put the foot on the board?"""

import numpy as np
import pytest
from footroom.analysis.body_size import Body
from footroom.analysis.fit import fit_of
from footroom.analysis.seated_leg import Pedal, Seat, Stroke, stroke_poses
from footroom.logger.models import Participant, Setup
from physics_model import require_mujoco

SETUPS = 1000


def engine_leg(body, hip_height, side):
    """A chain of hinges in ISB order, hip at its place above the floor; x forward, y up, z to the right."""
    import mujoco

    z = (1 if side == "right" else -1) * body.hip_width / 2
    skin = '<geom size="0.01" mass="1"/>'
    hip = '<joint axis="0 0 1"/><joint axis="1 0 0"/><joint axis="0 1 0"/>'
    return mujoco.MjModel.from_xml_string(f"""
    <mujoco><compiler angle="radian"/><worldbody>
      <body name="thigh" pos="0 {hip_height} {z}">{hip}{skin}
        <body name="shank" pos="0 {-body.thigh} 0"><joint axis="0 0 1"/>{skin}
          <body name="foot" pos="0 {-body.shank} 0"><joint axis="0 0 1"/><joint axis="1 0 0"/>{skin}</body>
        </body></body></worldbody></mujoco>""")


def between_deg(a, b):
    return np.degrees(np.arctan2(np.linalg.norm(np.cross(a, b)), a @ b))


def test_a_knee_turned_to_clear_a_drum_leaves_the_engines_foot_on_the_board():
    """The same check where the turn comes from the map: foot and line as the tape has them, the knee out of the way."""
    require_mujoco()
    import mujoco

    person = Participant(id="wigeon", stature_cm=172)
    setup = Setup(
        name="a", throne_height_cm=50, reach_cm=44, spacing_cm=46, footboard_pitch_deg=20, foot_splay_deg=14,
        snare_diameter_in=14, snare_forward_cm=40, snare_rim_cm=70,
    )  # fmt: skip
    for reach in (42.0, 46.0, 52.0):
        fit = fit_of(person, setup.model_copy(update={"reach_cm": reach}))
        for side, sign in (("right", 1), ("left", -1)):
            pose, pedal = fit.poses(side)["rest"], fit.legs[side].pedal
            assert np.degrees(fit.turn(side)) > 10
            data = mujoco.MjData(model := engine_leg(fit.body, fit.hip_height, side))
            data.qpos[:] = qpos(pose, sign)
            mujoco.mj_kinematics(model, data)
            hip, knee, foot = (data.body(name).xpos for name in ("thigh", "shank", "foot"))
            assert between_deg(data.body("foot").xmat.reshape(3, 3)[:, 1], board_normal(pedal.pitch, pedal, sign)) < 0.1
            assert (foot - hip)[0] == pytest.approx(reach / 100, abs=1e-6)
            over_the_drum = np.linspace(0, 1, 200)[:, None] * (knee - hip) + hip
            here = over_the_drum[over_the_drum[:, 1] > 0.70 - 0.14]  # the shell is 5.5 in deep
            away = np.hypot(here[:, 0] - 0.40, here[:, 2]) - 0.1778
            assert away.min() > 0.7 * fit.body.thigh_radius - 0.001, "at least as far as the thigh is thick at the knee"


def qpos(pose, sign):
    return [
        pose.hip_flexion, sign * pose.hip_adduction, sign * pose.hip_rotation,
        -pose.knee_flexion, pose.ankle_dorsiflexion, sign * pose.ankle_inversion,
    ]  # fmt: skip


def board_normal(tip, pedal, sign):
    return np.array([-np.sin(tip) * np.cos(pedal.splay), np.cos(tip), -sign * np.sin(tip) * np.sin(pedal.splay)])


def test_predicted_angles_put_the_engines_foot_on_the_board_in_a_thousand_set_ups():
    """Agreement within 0.1 deg (asked for) of the sole with the board and of the hip-ankle line with the tape."""
    require_mujoco()
    import mujoco

    rng = np.random.default_rng(20)
    worst, placed, tried = 0.0, 0, 0
    while placed < SETUPS:
        tried += 1
        body = Body(*rng.uniform((0.34, 0.34, 0.05, 0.10, 0.05, 0.13), (0.52, 0.50, 0.09, 0.15, 0.09, 0.21)))
        seat = Seat(rng.uniform(0.38, 0.62), 0.0)
        pedal = Pedal(
            rng.uniform(0.05, 0.6), rng.uniform(-0.2, 0.7), rng.uniform(0, 0.04), rng.uniform(0, 0.04),
            rng.uniform(0, 0.012),
        )  # fmt: skip
        reach, spacing, swivel = rng.uniform(0.3, 0.7), rng.uniform(0.2, 0.8), rng.uniform(-0.3, 0.3)
        side = ("right", "left")[placed % 2]
        stroke = Stroke(("heel-down", "heel-up")[placed // 2 % 2])
        poses = stroke_poses(body, seat, pedal, reach, spacing, stroke, swivel=swivel)
        if not all(np.isfinite(pose.hip_flexion) for pose in poses.values()):
            continue
        placed += 1
        sign = 1 if side == "right" else -1
        model = engine_leg(body, seat.height + body.hip_above_seat, side)
        data = mujoco.MjData(model)
        for name, pose in poses.items():
            data.qpos[:] = qpos(pose, sign)
            mujoco.mj_kinematics(model, data)
            _, sole = stroke.poses(pedal.pitch)[name]
            tip = sole - pedal.drop_angle(body)
            normal = board_normal(tip, pedal, sign)
            engine_normal = data.body("foot").xmat.reshape(3, 3)[:, 1]
            line = data.body("foot").xpos - data.body("thigh").xpos
            taped = np.array(pose.ankle) * (1, 1, sign)
            worst = max(worst, between_deg(engine_normal, normal), between_deg(line, taped))
            if name == "rest" and stroke.way == "heel-down":
                assert abs(line[0] - reach) < 1e-9
        if placed % 250 == 0:
            assert worst < 0.1
    assert worst < 0.1
    assert tried < 3 * SETUPS, "most set-ups can be sat on"
