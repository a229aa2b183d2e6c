"""The truth formulas of the physics leg, held against published vectors and the engine itself.

Angle vectors: facts of the project, section "ISB joint coordinate systems" (computed with scipy from Wu et al. 2002,
J Biomech 35:543-548).
"""

import numpy as np
import pytest
from physics_model import Lengths, SeatedBody, leg_signs, require_mujoco
from physics_truth import cardan_zxy, joint_columns, truth_table
from scipy.spatial.transform import Rotation


@pytest.fixture(autouse=True)
def _engine():
    require_mujoco()


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
