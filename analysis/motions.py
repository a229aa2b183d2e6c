"""The joint motions Footroom reports on: which angle column, which direction, which range phase, which end zone.

A *motion* is one direction of one joint angle. Its signed trace is `sign * angle`, so that "toward the end" is always
upward and room is always `active end - trace`; that is the only place where directions are told apart.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

BOTH = "both"
UNCERTAINTY = "_uncertainty"
"""Ending of the column in `derived/angles.parquet` that holds an angle's 95 % half-width [deg]."""


@dataclass(frozen=True)
class Motion:
    """One direction of one joint angle.

    angle: the angle column without its side (`ankle_dorsiflexion`); `hip_spread` has no side.
    sign: +1 or -1; the trace toward the end is `sign * angle`.
    range_phase: the phase name whose repetitions give the end; None for hip_spread (the sum of two abduction ends).
    zone_deg: default width of the end zone [deg]; our choice, visible and editable (no standard fixes such a line).
    contact: the end is usually made by the legs touching, not by the joint: no end zone then.
    words: for people.
    """

    name: str
    angle: str
    sign: int
    range_phase: str | None
    zone_deg: float
    words: str
    contact: bool = False


MOTION: dict[str, Motion] = {
    motion.name: motion
    for motion in (
        Motion("ankle_dorsiflexion", "ankle_dorsiflexion", 1, "range_dorsiflexion", 5.0, "ankle dorsiflexion"),
        Motion("ankle_plantarflexion", "ankle_dorsiflexion", -1, "range_plantarflexion", 5.0, "ankle plantarflexion"),
        Motion("hip_flexion", "hip_flexion", 1, "range_hip_flexion", 5.0, "hip flexion"),
        Motion(
            "hip_horizontal_abduction",
            "hip_horizontal_abduction",
            1,
            "range_abduction",
            10.0,
            "hip horizontal abduction",
        ),
        Motion(
            "hip_horizontal_adduction",
            "hip_horizontal_abduction",
            -1,
            "range_adduction",
            10.0,
            "hip horizontal adduction",
            contact=True,
        ),
        Motion("hip_internal_rotation", "hip_rotation", 1, "range_internal_rotation", 10.0, "hip internal rotation"),
        Motion("hip_external_rotation", "hip_rotation", -1, "range_external_rotation", 10.0, "hip external rotation"),
        Motion("hip_spread", "hip_spread", 1, None, 10.0, "hip spread"),
    )
}

SIDED_MOTIONS: tuple[str, ...] = tuple(name for name in MOTION if name != "hip_spread")


def angle_column(motion: str, side: str) -> str:
    """The column of `derived/angles.parquet` that holds `motion` on `side` ("right", "left", "both")."""
    angle = MOTION[motion].angle
    return angle if angle == "hip_spread" else f"{side}_{angle}"


def toward_end(motion: str, angle_deg: NDArray[np.float64]) -> NDArray[np.float64]:
    """The trace of `motion`, positive toward its end, (n,) [deg], from its angle column, (n,) [deg]. NaN stays NaN."""
    return angle_deg if MOTION[motion].sign > 0 else -angle_deg


def words(side: str, motion: str) -> str:
    """`right ankle dorsiflexion`, `hip spread`: for sentences."""
    name = MOTION[motion].words if motion in MOTION else motion.replace("_", " ")
    return name if side == BOTH else f"{side} {name}"
