"""Where the knee is over the foot, seen from in front: side tilt of the shank, and the knee's offset in cm.

From hip and knee angles in the pelvis' frame (Cardan Z-X'-Y'', Wu et al. 2002), so with the pelvis level; a pelvis that
leans to the side goes into the tilt one to one.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def shank_side_tilt(hip_flexion: Floats, hip_adduction: Floats, hip_rotation: Floats, knee_flexion: Floats) -> Floats:
    """Tilt of the shank to the side, (n,) [deg]: positive with the knee farther out than the ankle, on both sides.

    (n,) each [deg], clinical signs (adduction, internal rotation and knee flexion positive); NaN stays NaN.
    """
    a, b, c, k = (np.radians(angle) for angle in (hip_flexion, hip_adduction, hip_rotation, knee_flexion))
    forward, along = np.sin(k), np.cos(k)  # the shank's long axis, knee-ward, in the thigh's frame
    up = (np.sin(a) * np.cos(c) + np.cos(a) * np.sin(b) * np.sin(c)) * forward + np.cos(a) * np.cos(b) * along
    out = -np.cos(b) * np.sin(c) * forward + np.sin(b) * along
    return np.degrees(np.arctan2(out, up))


def side_tilt_half_width(angles_deg: Sequence[Floats], half_widths_deg: Sequence[Floats]) -> Floats:
    """95 % half-width of the tilt, (n,) [deg]: each angle's carried through, the four taken as independent.

    angles_deg, half_widths_deg : (n,) each, in the order of `shank_side_tilt` [deg]. Heading hardly matters to a shank
    that stands: only as far as it leans.
    """
    base = shank_side_tilt(*angles_deg)
    total = np.zeros_like(base)
    for i, half in enumerate(half_widths_deg):
        moved = [angle + half if j == i else angle for j, angle in enumerate(angles_deg)]
        total += np.square(shank_side_tilt(*moved) - base)
    return np.sqrt(total)


def knee_offset_cm(side_tilt_deg: Floats, shank_length_cm: float) -> Floats:
    """How far the knee is outward of the ankle, (n,) [cm], by a shank that stands upright but for the tilt."""
    return shank_length_cm * np.sin(np.radians(side_tilt_deg))
