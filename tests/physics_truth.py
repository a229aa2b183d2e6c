"""Joint angles from body orientations by the textbook formulas: the truth the tests compare with.

ISB recommendation, Wu et al. 2002, J Biomech 35:543-548: x anterior, y proximal, z to the person's right;
Cardan Z-X'-Y''. Written from that text alone, so that it checks the package instead of repeating it.
"""

import numpy as np
import pandas as pd


def cardan_zxy(rotation):
    """Angles (a, b, c) [rad] of R = Rz(a) Rx(b) Ry(c); `rotation` (..., 3, 3) is distal in proximal."""
    a = np.arctan2(-rotation[..., 0, 1], rotation[..., 1, 1])
    b = np.arcsin(np.clip(rotation[..., 2, 1], -1.0, 1.0))
    c = np.arctan2(-rotation[..., 2, 0], rotation[..., 2, 2])
    return a, b, c


def relative(proximal, distal):
    """Rotation of the distal segment in the proximal one, from world orientations (n, 3, 3)."""
    return np.einsum("nji,njk->nik", proximal, distal)


def joint_columns(side, pelvis, thigh, shank, foot):
    """Every angle of one leg [deg], clinical signs on both sides, from world orientations (n, 3, 3)."""
    sign = 1.0 if side == "right" else -1.0
    hip = relative(pelvis, thigh)
    flexion, adduction, rotation = cardan_zxy(hip)
    knee_z, _, knee_y = cardan_zxy(relative(thigh, shank))
    dorsiflexion, inversion, _ = cardan_zxy(relative(shank, foot))
    kneeward = -hip[..., :, 1]
    outward = np.arctan2(sign * kneeward[..., 2], kneeward[..., 0])
    columns = {
        "ankle_dorsiflexion": dorsiflexion,
        "knee_flexion": -knee_z,
        "hip_flexion": flexion,
        "hip_adduction": sign * adduction,
        "hip_rotation": sign * rotation,
        "hip_horizontal_abduction": outward,
    }
    beside = {"tibial_rotation": sign * knee_y, "ankle_inversion": sign * inversion}
    return (
        {f"{side}_{name}": np.degrees(value) for name, value in columns.items()},
        {f"{side}_{name}": np.degrees(value) for name, value in beside.items()},
    )


def truth_table(time_s, orientations):
    """`time_s` and the angle columns, and a second table with what the columns leave out (tibial rotation, inversion).

    `orientations` maps "pelvis", "right_thigh", ... to (n, 3, 3) world orientations.
    """
    table, beside = {"time_s": time_s}, {"time_s": time_s}
    sides = [side for side in ("right", "left") if f"{side}_thigh" in orientations]
    for side in sides:
        parts = (orientations[f"{side}_{segment}"] for segment in ("thigh", "shank", "foot"))
        columns, more = joint_columns(side, orientations["pelvis"], *parts)
        table.update(columns)
        beside.update(more)
    if len(sides) == 2:
        table["hip_spread"] = table["right_hip_horizontal_abduction"] + table["left_hip_horizontal_abduction"]
    return pd.DataFrame(table), pd.DataFrame(beside)
