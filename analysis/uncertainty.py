"""How sure each angle is: a 95 % half-width per column, from assumptions that all stand here.

The parts of one angle's error are taken as independent and normal and added in quadrature; the half-width is 1.96 times
the sum. Each spread is a standard deviation; all are ours (no published figures for seated drumming with these clips),
set so that on simulated legs the half-widths cover the truth in 93-99 % of the cases (`benchmarks/coverage.py`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from .alignment import Alignment
from .leg import LegAngles
from .timebase import Floats, Mask

Z95 = 1.96

POSE_SD_DEG = {"foot": 0.3, "shank": 0.9, "thigh": 1.0, "pelvis": 2.0}
"""How far one still pose is from the asked one: the sole on the floor, the shank from upright [deg]."""
TYPED_SLOPE_SD_DEG = 3.0
"""A thigh slope typed from a tape or a phone inclinometer [deg]."""
SKIN_DRAG = 1.4
"""By how much more than the share explained tells a thigh's long axis is off: the skin lags in the wanted turn only."""
TISSUE_SD_DEG = {
    "ankle_dorsiflexion": 0.15,
    "knee_flexion": 1.0,
    "hip_flexion": 0.7,
    "hip_rotation": 0.5,
    "sideways": 0.5,
}
"""What skin does to an angle in playing [deg]; the thigh clip's own roll is not used."""
PLACE_SD_DEG = {True: 0.7, False: 2.0}
"""Azimuth of the hip-ankle line from tape measures: all lengths measured, or some from stature [deg]."""
HEEL_UP_SD_DEG = 1.7
"""More for a foot that is not known to play heel-down: it turns on its ball, which carries the ankle sideways [deg]."""
FOLLOWED_SD_DEG = 0.8
"""The same where that turn was estimated from the foot clip (`ball_turn`) [deg]."""
PELVIS_YAW_SD_DEG, PELVIS_YAW_TIME_S = 6.0, 60.0
"""How far the pelvis turns away from square while playing, and how soon after a still pose, where nothing tells: goes
fully into one leg's azimuth, through the thigh's slope into its rotation, and not into the spread [deg, s]."""
PELVIS_YAW_OFF_PEDAL_SD_DEG = 2.0
"""The same in the still poses and range moves [deg]."""
AHEAD_SD_DEG = 1.5
"""How far a thigh is from straight ahead in a still pose [deg]."""
DRIFT_SD_DEG_PER_S = 0.035
"""Heading drift away from the nearest still pose without tape [deg/s]."""
TWIST_SD_DEG = 4.0
"""Twist of the shank about its own axis that is left after the tape was weighed in (before: `tape.TWIST_SD_RAD`); it
acts through the shank's lean [deg]."""
BOARD_SD_DEG = 4.0
"""Ankle angle assumed from the footboard pitch: the foot is not always flat on the board [deg]."""
KNOCK_SD_DEG = 10.0
"""Lean of gravity under knocks, times the share of samples bridged: 0.5 deg where 5 % are (a 12 g ring at every stroke,
on legs in the physics engine) [deg]."""
WITHHELD_FROM_DEG = 9.0
"""A single leg's sideways angle less sure than this is withheld [deg, 95 %]."""


@dataclass
class Uncertainty:
    """95 % half-widths of one leg, {column without side: (n,) deg}, and the azimuth's without the pelvis' part."""

    columns: dict[str, Floats]
    azimuth_alone: Floats


def pose_sd_deg(segment: str, ups: Sequence[Floats]) -> float:
    """Standard error of a segment's zero from its still poses [deg].

    ups : (3,) upward verticals in the sensor frame, one a pose. The spread of one pose is weighed between what is
    assumed (as good as two repeats) and what the repeats show.
    """
    assumed = POSE_SD_DEG[segment]
    if not ups:
        return assumed
    mean = np.mean(ups, axis=0)
    away = [np.degrees(np.arccos(np.clip(up @ mean / np.linalg.norm(mean), -1.0, 1.0))) for up in ups]
    seen = float(np.sum(np.square(away))) / 2.0  # two directions share the turn
    spread = np.sqrt((2.0 * assumed**2 + seen) / (2.0 + len(ups) - 1.0))
    return float(spread / np.sqrt(len(ups)))


def leg_uncertainty(
    leg: LegAngles,
    alignments: Mapping[str, Alignment],
    knocked: Mapping[str, float],
    measured: bool,
    assumed_ankle: bool,
    heel_down: Mask,
    pelvis_turn_sd_deg: Floats,
) -> Uncertainty:
    """95 % half-widths of one leg's angles.

    alignments : {segment: alignment}.   knocked : {segment: share of samples bridged under knocks}.
    measured : whether all taped lengths were measured.   assumed_ankle : the ankle angle rests on the board's pitch.
    heel_down : (n,) where the foot is known to play heel-down.   pelvis_turn_sd_deg : (n,) of the estimated turn of
    the pelvis, NaN where nothing tells it.
    """
    n = len(leg.by_tape)
    zero = {
        segment: math.hypot(alignment.long_axis_sd_deg, KNOCK_SD_DEG * knocked.get(segment, 0.0))
        for segment, alignment in alignments.items()
    }
    out = Uncertainty({}, np.full(n, np.nan))
    if "ankle_dorsiflexion" in leg.columns:
        ankle = (zero["shank"], BOARD_SD_DEG) if assumed_ankle else (zero["shank"], zero["foot"])
        out.columns["ankle_dorsiflexion"] = np.full(n, Z95 * math.hypot(*ankle, TISSUE_SD_DEG["ankle_dorsiflexion"]))
    if "hip_flexion" not in leg.columns:
        return out
    lean = leg.lean_rad
    through_lean = np.minimum(np.sin(lean), 0.3) * TWIST_SD_DEG
    out.columns["hip_flexion"] = np.full(n, Z95 * np.hypot(zero["thigh"], TISSUE_SD_DEG["hip_flexion"]))
    knee = np.sqrt(zero["thigh"] ** 2 + zero["shank"] ** 2 + TISSUE_SD_DEG["knee_flexion"] ** 2)
    out.columns["knee_flexion"] = Z95 * np.hypot(knee, np.sin(lean) * through_lean)
    untold = PELVIS_YAW_SD_DEG * np.sqrt(-np.expm1(-2.0 * leg.from_still_s / PELVIS_YAW_TIME_S))
    untold = np.hypot(PELVIS_YAW_OFF_PEDAL_SD_DEG, np.where(leg.on_pedal, untold, 0.0))
    yaw = np.where(np.isfinite(pelvis_turn_sd_deg), pelvis_turn_sd_deg, untold)
    played = leg.columns["hip_flexion"][leg.on_pedal]
    known = played[np.isfinite(played)]
    slope = float(np.median(known)) if known.size else math.nan if played.size else 90.0
    through_slope = yaw * abs(math.cos(math.radians(slope))) if math.isfinite(slope) else 0.2 * yaw
    rotation = np.hypot(zero["shank"], TISSUE_SD_DEG["hip_rotation"])
    out.columns["hip_rotation"] = Z95 * np.sqrt(rotation**2 + through_lean**2 + through_slope**2)
    ball = np.where(heel_down | ~leg.on_pedal, 0.0, np.where(leg.turn_followed, FOLLOWED_SD_DEG, HEEL_UP_SD_DEG))
    place = np.hypot(PLACE_SD_DEG[measured], ball)
    taped = np.sqrt(place**2 + through_lean**2 + TISSUE_SD_DEG["sideways"] ** 2)
    untaped = np.hypot(AHEAD_SD_DEG, DRIFT_SD_DEG_PER_S * leg.from_still_s)
    alone = np.where(leg.by_tape, taped, untaped)
    out.azimuth_alone = Z95 * alone
    for name in ("hip_horizontal_abduction", "hip_adduction"):
        out.columns[name] = Z95 * np.hypot(alone, yaw)
    return out
