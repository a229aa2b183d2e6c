"""Free moves, as joint angles over time: still poses, calibration moves, the range check. Pure.

Angles are (n, 8) arrays in the order of `virtual_leg.ANGLE_NAMES` [rad]; the moves here are drawn in degrees.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..logger.virtual_leg import ANGLE_NAMES, thigh_angles
from .music import Wander, bump

Array = NDArray[np.float64]
Curve = Callable[[Array], Array]  # times since the part began, (n,) [s] -> angles (n, 8) [rad]

COLUMN: dict[str, int] = {name: i for i, name in enumerate(ANGLE_NAMES)}
RISE_S, HOLD_S, FALL_S, PAUSE_S = 1.6, 1.6, 1.4, 0.6
REPETITION_S = RISE_S + HOLD_S + FALL_S + PAUSE_S


@dataclass(frozen=True)
class Sway:
    """A body does not keep still: a slow wander of every joint."""

    courses: tuple[Wander, ...]

    @classmethod
    def draw(cls, rng: np.random.Generator, sd_deg: float = 0.15) -> Sway:
        """`sd_deg` : per joint angle [deg]."""
        return cls(tuple(Wander.draw(rng, np.deg2rad(sd_deg)) for _ in ANGLE_NAMES))

    def __call__(self, t: Array) -> Array:
        """(n,) [s] -> (n, 8) [rad]."""
        return np.stack([course(t) for course in self.courses], axis=1)


def posed(base: Array, **change_deg: float) -> Array:
    """A pose (8,) [rad] with some angles changed by so many degrees."""
    out = np.array(base, dtype=float)
    for name, degrees in change_deg.items():
        out[COLUMN[name]] += np.deg2rad(degrees)
    return out


def hold(pose: Array, sway: Sway) -> Curve:
    """A pose kept as well as a body keeps one."""
    return lambda t: pose + sway(t)


def repeat(base: Array, ends_deg: Array, move: Callable[[Array], Array], times: tuple[float, ...], sway: Sway) -> Curve:
    """Repetitions of one move: from the base to each end, hold, and back.

    base : (8,) [rad]. ends_deg : (k,), how far each repetition goes. move : excursion (n,) [deg] -> change of the
    angles (n, 8) [deg]. times : rise, hold, fall, pause [s].
    """
    rise, keep, fall, pause = times
    one = rise + keep + fall + pause

    def curve(t: Array) -> Array:
        excursion = np.zeros(len(t))
        for i, end in enumerate(ends_deg):
            excursion += end * bump(t - i * one, rise, keep, fall)
        return base + np.deg2rad(move(excursion)) + sway(t)

    return curve


def along(**per_degree: float) -> Callable[[Array], Array]:
    """A move in which the named angles change in proportion to the excursion."""
    rate = np.zeros(len(ANGLE_NAMES))
    for name, factor in per_degree.items():
        rate[COLUMN[name]] = factor
    return lambda excursion: excursion[:, None] * rate


def sideways(base: Array) -> Callable[[Array], Array]:
    """Swing the thigh outward (positive) at its slope, the knee's hinge kept level and the shank hanging."""
    slope = base[COLUMN["hip_flexion"]] - np.pi / 2

    def move(excursion: Array) -> Array:
        flexion, adduction = thigh_angles(slope, np.deg2rad(excursion))
        change = np.zeros((len(excursion), len(ANGLE_NAMES)))
        change[:, COLUMN["hip_flexion"]] = np.rad2deg(flexion) - np.rad2deg(base[COLUMN["hip_flexion"]])
        change[:, COLUMN["hip_adduction"]] = np.rad2deg(adduction)
        level = np.arctan2(np.cos(flexion) * np.sin(adduction), np.sin(flexion))
        change[:, COLUMN["hip_rotation"]] = np.rad2deg(level)
        return change

    return move


def range_move(motion: str, base: Array) -> Callable[[Array], Array]:
    """The move that tests one motion; its excursion [deg] is the angle measured from the base's zero."""
    if motion.startswith("hip_horizontal"):
        swing = sideways(base)
        return swing if motion == "hip_horizontal_abduction" else lambda excursion: swing(-excursion)
    return {
        "ankle_dorsiflexion": along(ankle_dorsiflexion=1.0, ankle_inversion=0.05),
        "ankle_plantarflexion": along(ankle_dorsiflexion=-1.0, ankle_inversion=0.08),
        "hip_flexion": along(hip_flexion=1.0, knee_flexion=1.0, hip_rotation=-0.04),
        "hip_internal_rotation": along(hip_rotation=1.0, hip_adduction=0.015),
        "hip_external_rotation": along(hip_rotation=-1.0, hip_adduction=0.015),
    }[motion]
