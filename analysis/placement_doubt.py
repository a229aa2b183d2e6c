"""How sure the seated model is of an angle and of the room it leaves: lengths and tape, what is learned, a turned knee.

All are standard errors [deg] unless they say 95 %.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike

from ..logger.models import Side
from .fit import Fit
from .learning import HABIT_SD_DEG, Correction
from .placement import MODELLED, Joint, LegMap, Yardstick, rooms, toward_end_deg
from .seated_pose import Array

THING_SD_CM = 2.0
"""A distance between a leg and a drum: limbs are not cylinders [cm] (ours)."""
Z95 = 1.96
_GEOMETRY_SD: dict[str, float] = {
    "reach_cm": 0.8,
    "spacing_cm": 0.8,
    "throne_height_cm": 0.5,
    "footboard_pitch_deg": 1.5,
    "foot_splay_deg": 3.0,
}
_HIP_ABOVE_SEAT_SD_M = 0.01


def geometry_sd_deg(fit: Fit, side: Side) -> dict[str, float]:
    """By motion, how far the model's angle may be off because lengths and tape are not exact (SD) [deg]."""
    at = _angles(fit, side)
    variants = [fit.moved(knob, sd) for knob, sd in _GEOMETRY_SD.items()]
    body = fit.body
    variants += [
        replace(fit, body=replace(body, thigh=body.thigh + body.length_sd)),
        replace(fit, body=replace(body, shank=body.shank + body.length_sd)),
        replace(fit, body=replace(body, hip_above_seat=body.hip_above_seat + _HIP_ABOVE_SEAT_SD_M)),
    ]
    shifted = [_angles(variant, side) for variant in variants]
    return {
        motion: math.sqrt(sum((other[motion] - value) ** 2 for other in shifted if np.isfinite(other[motion])))
        for motion, value in at.items()
    }


def prior_sd_deg(fit: Fit, side: Side) -> dict[str, float]:
    """By motion, the spread of the offset before anything was measured: habit and geometry [deg]."""
    return {motion: math.hypot(HABIT_SD_DEG, sd) for motion, sd in geometry_sd_deg(fit, side).items()}


def turn_sd_deg(fit: Fit, side: Side) -> dict[str, float]:
    """By motion, how far an angle may be off because a drum makes the knee turn a little more or less (SD) [deg]."""
    nearer = replace(fit, volumes=tuple([replace(v, radius=v.radius + THING_SD_CM / 100.0) for v in fit.volumes]))
    if not fit.turn(side) or not nearer.turn(side):
        return dict.fromkeys(MODELLED, 0.0)
    more = _angles(nearer, side)
    return {motion: abs(more[motion] - angle) for motion, angle in _angles(fit, side).items()}


def _angles(fit: Fit, side: Side) -> dict[str, float]:
    poses = fit.poses(side)
    return {motion: float(toward_end_deg(poses, motion)) for motion in MODELLED}


def room_sd_deg(yardstick: Yardstick, joint: Joint, room_deg: ArrayLike, prior_deg: float) -> Array:
    """Standard error of a joint's room [deg]: of its end, and of what is learned or, before that, of the model."""
    correction = yardstick.corrections.get(joint) or Correction(covariance=((prior_deg**2, 0.0), (0.0, 0.0)))
    angle = yardstick.ends[joint] - np.asarray(room_deg, dtype=float)
    return np.hypot(correction.sd_deg(angle), yardstick.end_sd.get(joint, 0.0))


def rooms_plus_minus_deg(fit: Fit, yardstick: Yardstick, side: Side) -> dict[str, float]:
    """How far the room of each joint may lie off where the pedals stand, 95 % [deg]; NaN where it is not known."""
    prior, turned = prior_sd_deg(fit, side), turn_sd_deg(fit, side)
    return {
        motion: Z95 * math.hypot(float(room_sd_deg(yardstick, (side, motion), room, prior[motion])), turned[motion])
        for motion, room in rooms(fit, yardstick, side).items()
    }


def spare_sd_deg(found: LegMap, fit: Fit, yardstick: Yardstick, side: Side) -> Array:
    """Standard error of the least spare room over a map, (reaches, spacings) [deg]: that of the joint that limits."""
    prior = prior_sd_deg(fit, side)
    out = np.zeros(found.spare.shape)
    for index, motion in enumerate(found.limits):
        here = found.limit == index
        out[here] = room_sd_deg(yardstick, (side, motion), found.room[motion][here], prior[motion])
    return out
