"""Leg angles for poses that are given by their contacts: a foot on a pedal board, a foot flat on the floor.

Angles are clinical (`LEG_JOINTS` order, the same meaning on both sides) in radians; the world as in `physics_model.py`.
"""

from dataclasses import dataclass

import numpy as np
from physics_model import ANKLE_ABOVE_SOLE, BALL, HEEL, Lengths, leg_signs, side_sign


def turn(axis, angle):
    """Rotation matrices (n, 3, 3) about "x", "y" or "z" by angle (n,) [rad]."""
    c, s = np.cos(angle), np.sin(angle)
    out = np.zeros((*np.shape(angle), 3, 3))
    i, j = {"x": (1, 2), "y": (2, 0), "z": (0, 1)}[axis]
    k = 3 - i - j
    out[..., k, k] = 1.0
    out[..., i, i] = out[..., j, j] = c
    out[..., i, j], out[..., j, i] = -s, s
    return out


def pelvis_orientation(yaw, roll, tilt):
    """World orientation (n, 3, 3) of the pelvis: yaw about y, then roll about x, then tilt about z."""
    return turn("y", yaw) @ turn("x", roll) @ turn("z", tilt)


def foot_orientation(side, heading, pitch):
    """World orientation of a foot: `heading` outward positive, `pitch` toes up positive [rad]."""
    return turn("y", -side_sign(side) * heading) @ turn("z", pitch)


def close_chain(side, pelvis, hip, foot, ankle, swivel, lengths):
    """Leg angles (n, 7) that put a foot of orientation `foot` with its ankle centre at `ankle` under the hip.

    The knee's place on its circle about the hip-ankle line is `swivel` [rad], 0 = in the vertical plane through that
    line, outward positive. The shank's turn about its own axis and the ankle's inversion follow, the ankle itself
    having no turn about the shank.
    """
    line = ankle - hip
    distance = np.linalg.norm(line, axis=-1, keepdims=True)
    if np.any(distance > lengths.thigh + lengths.shank - 1e-3):
        raise ValueError("the foot is out of the leg's reach: a nearer pedal or a lower seat is needed")
    u = line / distance
    along = (lengths.thigh**2 - lengths.shank**2 + distance**2) / (2.0 * distance)
    aside = np.sqrt(lengths.thigh**2 - along**2)
    up = np.array([0.0, 1.0, 0.0]) - u[:, 1:2] * u
    up /= np.linalg.norm(up, axis=-1, keepdims=True)
    right = np.cross(u, up)
    swivel = np.broadcast_to(swivel, (len(hip),))[:, None]
    knee = hip + along * u + aside * (np.cos(swivel) * up + side_sign(side) * np.sin(swivel) * right)
    thigh_y = (hip - knee) / lengths.thigh
    shank_y = (knee - ankle) / lengths.shank
    z = np.cross(shank_y, thigh_y)
    z /= np.linalg.norm(z, axis=-1, keepdims=True)
    thigh = np.stack([np.cross(thigh_y, z), thigh_y, z], axis=-1)
    shank = np.stack([np.cross(shank_y, z), shank_y, z], axis=-1)
    hip_rotation = np.swapaxes(pelvis, -1, -2) @ thigh
    out = np.empty((len(hip), 7))
    out[:, 0] = np.arctan2(-hip_rotation[:, 0, 1], hip_rotation[:, 1, 1])
    out[:, 1] = np.arcsin(np.clip(hip_rotation[:, 2, 1], -1, 1))
    out[:, 2] = np.arctan2(-hip_rotation[:, 2, 0], hip_rotation[:, 2, 2])
    out[:, 3] = -np.arccos(np.clip(np.sum(thigh_y * shank_y, axis=-1), -1, 1))
    out[:, 4:] = _below_the_knee(shank, foot)
    return out * leg_signs(side)


def _below_the_knee(shank, foot):
    """Engine angles (tibial rotation, dorsiflexion, inversion) of Ry Rz Rx = foot in the unturned shank."""
    r = np.swapaxes(shank, -1, -2) @ foot
    return np.stack(
        [
            np.arctan2(-r[..., 2, 0], r[..., 0, 0]),
            np.arcsin(np.clip(r[..., 1, 0], -1, 1)),
            np.arctan2(-r[..., 1, 2], r[..., 1, 1]),
        ],
        axis=-1,
    )


@dataclass(frozen=True)
class PedalGeometry:
    """Where a foot rests [m, rad]: `reach` hip to ankle centre straight ahead, `spacing` ball to ball, both at rest.

    The heel hinge (and the heel) stands `heel_plate` above the floor; `pitch` is the board's, toes up.
    """

    hip_height: float
    reach: float
    spacing: float
    pitch: float
    splay: float
    heel_plate: float = 0.02

    def ankle_at_rest(self, side):
        """World position (3,) of the ankle centre, the foot relaxed on the board."""
        rest = foot_orientation(side, np.array(self.splay), np.array(self.pitch))
        z = side_sign(side) * self.spacing / 2.0 - (rest @ BALL)[2]
        return np.array([self.reach, self.heel_plate - (rest @ HEEL)[1], z])

    def swivel_per_azimuth(self, side, lengths):
        """How far the knee turns about the hip-ankle line when the thigh's azimuth changes by one, foot at rest."""
        step = np.array([-0.01, 0.01])
        nothing = np.zeros(2)
        pelvis = np.broadcast_to(np.eye(3), (2, 3, 3))
        leg = self.leg_angles(side, pelvis, nothing, nothing, step, False, lengths)
        azimuth = np.arctan2(-np.sin(leg[:, 1]), np.sin(leg[:, 0]) * np.cos(leg[:, 1]))
        return float(np.ptp(step) / np.ptp(azimuth))

    def leg_angles(self, side, pelvis, drop, heading, swivel, heel_up, lengths):
        """Leg angles (n, 7) while the foot turns by `drop` [rad, toes down] about the heel hinge, or about the ball.

        `heading` [rad] adds to the splay, about the same point. `pelvis` (n, 3, 3) turns about the middle of the hips.
        """
        anchor = BALL if heel_up else HEEL
        rest = foot_orientation(side, np.array(self.splay), np.array(self.pitch))
        fixed = self.ankle_at_rest(side) + rest @ anchor
        foot = foot_orientation(side, self.splay + heading, self.pitch - drop)
        hip = pelvis @ np.array([0.0, 0.0, side_sign(side) * lengths.hip_half_width])
        hip[:, 1] += self.hip_height
        return close_chain(side, pelvis, hip, foot, fixed - foot @ anchor, swivel, lengths)


def seated_leg(side, hip_height, lengths=None, lean=0.0, adduction=0.0, rotation=0.0, heading=0.0):
    """Leg angles (7,) with the sole flat on the floor, the shank vertical but for `lean` (forward) [rad]."""
    lengths = lengths or Lengths()
    knee_height = ANKLE_ABOVE_SOLE + lengths.shank * np.cos(lean)
    slope = np.arcsin((knee_height - hip_height) / lengths.thigh)
    leg = np.zeros(7)
    leg[:4] = np.pi / 2 + slope, adduction, rotation, np.pi / 2 + slope + lean
    engine = leg * leg_signs(side)
    shank = turn("z", engine[0]) @ turn("x", engine[1]) @ turn("y", engine[2]) @ turn("z", engine[3])
    engine[4:] = _below_the_knee(shank, foot_orientation(side, np.array(heading), np.array(0.0)))
    return engine * leg_signs(side)
