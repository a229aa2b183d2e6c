"""Legs clear of drums and stands: upright cylinders against thighs, shanks and feet of some thickness.

"The drum, not the hip, is the limit" is a possible answer, so every distance says what it is to. Distances are on the
safe side: a limb counts as thick as at its nearer end also above and below a rim. Seen from the middle of the hips: x
forward, z to the person's right, y up from the floor [m].
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..logger.models import Setup, Side
from .body_size import Body
from .seated_pose import Array, Pose, Vector

INCH_M = 0.0254
SNARE_DEPTH_IN = 5.5
"""Depth of a snare's shell where it was not measured [in] (common size, from memory)."""
STAND_TOP_M = 0.25
"""Height up to which the feet of a stand spread [m] (ours; a tripod's legs join higher, but close to the tube)."""
AT_THE_KNEE = 0.7
"""How thick thigh and shank are at their far ends, as a share of their middle or near end (ours)."""
OTHER_LEG = "the other leg"
LIMBS = ("thigh", "shank", "foot")


@dataclass(frozen=True)
class Cylinder:
    """name : for people. forward, right : centre [m]. radius, bottom, top [m]."""

    name: str
    forward: float
    right: float
    radius: float
    bottom: float
    top: float


def volumes_of(setup: Setup) -> tuple[Cylinder, ...]:
    """What stands in the way: the snare where its diameter, place and rim are known, its stand, and the rest."""
    found: list[Cylinder] = []
    ahead = None if setup.snare_forward_cm is None else setup.snare_forward_cm / 100.0
    right = (setup.snare_right_cm or 0.0) / 100.0
    if ahead is not None and setup.snare_diameter_in is not None and setup.snare_rim_cm is not None:
        top = setup.snare_rim_cm / 100.0
        depth = (setup.snare_depth_in or SNARE_DEPTH_IN) * INCH_M
        radius = setup.snare_diameter_in * INCH_M / 2.0
        found.append(Cylinder("the snare drum", ahead, right, radius, max(top - depth, 0.0), top))
    if ahead is not None and setup.stand_spread_cm is not None:
        found.append(Cylinder("the snare stand", ahead, right, setup.stand_spread_cm / 200.0, 0.0, STAND_TOP_M))
    for thing in setup.keep_clear:
        place = (thing.forward_cm / 100.0, thing.right_cm / 100.0, thing.diameter_cm / 200.0)
        found.append(Cylinder(thing.name, *place, thing.bottom_cm / 100.0, thing.top_cm / 100.0))
    return tuple(found)


def clearances(
    pose: Pose,
    body: Body,
    hip_height: float,
    side: Side,
    volumes: tuple[Cylinder, ...],
    limbs: tuple[str, ...] = LIMBS,
) -> dict[str, Array]:
    """Free distance between a leg and each volume, and half of that to the other leg [m]; negative = they overlap.

    pose : of the leg. hip_height : hip centre above the floor [m]. limbs : which of `LIMBS` are looked at. inf where
    the two never share a height.
    The other leg is taken to mirror this one: each has to stay on its own side of the middle.
    """
    sign = 1.0 if side == "right" else -1.0
    hip = tuple(np.zeros_like(pose.knee[0]) for _ in range(3))
    each: dict[str, tuple[Vector, Vector, float, float]] = {
        "thigh": ((hip[0], hip[1], hip[2]), pose.knee, body.thigh_radius, AT_THE_KNEE * body.thigh_radius),
        "shank": (pose.knee, pose.ankle, body.shank_radius, AT_THE_KNEE * body.shank_radius),
        "foot": (pose.ankle, pose.ball, body.foot_half_breadth, body.foot_half_breadth),
    }
    half = body.hip_width / 2.0
    found: dict[str, Array] = {}
    for volume in volumes:
        out = sign * volume.right - half  # seen from this leg's hip, outward
        free = np.full(np.shape(pose.knee[0]), np.inf)
        for start, end, thick, thin in (each[limb] for limb in limbs):
            if _share_a_height(start, end, thick, volume, hip_height):
                np.minimum(free, _to_cylinder(start, end, thick, thin, volume, out, hip_height), out=free)
        found[volume.name] = np.where(np.isfinite(pose.knee[1]), free, np.nan)
    apart = np.full(np.shape(pose.knee[0]), np.inf)
    if "shank" in limbs:
        apart = half + pose.knee[2] - body.shank_radius
    if "foot" in limbs:
        apart = np.minimum(apart, half + np.minimum(pose.ball[2], pose.ankle[2]) - body.foot_half_breadth)
    found[OTHER_LEG] = apart
    return found


def _share_a_height(start: Vector, end: Vector, thick: float, volume: Cylinder, hip_height: float) -> bool:
    """Whether a limb comes to a cylinder's height anywhere on the map."""
    low = min(_lowest(start[1]), _lowest(end[1]))
    high = max(-_lowest(-start[1]), -_lowest(-end[1]))
    return low - thick <= volume.top - hip_height and high + thick >= volume.bottom - hip_height


def _lowest(height: Array) -> float:
    """The least finite value; inf without one."""
    return float(np.fmin.reduce(height, axis=None, initial=np.inf))


def _to_cylinder(
    start: Vector, end: Vector, thick: float, thin: float, volume: Cylinder, out: float, hip_height: float
) -> Array:
    """Distance seen from above between the part of a limb at the cylinder's height and its wall [m]."""
    low, high = volume.bottom - hip_height - thick, volume.top - hip_height + thick
    rise = end[1] - start[1]
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        a, b = (low - start[1]) / rise, (high - start[1]) / rise
        first, last = np.maximum(np.minimum(a, b), 0.0), np.minimum(np.maximum(a, b), 1.0)
        dx, dw = end[0] - start[0], end[2] - start[2]
        gx, gw = volume.forward - start[0], out - start[2]
        seen = dx * dx + dw * dw + 1e-12  # an upright limb is a point from above
        nearest = np.clip((gx * dx + gw * dw) / seen, first, np.maximum(first, last))
        x, w = gx - nearest * dx, gw - nearest * dw
        distance = np.sqrt(x * x + w * w) - (volume.radius + thick + nearest * (thin - thick))
    return np.where(first <= last, distance, np.inf)
