"""Joint angles by ISB conventions from segment axes, in degrees.

Joint rotations are Cardan Z-X'-Y'' of the distal segment in the proximal one (Wu et al. 2002, J Biomech 35:543-548;
Grood & Suntay 1983, J Biomech Eng 105:136-144). Adduction and internal rotation are positive on both sides (the second
and third angle are negated on the left); knee flexion is positive, which is minus the Z rotation.
Vectors of a body frame have components forward, up, right (ISB x, y, z).
"""

from __future__ import annotations

from typing import Literal

import numpy as np

from .segments import SegmentAxes, about_up, cross
from .timebase import Floats

EARTH_TO_BODY = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, 1.0], [0.0, -1.0, 0.0]])
"""Rows forward, up, right in an earth frame whose x points forward and z up."""
MIN_KNEE_FOR_ROTATION_DEG = 30.0
"""With a straighter knee the shank says nothing about hip rotation [deg]."""


def cardan_zxy(x: Floats, y: Floats, z: Floats) -> tuple[Floats, Floats, Floats]:
    """Cardan Z-X'-Y'' angles [deg] of a frame given by its axes (n, 3) in the proximal frame's components.

    With R = [x y z]: a = atan2(-R01, R11), b = asin(R21), c = atan2(-R20, R22); singular at b = +-90 deg.
    """
    a = np.arctan2(-y[:, 0], y[:, 1])
    b = np.arcsin(np.clip(y[:, 2], -1.0, 1.0))
    c = np.arctan2(-x[:, 2], z[:, 2])
    return np.degrees(a), np.degrees(b), np.degrees(c)


def ankle_dorsiflexion(shank: SegmentAxes, foot: SegmentAxes, foot_heading: Floats) -> Floats:
    """(n,) ankle dorsiflexion [deg]: first Cardan angle of the foot in the shank.

    foot_heading : (n,) how far the foot's earth frame is turned against the shank's, taken back here [rad].
    """
    y_foot = about_up(-foot_heading, foot.y)
    along_x = np.einsum("ij,ij->i", shank.x, y_foot)
    along_y = np.einsum("ij,ij->i", shank.y, y_foot)
    return np.degrees(np.arctan2(-along_x, along_y))


def knee_flexion(y_thigh: Floats, y_shank: Floats) -> Floats:
    """(n,) knee flexion [deg]: the angle between the long axes of thigh and shank (0 = straight).

    y_thigh, y_shank : (n, 3) proximal unit vectors in one frame. Equal to minus the Z rotation when the knee neither
    opens sideways nor twists the plane of the two axes.
    """
    return np.degrees(np.arccos(np.clip(np.einsum("ij,ij->i", y_thigh, y_shank), -1.0, 1.0)))


def hip_angles(y_thigh: Floats, y_shank: Floats, side: Literal["right", "left"]) -> tuple[Floats, Floats, Floats]:
    """Hip flexion, adduction and internal rotation [deg], each (n,), of the thigh in the pelvis (body) frame.

    y_thigh, y_shank : (n, 3) proximal unit vectors, components forward, up, right.
    The rotation is that of the plane of thigh and shank about the thigh's long axis: skin drags a thigh clip's own
    roll behind the bone. It is NaN while the knee is straighter than `MIN_KNEE_FOR_ROTATION_DEG`.
    """
    across = cross(y_shank, y_thigh)
    length = np.sqrt(np.einsum("ij,ij->i", across, across))[:, None]
    with np.errstate(invalid="ignore", divide="ignore"):
        z = np.where(length > 1e-9, across / length, np.nan)
    flexion, adduction, rotation = cardan_zxy(cross(y_thigh, z), y_thigh, z)
    bent = length[:, 0] > np.sin(np.radians(MIN_KNEE_FOR_ROTATION_DEG))
    open_knee = np.einsum("ij,ij->i", y_thigh, y_shank) < 0  # beyond 90 deg of flexion the sine falls again
    rotation = np.where(bent | open_knee, rotation, np.nan)
    mirror = 1.0 if side == "right" else -1.0
    return flexion, mirror * adduction, mirror * rotation


def horizontal_abduction(y_thigh: Floats, side: Literal["right", "left"]) -> Floats:
    """(n,) azimuth of the thigh in the pelvis' transverse plane, outward positive on both sides [deg].

    y_thigh : (n, 3) proximal unit vector, components forward, up, right. Undefined (meaningless) for a hanging thigh.
    Kinesiology textbooks' term, common practice, no source.
    """
    outward = -y_thigh[:, 2] if side == "right" else y_thigh[:, 2]
    return np.degrees(np.arctan2(outward, -y_thigh[:, 0]))
