"""How far a knee has to turn for its leg to clear what stands there: the one freedom a foot on its pedal leaves a leg.

The knee turns about the line from hip to ankle; foot and seat stay where they are. The least turn is looked for in
steps, outward or, where that gains no distance, inward, and then refined, over many positions at once.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ..logger.models import Side
from .body_size import Body
from .keep_clear import Cylinder, clearances
from .seated_leg import knee_circle, on_circle
from .seated_pose import Array, Pose, Vector

MOST_DEG = 30.0
"""Farthest turn that is looked at [deg] (ours)."""
STEP_DEG = 5.0
"""Steps of looking [deg]: between two the knee's path is straight to 0.4 mm (sagitta of 5 deg on a 40 cm circle)."""
REFINED = 2
"""How often a turn is refined between two steps; to less than 0.1 deg (a test holds it to that)."""
ENOUGH_M = 0.0002
"""Distance aimed at once a knee has to turn [m] (ours)."""
FAR_M = 0.1
"""Farther is as good [m]: what is far away helps no search between two steps."""


@dataclass(frozen=True)
class Clearing:
    """A leg among what stands there; arrays of the positions' shape.

    turn : least turn of the knee that clears all, outward positive [rad]; 0 where nothing is touched, NaN where no turn
    up to `MOST_DEG` helps. free : to the nearest thing after that turn [m]; where there is none as held, or of the foot
    alone where that touches something, because no turn moves it. nearest : index in `things` of what was nearest before
    the turn. foot : distance of the foot alone where something is touched [m]; else inf.
    """

    turn: Array
    free: Array
    nearest: np.ndarray
    foot: Array
    things: tuple[str, ...]


def clearing(
    rest: Pose,
    body: Body,
    hip_height: float,
    side: Side,
    volumes: tuple[Cylinder, ...],
    *,
    apart: float = 0.0,
) -> Clearing:
    """The least turn with which a leg, held as in `rest`, keeps `apart` [m] from every volume and the other leg.

    hip_height : hip centre above the floor [m].
    """
    each = clearances(rest, body, hip_height, side, volumes)
    free, nearest = _nearest(each)
    free -= apart
    turn, foot = np.zeros(np.shape(free)), np.full(np.shape(free), np.inf)
    here = np.asarray(free < 0.0)
    if volumes and here.any():
        distance, thing = _nearest(clearances(_picked(rest, here), body, hip_height, side, volumes, ("foot",)))
        foot[here] = distance - apart
        stuck = np.asarray(foot < 0.0)
        turn[stuck], free[stuck], nearest[stuck] = np.nan, foot[stuck], thing[stuck[here]]
        here = here & ~stuck
        part = _picked(rest, here)
        circle = knee_circle(part.knee, part.ankle)

        def turned(turns: Array | float, among: np.ndarray) -> Array:
            centre, radius, outward = (_of(points, among) for points in circle)
            knee = on_circle((centre, radius, outward), np.asarray(turns))
            now = replace(part, knee=knee, ankle=_of(part.ankle, among))
            found, _ = _nearest(clearances(now, body, hip_height, side, volumes, ("thigh", "shank")))
            return np.minimum(found - apart, FAR_M)

        turn[here], distance = _least_turn(free[here], turned)
        free[here] = np.minimum(distance, foot[here])
    return Clearing(turn, free, nearest, foot, tuple(each))


def _picked(pose: Pose, here: np.ndarray) -> Pose:
    """Knee, ankle and ball at some places only; axes are left alone, distances need none."""
    return replace(pose, knee=_of(pose.knee, here), ankle=_of(pose.ankle, here), ball=_of(pose.ball, here))


def _of(point: Vector, here: np.ndarray) -> Vector:
    x, y, w = (v[here] for v in point)
    return x, y, w


def _nearest(each: Mapping[str, Array]) -> tuple[Array, np.ndarray]:
    """Least of several distances, and the index of what has it."""
    distances = list(each.values())
    least = np.array(distances[0], dtype=float)
    which = np.zeros(least.shape, dtype=np.int8)
    for index, distance in enumerate(distances[1:], start=1):
        which[distance < least] = index
        np.minimum(least, distance, out=least)
    return least, which


def _least_turn(held: Array, distance: Callable[[Array | float, np.ndarray], Array]) -> tuple[Array, Array]:
    """(turn [rad], distance then [m]) of places whose distance as held, `held` (n,) [m], is negative.

    distance : of some of the places, given by their indices, at a turn each [m].
    """
    everyone = np.arange(held.size)
    step = np.radians(STEP_DEG)
    sign, first = np.ones(held.size), distance(step, everyone)
    other = everyone[first <= held]
    if other.size:
        sign[other], first[other] = -1.0, distance(-step, other)
    low, low_free = np.zeros(held.size), held.copy()
    high, high_free = np.full(held.size, np.nan), held.copy()
    left = everyone[first > held]
    now, reached = step, first[left]
    while left.size:
        clears = reached >= 0.0
        done, left = left[clears], left[~clears]
        high[done], high_free[done] = now, reached[clears]
        gained = reached[~clears] > low_free[left]
        left = left[gained]
        low[left], low_free[left] = now, reached[~clears][gained]
        now += step
        if now > np.radians(MOST_DEG) + 1e-9:
            break
        reached = distance(sign[left] * now, left)
    solved = everyone[np.isfinite(high)]
    for _ in range(REFINED):
        a, b, fa, fb = low[solved], high[solved], low_free[solved], high_free[solved]
        between = np.clip(a + (b - a) * (ENOUGH_M - fa) / np.maximum(fb - fa, 1e-9), a, b)
        reached = distance(sign[solved] * between, solved)
        clears = reached >= 0.0
        high[solved[clears]], high_free[solved[clears]] = between[clears], reached[clears]
        low[solved[~clears]], low_free[solved[~clears]] = between[~clears], reached[~clears]
    return sign * high, high_free
