"""The placement map: over pedal positions, how much room every joint keeps to the person's own ends, and what limits.

Not a prescription: where every joint stays clear of its end zone and the legs of drums, the person chooses. Room is the
end of active range minus the angle toward it, at the tightest moment of a stroke; measured sessions teach median room
(`learning`), and with them it stands for that. Spare room is room minus the width of the end zone; what has least spare
room limits. Where a leg would touch a drum, its knee is turned by the least that clears it (`knee_turn`), and rooms are
those of the turned leg; where no turn within the hip's own clear range does, the drum, not the hip, is the limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from ..logger.models import Side
from .fit import Fit
from .knee_turn import MOST_DEG, clearing
from .learning import Correction
from .motions import MOTION
from .seated_leg import stroke_poses
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
STRIP = 9000
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
    smallest : least room of any joint [deg]. turn : how far the knee is turned to clear what stands there, outward
    positive [deg]. clearance : to the nearest drum, stand or leg then [m]; `nearest` : index in `things` of what was
    nearest before the turn. leeway : how well a leg gets past it: the distance as held [cm]; with the knee turned the
    least of the hip's spare room, what is left to turn [deg] and the foot's distance [cm]; negative where the thing is
    the limit. clear : every joint out of its end zone, nothing touched.
    """

    room: dict[str, Array]
    spare: Array
    smallest: Array
    limit: np.ndarray
    limits: tuple[str, ...]
    turn: Array
    clearance: Array
    leeway: Array
    nearest: np.ndarray
    things: tuple[str, ...]

    @property
    def clear(self) -> np.ndarray:
        """(reaches, spacings) bool."""
        with np.errstate(invalid="ignore"):
            return (self.spare >= 0.0) & (self.leeway >= 0.0)

    def what_limits(self, row: int, column: int) -> str:
        """The motion, drum or leg that limits a position; `out of reach` where there is none."""
        if not np.isfinite(self.spare[row, column]):
            return OUT_OF_REACH
        if self.leeway[row, column] < 0.0:
            return self.things[int(self.nearest[row, column])]
        return self.limits[int(self.limit[row, column])]

    def turned_for(self, row: int, column: int) -> str | None:
        """The drum, stand or leg for which the knee is turned at a position; None where it is not."""
        return self.things[int(self.nearest[row, column])] if self.turn[row, column] else None


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


def leg_map(
    fit: Fit, yardstick: Yardstick, side: Side, reach_cm: Array, spacing_cm: Array, *, apart_m: float = 0.0
) -> LegMap:
    """One leg over positions; reach_cm and spacing_cm broadcast to the map's shape [cm].

    apart_m : how far the leg has to keep from what stands there; negative: how far it may overlap [m].
    Raises ValueError when no end of that side is known.
    """
    joints = yardstick.joints(side)
    if not joints:
        raise ValueError(f"no end of the {side} leg is known, so there is no room to map")
    leg = fit.legs[side]

    def poses_at(reach: Array, spacing: Array, turn: Array | float = 0.0) -> dict[str, Pose]:
        place = (fit.body, fit.seat, leg.pedal, reach / 100.0, spacing / 100.0)
        return stroke_poses(*place, fit.stroke, swivel=leg.swivel + turn, hold=leg.hold)

    poses = poses_at(reach_cm, spacing_cm)
    room = {joint[1]: _room(poses, yardstick, joint) for joint in joints}
    rest = poses["rest"]
    if fit.volumes and leg.habit:
        rest = poses_at(reach_cm, spacing_cm, leg.habit)["rest"]
    found = clearing(rest, fit.body, fit.hip_height, side, fit.volumes, apart=apart_m)
    turn, leeway = np.nan_to_num(found.turn), 100.0 * found.free
    turned = turn != 0.0
    if turned.any():
        before = _hip_spare(room, yardstick, turned)
        reach, spacing = (np.broadcast_to(values, turned.shape)[turned] for values in (reach_cm, spacing_cm))
        poses = poses_at(reach, spacing, turn[turned])
        for joint in joints:
            room[joint[1]][turned] = _room(poses, yardstick, joint)
        after = _hip_spare(room, yardstick, turned)
        own = after >= np.minimum(before, 0.0)  # a hip that is in its end zone anyway is no matter of the drum
        for most in (MOST_DEG - np.degrees(np.abs(turn[turned])), 100.0 * found.foot[turned]):
            np.minimum(after, most, out=after)
        leeway[turned] = np.where(own, np.maximum(after, 0.0), after)
    spare, smallest = np.full(turned.shape, np.inf), np.full(turned.shape, np.inf)
    limit = np.zeros(turned.shape, dtype=np.int8)
    for index, (_, motion) in enumerate(joints):
        np.minimum(smallest, room[motion], out=smallest)
        left = room[motion] - yardstick.zones[motion]
        limit[left < spare] = index
        np.minimum(spare, left, out=spare)  # NaN stays NaN
    limits = tuple(motion for _, motion in joints)
    return LegMap(
        room, spare, smallest, limit, limits, np.degrees(turn), found.free, leeway, found.nearest, found.things
    )


def _hip_spare(room: Mapping[str, Array], yardstick: Yardstick, here: np.ndarray) -> Array:
    """Least spare room of the hip at some places [deg]; inf where no end of the hip is known."""
    hips = [values[here] - yardstick.zones[motion] for motion, values in room.items() if motion.startswith("hip")]
    return np.minimum.reduce([np.full(int(here.sum()), np.inf), *hips])


def placement_map(
    fit: Fit,
    yardstick: Yardstick,
    *,
    reach_cm: Array | None = None,
    spacing_cm: Array | None = None,
    apart_m: float = 0.0,
) -> PlacementMap:
    """Room of both legs over reach and spacing for this throne height.

    reach_cm, spacing_cm : increasing, (n,) and (m,) [cm]; default 200 each, 20 cm around where the pedals stand.
    apart_m : as for `leg_map`.
    Raises ValueError when a side's ends are all unknown.
    """
    reach = np.linspace(-20.0, 20.0, 200) + 100.0 * float(np.mean([leg.reach for leg in fit.legs.values()]))
    reach = reach if reach_cm is None else np.asarray(reach_cm, dtype=float)
    spacing = np.linspace(-20.0, 20.0, 200) + 100.0 * fit.spacing
    spacing = spacing if spacing_cm is None else np.asarray(spacing_cm, dtype=float)
    strips = np.array_split(reach[:, None], max(1, reach.size * spacing.size // STRIP))
    legs: dict[Side, LegMap] = {
        side: _joined([leg_map(fit, yardstick, side, strip, spacing[None, :], apart_m=apart_m) for strip in strips])
        for side in fit.legs
    }
    return PlacementMap(reach, spacing, legs)


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
        turn=whole("turn"),
        clearance=whole("clearance"),
        leeway=whole("leeway"),
        nearest=whole("nearest"),
        things=first.things,
    )
