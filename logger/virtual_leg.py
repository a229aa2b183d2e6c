"""The seated leg as a kinematic chain: from throne and pedal to joint angles, and back. Pure; imports nothing of ours.

Everything here is in SI units and radians. World frame, like every segment frame, follows ISB (Wu et al. 2002,
doi 10.1016/S0021-9290(01)00222-6): x forward, y up (proximal), z to the person's right. A rotation matrix turns
segment coordinates into world coordinates (its columns are the segment's axes). All segments are aligned with the
world in the neutral pose (standing). Joint angles are Cardan Z-X'-Y'' of the distal in the proximal segment, with
clinical signs on both sides: dorsiflexion, hip and knee flexion, adduction, inversion and internal rotation are
positive on the right AND the left leg (the second and third angle are negated on the left).

The chain is closed on the pedal: the hip centre is where the throne puts it, the foot is where the board puts it, and
the knee lies on a circle about the line from hip to ankle. Where on the circle is the one free variable (`swivel`).
Heel-down the foot turns about the heel, with the board; heel-up the ball stays on the board and the heel floats.
"""

from __future__ import annotations

from dataclasses import astuple, dataclass, fields
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Side = Literal["right", "left"]


@dataclass(frozen=True)
class LegSize:
    """Lengths of a leg [m].

    ankle_height : ankle centre above the sole. ball_to_ankle, heel_to_ankle : from below the ankle centre forward to
    the ball and back to the heel, along the sole. hip_width : between the two hip centres.
    """

    thigh: float
    shank: float
    ankle_height: float
    ball_to_ankle: float
    heel_to_ankle: float
    hip_width: float

    @classmethod
    def from_stature(cls, stature: float, shoe: float = 0.025) -> LegSize:
        """A leg from stature [m] and the height of the shoe's heel [m]; a prior, never truth.

        Thigh 0.245, shank 0.246, ankle height 0.039, foot length 0.152, hip breadth 0.191 of stature: Drillis &
        Contini 1966, as in Winter 2009, Fig 4.1. Ball 0.47 and heel 0.2 of foot length from the ankle, hip centres
        half the hip breadth apart: ours, from memory.
        """
        foot = 0.152 * stature
        return cls(0.245 * stature, 0.246 * stature, 0.039 * stature + shoe, 0.47 * foot, 0.2 * foot, 0.0955 * stature)


@dataclass(frozen=True)
class PedalPlace:
    """Where one pedal stands, seen from the throne.

    hip_height : hip centre above the floor [m] (loaded seat height + hip centre above the seat). reach : hip centre to
    ankle centre, straight ahead, foot at rest on the board [m]. spacing : ball to ball of the two feet [m].
    pitch : board above horizontal at rest, toes up [rad]. splay : toes outward [rad]. heel_plate : height of the
    heel's support above the floor [m].
    """

    hip_height: float
    reach: float
    spacing: float
    pitch: float
    splay: float = 0.0
    heel_plate: float = 0.0


@dataclass(frozen=True)
class LegAngles:
    """Joint angles of one leg, (n,) each [rad]; signs as said at the head of this file."""

    hip_flexion: Array
    hip_adduction: Array
    hip_rotation: Array
    knee_flexion: Array
    knee_rotation: Array
    ankle_dorsiflexion: Array
    ankle_inversion: Array
    ankle_rotation: Array

    def as_array(self) -> Array:
        """(n, 8), in the order of the fields [rad]."""
        return np.stack(np.broadcast_arrays(*(np.atleast_1d(angle) for angle in astuple(self))), axis=1)

    @classmethod
    def from_array(cls, angles: ArrayLike) -> LegAngles:
        """The inverse of `as_array`. Raises ValueError when the last axis is not 8 long."""
        columns = np.atleast_2d(np.asarray(angles, dtype=float))
        if columns.shape[-1] != len(ANGLE_NAMES):
            raise ValueError(f"leg angles need {len(ANGLE_NAMES)} columns, got {columns.shape[-1]}")
        return cls(*(columns[:, i] for i in range(len(ANGLE_NAMES))))

    @property
    def hip_horizontal_abduction(self) -> Array:
        """Azimuth of the thigh in the pelvis' transverse plane, outward positive, (n,) [rad]."""
        return horizontal_abduction(self.hip_flexion, self.hip_adduction)


ANGLE_NAMES: tuple[str, ...] = tuple(field.name for field in fields(LegAngles))


@dataclass(frozen=True)
class LegPose:
    """Where the segments of one leg are: rotations (n, 3, 3), segment to world; points (n, 3) in the world [m]."""

    side: Side
    pelvis: Array
    thigh: Array
    shank: Array
    foot: Array
    hip: Array
    knee: Array
    ankle: Array
    ball: Array
    heel: Array


def outward(side: Side) -> float:
    """+1 on the right leg, -1 on the left: the sign of z that points away from the body's middle."""
    return 1.0 if side == "right" else -1.0


def cardan_matrix(first: ArrayLike, second: ArrayLike, third: ArrayLike) -> Array:
    """Rz(first) Rx(second) Ry(third), (n, 3, 3), from angles [rad] that broadcast to (n,)."""
    a, b, c = np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, dtype=float)) for x in (first, second, third)))
    sa, ca, sb, cb, sc, cc = np.sin(a), np.cos(a), np.sin(b), np.cos(b), np.sin(c), np.cos(c)
    out = np.empty((len(a), 3, 3))
    out[:, 0, 0], out[:, 0, 1], out[:, 0, 2] = ca * cc - sa * sb * sc, -sa * cb, ca * sc + sa * sb * cc
    out[:, 1, 0], out[:, 1, 1], out[:, 1, 2] = sa * cc + ca * sb * sc, ca * cb, sa * sc - ca * sb * cc
    out[:, 2, 0], out[:, 2, 1], out[:, 2, 2] = -cb * sc, sb, cb * cc
    return out


def cardan_angles(rotation: Array) -> tuple[Array, Array, Array]:
    """The angles of `cardan_matrix`, (n,) each [rad]; the second within +-pi/2, singular at its ends.

    Closed form: a = atan2(-R01, R11), b = asin(R21), c = atan2(-R20, R22).
    """
    r = np.asarray(rotation, dtype=float).reshape(-1, 3, 3)
    first = np.arctan2(-r[:, 0, 1], r[:, 1, 1])
    second = np.arcsin(np.clip(r[:, 2, 1], -1.0, 1.0))
    return first, second, np.arctan2(-r[:, 2, 0], r[:, 2, 2])


def horizontal_abduction(flexion: ArrayLike, adduction: ArrayLike) -> Array:
    """Azimuth of the thigh's knee-ward axis in the pelvis' transverse plane [rad], outward positive on both sides.

    tan h = -tan(adduction) / sin(flexion). Undefined (0 is returned) for a thigh that hangs straight down.
    """
    a, b = np.asarray(flexion, dtype=float), np.asarray(adduction, dtype=float)
    return np.arctan2(-np.sin(b), np.sin(a) * np.cos(b))


def thigh_angles(slope: ArrayLike, azimuth: ArrayLike) -> tuple[Array, Array]:
    """Hip flexion and adduction [rad] that point the thigh `slope` above horizontal and `azimuth` outward [rad]."""
    e, h = np.asarray(slope, dtype=float), np.asarray(azimuth, dtype=float)
    return np.arctan2(np.cos(e) * np.cos(h), -np.sin(e)), -np.arcsin(np.cos(e) * np.sin(h))


def foot_rotation(pitch: ArrayLike, splay: ArrayLike, side: Side, roll: ArrayLike = 0.0) -> Array:
    """The foot in the world, (n, 3, 3): toes `pitch` up, `splay` outward, sole rolled inward by `roll` [rad]."""
    sign = outward(side)
    turned = -sign * np.asarray(splay, dtype=float)
    return cardan_matrix(0.0, 0.0, turned) @ cardan_matrix(pitch, sign * np.asarray(roll, dtype=float), 0.0)


def resting_heel(place: PedalPlace, size: LegSize, side: Side) -> Array:
    """The heel's fixed point in the world, (3,) [m]: the ankle is `reach` ahead, the ball half the spacing outward."""
    board = foot_rotation(place.pitch, place.splay, side)[0]
    to_ankle = board @ np.array([size.heel_to_ankle, size.ankle_height, 0.0])
    to_ball = board @ np.array([size.heel_to_ankle + size.ball_to_ankle, 0.0, 0.0])
    return np.array([place.reach - to_ankle[0], place.heel_plate, outward(side) * place.spacing / 2 - to_ball[2]])


def leg_on_pedal(
    place: PedalPlace,
    size: LegSize,
    side: Side,
    *,
    board_pitch: ArrayLike | None = None,
    foot_pitch: ArrayLike | None = None,
    foot_splay: ArrayLike | None = None,
    swivel: ArrayLike = 0.0,
    tibial_rotation: ArrayLike = 0.0,
    hip_shift: ArrayLike = (0.0, 0.0, 0.0),
    pelvis: ArrayLike | None = None,
) -> LegPose:
    """The closed chain: hip on the throne, foot on the board, knee where the two segments meet.

    Everything but `place`, `size` and `side` is one number or (n,) [rad].
    board_pitch : of the board now; default its rest. The board turns about the heel's fixed point.
    foot_pitch : of the sole now; default the board's (heel-down). Smaller: heel-up, the ball stays on the board.
    foot_splay : heading of the foot now, about the ball; default the pedal's.
    swivel : the knee turned outward about the line from hip to ankle; 0 = knee in the vertical plane of that line.
    tibial_rotation : internal, at the knee.
    hip_shift : (3,) or (n, 3) [m], from the nominal hip centre (sliding on the throne).
    pelvis : (3, 3) or (n, 3, 3), default upright and facing ahead. It does not move the hip centres.

    Raises ValueError when the leg does not reach the pedal, or is folded or stretched flat.
    """
    sign = outward(side)
    board = np.atleast_1d(np.asarray(place.pitch if board_pitch is None else board_pitch, dtype=float))
    sole = board if foot_pitch is None else np.atleast_1d(np.asarray(foot_pitch, dtype=float))
    heading = np.atleast_1d(np.asarray(place.splay if foot_splay is None else foot_splay, dtype=float))
    turn = np.atleast_1d(np.asarray(swivel, dtype=float))
    tibia = np.atleast_1d(np.asarray(tibial_rotation, dtype=float))
    shift = np.atleast_2d(np.asarray(hip_shift, dtype=float))
    trunk = np.eye(3)[None] if pelvis is None else np.asarray(pelvis, dtype=float).reshape(-1, 3, 3)
    n = max(len(x) for x in (board, sole, heading, turn, tibia, shift, trunk))

    along = foot_rotation(board, place.splay, side)[:, :, 0]
    ball = resting_heel(place, size, side) + (size.heel_to_ankle + size.ball_to_ankle) * along
    foot = foot_rotation(sole, heading, side)
    ankle = ball + foot @ np.array([-size.ball_to_ankle, size.ankle_height, 0.0])
    heel = ball - (size.heel_to_ankle + size.ball_to_ankle) * foot[:, :, 0]
    hip = np.array([0.0, place.hip_height, sign * size.hip_width / 2]) + shift

    line = np.broadcast_to(ankle - hip, (n, 3))
    distance = np.linalg.norm(line, axis=1, keepdims=True)
    longest, shortest = size.thigh + size.shank, abs(size.thigh - size.shank)
    if not bool(np.all((distance > shortest) & (distance < longest))):
        raise ValueError(
            f"the {side} leg cannot close: hip to ankle is {distance.min():.3f}-{distance.max():.3f} m, thigh and "
            f"shank span {shortest:.3f}-{longest:.3f} m; check reach, throne height and segment lengths"
        )
    ahead = line / distance
    up = np.array([0.0, 1.0, 0.0]) - ahead * ahead[:, 1:2]
    up = up / np.linalg.norm(up, axis=1, keepdims=True)
    to_right = np.cross(ahead, up)
    bend = np.cos(turn)[:, None] * up + (sign * np.sin(turn))[:, None] * to_right
    foot_of_height = (size.thigh**2 - size.shank**2 + distance**2) / (2 * distance)
    knee = hip + foot_of_height * ahead + np.sqrt(size.thigh**2 - foot_of_height**2) * bend

    thigh_y, shank_y = (hip - knee) / size.thigh, (knee - ankle) / size.shank
    hinge = np.cross(shank_y, thigh_y)
    hinge = hinge / np.linalg.norm(hinge, axis=1, keepdims=True)
    return LegPose(
        side=side,
        pelvis=np.broadcast_to(trunk, (n, 3, 3)),
        thigh=np.stack([np.cross(thigh_y, hinge), thigh_y, hinge], axis=2),
        shank=np.stack([np.cross(shank_y, hinge), shank_y, hinge], axis=2) @ cardan_matrix(0.0, 0.0, sign * tibia),
        foot=np.broadcast_to(foot, (n, 3, 3)),
        hip=np.broadcast_to(hip, (n, 3)),
        knee=np.broadcast_to(knee, (n, 3)),
        ankle=np.broadcast_to(ankle, (n, 3)),
        ball=np.broadcast_to(ball, (n, 3)),
        heel=np.broadcast_to(heel, (n, 3)),
    )


def leg_from_angles(
    angles: LegAngles, size: LegSize, side: Side, hip_height: float, *, pelvis: ArrayLike | None = None
) -> LegPose:
    """The open chain, from the hip down: for free moves (calibration, range check) and for joined-up recordings.

    hip_height : hip centre above the floor [m]. pelvis : (3, 3) or (n, 3, 3), default upright and facing ahead.
    """
    sign = outward(side)
    trunk = np.eye(3)[None] if pelvis is None else np.asarray(pelvis, dtype=float).reshape(-1, 3, 3)
    thigh = trunk @ cardan_matrix(angles.hip_flexion, sign * angles.hip_adduction, sign * angles.hip_rotation)
    shank = thigh @ cardan_matrix(-angles.knee_flexion, 0.0, sign * angles.knee_rotation)
    foot = shank @ cardan_matrix(angles.ankle_dorsiflexion, sign * angles.ankle_inversion, sign * angles.ankle_rotation)
    hip = np.broadcast_to(np.array([0.0, hip_height, sign * size.hip_width / 2]), (len(thigh), 3))
    knee = hip - size.thigh * thigh[:, :, 1]
    ankle = knee - size.shank * shank[:, :, 1]
    ball = ankle + foot @ np.array([size.ball_to_ankle, -size.ankle_height, 0.0])
    heel = ankle + foot @ np.array([-size.heel_to_ankle, -size.ankle_height, 0.0])
    return LegPose(side, np.broadcast_to(trunk, thigh.shape), thigh, shank, foot, hip, knee, ankle, ball, heel)


def angles_from_pose(pose: LegPose) -> LegAngles:
    """Joint angles of a pose, clinical signs on both sides (the inverse of `leg_from_angles`).

    A knee that also gapes sideways has a third angle, which is left out here (it is zero in poses made by this file).
    """
    sign = outward(pose.side)
    hip = cardan_angles(np.swapaxes(pose.pelvis, 1, 2) @ pose.thigh)
    knee = cardan_angles(np.swapaxes(pose.thigh, 1, 2) @ pose.shank)
    ankle = cardan_angles(np.swapaxes(pose.shank, 1, 2) @ pose.foot)
    return LegAngles(
        hip[0], sign * hip[1], sign * hip[2], -knee[0], sign * knee[2], ankle[0], sign * ankle[1], sign * ankle[2]
    )


def still_angles(size: LegSize, hip_height: float) -> LegAngles:
    """The still pose: thighs and feet straight ahead, shank upright, sole flat on the floor; (1,) each [rad].

    Raises ValueError when the throne is too high or too low for a flat sole under an upright shank.
    """
    drop = (hip_height - size.shank - size.ankle_height) / size.thigh
    if abs(drop) >= 1:
        raise ValueError(f"no upright shank with a flat sole at a hip height of {hip_height:.3f} m: change the throne")
    flexion, zero = np.array([np.pi / 2 - np.arcsin(drop)]), np.zeros(1)
    return LegAngles(flexion, zero, zero, flexion, zero, zero, zero, zero)
