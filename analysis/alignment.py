"""Sensor-to-segment alignment: how a clip sits on its segment, from gravity and slow moves.

A segment frame is x anterior, y proximal, z to the person's right (ISB: Wu et al. 2002, J Biomech 35:543-548). Its
axes in the sensor frame come from
- y of foot and shank: gravity in the still pose (sole flat, shank upright);
- y of the thigh: the main rotation axis of the hip rotation moves, else a typed slope of the sitting thigh. The
  sitting thigh is not level, so gravity alone never gives it;
- z of each: the main rotation axis of a slow move whose first direction is known (which gives the sign).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from .timebase import Floats

WEAK_SHARE = 0.85
"""Below this share of rotation explained an axis is used with a warning."""
REFUSED_SHARE = 0.6
"""Below this share of rotation explained an axis is refused: two directions were moved about alike."""
MIN_TURN_RAD = np.radians(8.0)
"""A move that turns less than this from end to end shows no axis [rad]."""
FIRST_DIRECTION_SHARE = 0.35
"""A move's first direction is that of the first excursion larger than this share of its whole turn."""
USUAL_REPETITIONS = 5
"""Repetitions of a move in one phase, as guided."""


@dataclass(frozen=True)
class Axis:
    """A direction in the sensor frame and how well it is known.

    direction : (3,) unit vector.   share_explained : 0-1, rotation energy about the axis.
    error_deg : rough standard error of its direction [deg].   method : in words.   signed : whether the sign is known.
    """

    direction: Floats
    share_explained: float
    error_deg: float
    method: str
    signed: bool = True


@dataclass(frozen=True)
class Alignment:
    """A clip's segment frame in the sensor frame: columns x, y, z of `frame` (3, 3).

    axis : where z comes from.   long_axis_method, long_axis_sd_deg : where y comes from, and its standard error [deg].
    """

    frame: Floats
    axis: Axis
    long_axis_method: str
    long_axis_sd_deg: float


def unit(vector: Floats) -> Floats:
    """The vector(s) scaled to length 1 along the last axis."""
    return vector / np.linalg.norm(vector, axis=-1, keepdims=True)


def main_axis(moves: Sequence[Floats], rate_hz: float, first_sign: int, method: str) -> Axis | None:
    """Main rotation axis of a move, signed by its known first direction; None where it was not moved enough.

    moves : per repetition of the phase (n, 3) angular rates, bias removed [rad/s].
    first_sign : +1 if the move begins with a positive turn about the wanted axis, -1 if with a negative one.
    The axis is the eigenvector of the largest eigenvalue of the summed outer products of the rates.
    """
    moves = [move for move in moves if len(move) > rate_hz / 2]
    if not moves:
        return None
    energy, axes = np.linalg.eigh(sum(move.T @ move for move in moves))
    axis = axes[:, -1]
    signs, turns = [], []
    for move in moves:
        turned = np.concatenate([[0.0], np.cumsum(move @ axis) / rate_hz])
        turns.append(float(np.ptp(turned)))
        far = np.flatnonzero(np.abs(turned) > FIRST_DIRECTION_SHARE * turns[-1])
        signs.append(np.sign(turned[far[0]]) if far.size else 0.0)
    if max(turns) < MIN_TURN_RAD:
        return None
    share = float(energy[-1] / energy.sum())
    sign = np.sign(np.dot(signs, turns))
    return Axis(axis * (sign or 1.0) * first_sign, share, _axis_error_deg(share, len(moves)), method, sign != 0)


def _axis_error_deg(share: float, phases: int) -> float:
    """Rough standard error of a main axis [deg].

    Cross rotation differs from repetition to repetition and acts like noise: its share, one direction's half of it,
    averaged over about `USUAL_REPETITIONS` a phase, of which one is spent on the mean.
    """
    cross = np.sqrt(max(1.0 - share, 0.0) / max(share, 1e-9) / 2.0)
    return float(np.degrees(np.arctan(cross)) / np.sqrt(USUAL_REPETITIONS * phases - 1.0))


def frame_from(long_axis: Floats, right_axis: Floats, keep: Literal["long", "right"] = "long") -> Floats:
    """(3, 3) right-handed frame, columns x anterior, y proximal, z right, in the sensor frame.

    long_axis, right_axis : (3,) not parallel.   keep : which of the two is kept exactly; the other is made
    perpendicular to it. Raises ValueError if they are within 20 deg of parallel.
    """
    y, z = unit(long_axis), unit(right_axis)
    if abs(float(y @ z)) > np.cos(np.radians(20.0)):
        raise ValueError("long axis and right axis are nearly parallel")
    if keep == "long":
        z = unit(z - y * (y @ z))
    else:
        y = unit(y - z * (y @ z))
    return np.column_stack([np.cross(y, z), y, z])


def tilted_long_axis(up: Floats, right_axis: Floats, slope_deg: float) -> Floats:
    """(3,) proximal direction of a thigh whose sitting slope is known.

    up : (3,) upward vertical in the sensor frame in the still pose.   right_axis : (3,) to the person's right.
    slope_deg : of the thigh, knee above hip positive [deg].
    """
    z = unit(right_axis - up * (up @ right_axis))
    forward = np.cross(up, z)
    slope = np.radians(slope_deg)
    return -(np.cos(slope) * forward + np.sin(slope) * up)


SENSOR_AXES = {
    sign + name: (1.0 if sign == "+" else -1.0) * np.eye(3)[i] for i, name in enumerate("xyz") for sign in ("+", "-")
}
"""The `right_axis` hint of an import, as a direction in the sensor frame."""
