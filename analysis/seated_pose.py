"""One seated leg in one pose: its axes and points, and the joint angles that follow from them when asked for.

Coordinates as in `seated_leg`: x forward, y up, w outward, from the hip centre [m], alike on both sides. Joint angles
are ISB Cardan Z-X'-Y'' (Wu et al. 2002, J Biomech 35:543-548) with clinical signs.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Vector = tuple[Array, Array, Array]
"""Components forward, up, outward; arrays of the positions' shape."""


@dataclass(frozen=True)
class Pose:
    """One leg in one pose; arrays of the positions' shape, NaN where the leg cannot be.

    knee, ankle, ball : points from the hip centre [m]. thigh, shank : their upward axes; hinge : the knee's, outward.
    sole : the bare foot's upward axis. torso_lean : of the trunk [rad].
    Angles [rad] have clinical signs; each is worked out when it is asked for.
    """

    knee: Vector
    ankle: Vector
    ball: Vector
    thigh: Vector
    shank: Vector
    hinge: Vector
    sole: tuple[float, float, float]
    torso_lean: float

    @cached_property
    def _in_trunk(self) -> Vector:
        """The thigh's upward axis in the trunk's own axes."""
        return _turned(self.thigh, self.torso_lean)

    @cached_property
    def hip_flexion(self) -> Array:
        """Of the thigh against the trunk."""
        x, y, _ = self._in_trunk
        return np.arctan2(-x, y)

    @cached_property
    def hip_adduction(self) -> Array:
        """Negative outward."""
        return np.arcsin(np.clip(self.thigh[2], -1.0, 1.0))

    @cached_property
    def hip_rotation(self) -> Array:
        """Internal positive."""
        x, y, _ = self._in_trunk
        hinge_x, hinge_y, hinge_w = _turned(self.hinge, self.torso_lean)
        return np.arctan2(y * hinge_x - x * hinge_y, hinge_w)

    @cached_property
    def hip_horizontal_abduction(self) -> Array:
        """Azimuth of the thigh, outward positive."""
        x, _, w = self._in_trunk
        return np.arctan2(-w, -x)

    @cached_property
    def knee_flexion(self) -> Array:
        """0 = straight."""
        t, s = self.thigh, self.shank
        return np.arccos(np.clip(t[0] * s[0] + t[1] * s[1] + t[2] * s[2], -1.0, 1.0))

    @cached_property
    def ankle_dorsiflexion(self) -> Array:
        """First Cardan angle of the foot in the shank; 0 = bare sole square to the shank."""
        f, s, z = self.sole, self.shank, self.hinge
        ahead = (
            f[0] * (s[1] * z[2] - s[2] * z[1]) + f[1] * (s[2] * z[0] - s[0] * z[2]) + f[2] * (s[0] * z[1] - s[1] * z[0])
        )
        return np.arctan2(-ahead, f[0] * s[0] + f[1] * s[1] + f[2] * s[2])

    @cached_property
    def ankle_inversion(self) -> Array:
        """Second Cardan angle of the foot in the shank."""
        f, z = self.sole, self.hinge
        return np.arcsin(np.clip(f[0] * z[0] + f[1] * z[1] + f[2] * z[2], -1.0, 1.0))

    @cached_property
    def thigh_slope(self) -> Array:
        """Knee above hip positive."""
        return np.arcsin(np.clip(-self.thigh[1], -1.0, 1.0))

    @cached_property
    def torso_thigh(self) -> Array:
        """Between the trunk and the thigh; 90 deg = square."""
        return np.arccos(np.clip(-self._in_trunk[1], -1.0, 1.0))

    @cached_property
    def shank_lean(self) -> Array:
        """Knee ahead of the ankle positive."""
        return np.arctan2(self.shank[0], self.shank[1])

    @cached_property
    def side_tilt(self) -> Array:
        """Of the shank in the frontal plane, knee outward positive."""
        return np.arctan2(self.shank[2], self.shank[1])


ANGLES: tuple[str, ...] = (
    "hip_flexion",
    "hip_adduction",
    "hip_rotation",
    "hip_horizontal_abduction",
    "knee_flexion",
    "ankle_dorsiflexion",
    "ankle_inversion",
    "thigh_slope",
    "torso_thigh",
    "shank_lean",
    "side_tilt",
)


def _turned(v: Vector, lean: float) -> Vector:
    """Components of a vector in axes that lean forward [rad]."""
    if lean == 0.0:
        return v
    c, s = np.cos(lean), np.sin(lean)
    return c * v[0] - s * v[1], s * v[0] + c * v[1], v[2]


def degrees(pose: Pose) -> dict[str, Array]:
    """The angles of a pose, {name: [deg]}."""
    return {name: np.degrees(getattr(pose, name)) for name in ANGLES}
