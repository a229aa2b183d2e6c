"""The placement map: over pedal positions, how much room every joint keeps to the person's own ends, and what limits.

Not a prescription: where every joint stays clear of its end zone and the legs of drums, the person chooses. Room is the
end of active range minus the angle toward it, at the tightest moment of a stroke; measured sessions teach median room
(`learning`), and with them it stands for that. Spare room is room minus the width of the end zone; what has least spare
room limits.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..logger.models import Side
from .fit import Fit
from .keep_clear import clearances
from .learning import Correction
from .motions import MOTION
from .seated_leg import leg_pose, stroke_poses
from .seated_pose import Array, Pose

Joint = tuple[Side, str]
"""Side and motion."""
MODELLED: tuple[str, ...] = (
    "ankle_dorsiflexion",
    "ankle_plantarflexion",
    "hip_flexion",
    "hip_horizontal_abduction",
    "hip_internal_rotation",
    "hip_external_rotation",
)
"""Motions the map knows; adduction ends in contact and is watched as a distance to the other leg."""
OUT_OF_REACH = "out of reach"
STRIP = 6000
"""Positions worked on at a time: what fits into a processor's cache, half the time of the whole at once."""


@dataclass(frozen=True)
class Yardstick:
    """What a person's joints are held against. All by (side, motion), [deg].

    ends : ends of active range. zones : widths of the end zones, by motion. end_sd : standard errors of the ends.
    corrections : what measured sessions have taught; a joint without one is taken as the model has it.
    """

    ends: Mapping[Joint, float]
    zones: Mapping[str, float] = field(default_factory=lambda: {name: m.zone_deg for name, m in MOTION.items()})
    end_sd: Mapping[Joint, float] = field(default_factory=dict)
    corrections: Mapping[Joint, Correction] = field(default_factory=dict)

    def joints(self, side: Side) -> list[Joint]:
        """The joints of a side whose end is known, in the order of `MODELLED`."""
        return [(side, motion) for motion in MODELLED if (side, motion) in self.ends]


@dataclass(frozen=True)
class LegMap:
    """One leg over positions; arrays (reaches, spacings), NaN where the leg does not reach.

    room : by motion [deg]. spare, limit : least spare room [deg] and the index in `limits` of what has it.
    smallest : least room of any joint [deg]. clearance : to the nearest drum, stand or leg [m]; `nearest` its index in
    `things`. clear : every joint out of its end zone and nothing touched.
    """

    room: dict[str, Array]
    spare: Array
    smallest: Array
    limit: np.ndarray
    limits: tuple[str, ...]
    clearance: Array
    nearest: np.ndarray
    things: tuple[str, ...]

    @property
    def clear(self) -> np.ndarray:
        """(reaches, spacings) bool."""
        with np.errstate(invalid="ignore"):
            return (self.spare >= 0.0) & (self.clearance >= 0.0)

    def what_limits(self, row: int, column: int) -> str:
        """The motion, drum or leg that limits a position; `out of reach` where there is none."""
        if not np.isfinite(self.spare[row, column]):
            return OUT_OF_REACH
        if self.clearance[row, column] < 0.0:
            return self.things[int(self.nearest[row, column])]
        return self.limits[int(self.limit[row, column])]


@dataclass(frozen=True)
class PlacementMap:
    """reach_cm (n,), spacing_cm (m,) [cm]; a map for each leg, each with its own reach and the spacing of both."""

    reach_cm: Array
    spacing_cm: Array
    legs: dict[Side, LegMap]

    @property
    def clear(self) -> np.ndarray:
        """Both legs clear with both pedals at the same reach, (n, m) bool."""
        return np.logical_and.reduce([leg.clear for leg in self.legs.values()])


def toward_end_deg(poses: Mapping[str, Pose], motion: str) -> Array:
    """The angle toward a motion's end at the tightest of some poses [deg]."""
    angle = MOTION[motion]
    values = [getattr(pose, angle.angle) for pose in poses.values()]
    tightest = np.maximum if angle.sign > 0 else np.minimum
    extreme = values[0]
    for value in values[1:]:
        extreme = tightest(extreme, value)
    return np.asarray(extreme * (angle.sign * 180.0 / np.pi))


def rooms(fit: Fit, yardstick: Yardstick, side: Side) -> dict[str, float]:
    """Room of one leg where it stands now, by motion [deg]."""
    poses = fit.poses(side)
    return {motion: float(_room(poses, yardstick, (side, motion))) for _, motion in yardstick.joints(side)}


def _room(poses: Mapping[str, Pose], yardstick: Yardstick, joint: Joint) -> Array:
    angle = toward_end_deg(poses, joint[1])
    correction = yardstick.corrections.get(joint)
    if correction is not None:
        angle = correction.angle_deg(angle)
    return yardstick.ends[joint] - angle


def leg_map(fit: Fit, yardstick: Yardstick, side: Side, reach_cm: Array, spacing_cm: Array) -> LegMap:
    """One leg over positions; reach_cm and spacing_cm broadcast to the map's shape [cm].

    Raises ValueError when no end of that side is known.
    """
    joints = yardstick.joints(side)
    if not joints:
        raise ValueError(f"no end of the {side} leg is known, so there is no room to map")
    leg = fit.legs[side]
    poses = stroke_poses(
        fit.body,
        fit.seat,
        leg.pedal,
        reach_cm / 100.0,
        spacing_cm / 100.0,
        fit.stroke,
        swivel=leg.swivel,
        hold=leg.hold,
    )
    shape = np.broadcast_shapes(reach_cm.shape, spacing_cm.shape)
    spare, smallest = np.full(shape, np.inf), np.full(shape, np.inf)
    limit = np.zeros(shape, dtype=np.int8)
    room: dict[str, Array] = {}
    for index, joint in enumerate(joints):
        room[joint[1]] = here = _room(poses, yardstick, joint)
        np.minimum(smallest, here, out=smallest)
        left = here - yardstick.zones[joint[1]]
        limit[left < spare] = index
        np.minimum(spare, left, out=spare)  # NaN stays NaN
    free = clearances(poses["rest"], fit.body, fit.seat.height + fit.body.hip_above_seat, side, fit.volumes)
    clearance = np.full(shape, np.inf)
    nearest = np.zeros(shape, dtype=np.int8)
    for index, distance in enumerate(free.values()):
        nearest[distance < clearance] = index
        np.minimum(clearance, distance, out=clearance)
    limits = tuple(motion for _, motion in joints)
    return LegMap(room, spare, smallest, limit, limits, clearance, nearest, tuple(free))


def placement_map(
    fit: Fit, yardstick: Yardstick, *, reach_cm: Array | None = None, spacing_cm: Array | None = None
) -> PlacementMap:
    """Room of both legs over reach and spacing for this throne height.

    reach_cm, spacing_cm : increasing, (n,) and (m,) [cm]; default 200 each, 20 cm around where the pedals stand.
    Raises ValueError when a side's ends are all unknown.
    """
    reach = np.linspace(-20.0, 20.0, 200) + 100.0 * float(np.mean([leg.reach for leg in fit.legs.values()]))
    reach = reach if reach_cm is None else np.asarray(reach_cm, dtype=float)
    spacing = np.linspace(-20.0, 20.0, 200) + 100.0 * fit.spacing
    spacing = spacing if spacing_cm is None else np.asarray(spacing_cm, dtype=float)
    strips = np.array_split(reach[:, None], max(1, reach.size * spacing.size // STRIP))
    legs: dict[Side, LegMap] = {
        side: _joined([leg_map(fit, yardstick, side, strip, spacing[None, :]) for strip in strips]) for side in fit.legs
    }
    return PlacementMap(reach, spacing, legs)


def swivel_that_clears(fit: Fit, side: Side, *, most_deg: float = 30.0) -> float | None:
    """Least outward turn of the knee, from the default pose, with which a leg touches no drum or stand [deg].

    0 where it is clear as it is; None where up to `most_deg` do not help: then the drum is the limit.
    """
    turns = np.arange(0.0, most_deg + 0.25, 0.5)
    leg = fit.legs[side]
    pose = leg_pose(fit.body, fit.seat, leg.pedal, leg.reach, fit.spacing, swivel=np.radians(turns), hold=leg.hold)
    free = clearances(pose, fit.body, fit.seat.height + fit.body.hip_above_seat, side, fit.volumes)
    clear = np.logical_and.reduce([np.broadcast_to(distance >= 0.0, turns.shape) for distance in free.values()])
    return float(turns[np.argmax(clear)]) if clear.any() else None


def _joined(strips: list[LegMap]) -> LegMap:
    """Maps of strips of reach as one."""
    first = strips[0]

    def whole(name: str) -> Any:
        return np.concatenate([getattr(strip, name) for strip in strips])

    return LegMap(
        room={motion: np.concatenate([strip.room[motion] for strip in strips]) for motion in first.room},
        spare=whole("spare"),
        smallest=whole("smallest"),
        limit=whole("limit"),
        limits=first.limits,
        clearance=whole("clearance"),
        nearest=whole("nearest"),
        things=first.things,
    )
