"""How far an exposure figure may be off because the angle and the end of range were not measured exactly.

Half-widths at 95 % [deg], by what the figure rests on. All are ours: a repetition has a spread of 1.2, tissue of 1,
creep of a clip of 1 deg SD, wearing anew 3 deg, a norm that of the people it was taken from. Where no still pose at the
end shows that the clips still sit as they did, the band is wider by the smallest slip that could have gone unseen.
`benchmarks/offset_band.py` tries it on sessions whose drift has a spread of anything from 1 to 4 deg: the ankle's 6 deg
without a check at the end cover 94 to 98 %; the 4 deg without that widening covered 87 %. With kept repetitions and a
check at the end the ankle's band follows what was seen.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from .active_range import Source
from .end_checks import REPEAT_DEG
from .slips import TILT_DEG

_TISSUE_SD, _SMALLEST_REPETITION_SE, _SMALLEST_CREEP_SD = 1.0, 0.3, 0.5
_NARROWEST_DEG = 2.0
_REPETITION_SD = 1.2
_Z95 = 1.96
UNSEEN_SLIP_DEG = min(TILT_DEG[segment] for segment in ("foot", "shank", "thigh"))
"""The smallest slip that a still pose after the playing would have shown; without one it goes unseen [deg]. From about
this size on more than half of a shank's tilts are found (docs/slips.md)."""

# motion: (this session, earlier session or typed, norm), the clips checked at the end
_TABLE: dict[str, tuple[float, float, float]] = {
    "ankle_dorsiflexion": (4.0, 7.0, 12.0),
    "ankle_plantarflexion": (4.0, 7.0, 14.0),
    "hip_flexion": (6.0, 8.0, 27.0),
    "hip_rotation_by_shank": (6.0, 8.0, 20.0),
    "hip_rotation_by_thigh": (10.0, 12.0, 22.0),
    "hip_horizontal": (9.0, 11.0, 20.0),
    "hip_spread_taped": (5.0, 8.0, 28.0),
    "hip_spread_untaped": (9.0, 11.0, 28.0),
}


@dataclass(frozen=True)
class Band:
    """half_width_deg: 95 % [deg]. rests_on: for people."""

    half_width_deg: float
    rests_on: str


def offset_band(
    motion: str,
    source: Source,
    *,
    standard_error_deg: float | None = None,
    repetitions_used: int = 0,
    end_shift_deg: float | None = None,
    by_shank: bool = True,
    tape: bool = True,
    angle_deg: float | None = None,
) -> Band:
    """The band around the exposure figures of one motion.

    source: where the active end comes from. standard_error_deg, repetitions_used: of the kept repetitions.
    end_shift_deg: how far the end checks moved since the start (sole flat, shank at the mark) [deg]; None = no check.
    by_shank: hip rotation was taken from the shank. tape: spacing, reach and segment lengths were measured.
    angle_deg: 95 % half-width of the angle itself while playing (`uncertainty.py`): alignment, heading and drift, which
    matter at the hip; no band is narrower.
    """
    own = source == "this session"
    half = _TABLE[_row(motion, by_shank, tape)][0 if own else 2 if source == "norm" else 1]
    parts = [
        {
            "this session": "a range check in the same session",
            "typed": "a range measured by hand",
            "earlier session": "a range check of an earlier session",
            "norm": "a published norm instead of this person's range",
        }[source]
    ]
    if "rotation" in motion:
        parts.append("rotation seen by the shank" if by_shank else "rotation seen by the thigh's own roll")
    if motion == "hip_spread" or "horizontal" in motion:
        parts.append("tape-measured geometry" if tape else "no tape measurements")
    if end_shift_deg is None:
        half = math.hypot(half, UNSEEN_SLIP_DEG)
        parts.append(
            f"no still pose at the end: wider, for a clip that may have slipped by {UNSEEN_SLIP_DEG:g} deg unseen"
        )
    else:
        shift = abs(end_shift_deg)
        if own and motion.startswith("ankle") and repetitions_used >= 3 and standard_error_deg is not None:
            repetition = max(standard_error_deg, _SMALLEST_REPETITION_SE)
            spread = math.hypot(repetition, _TISSUE_SD, max(shift, _SMALLEST_CREEP_SD))
            half = max(_NARROWEST_DEG, _Z95 * spread)
            parts.append(f"{repetitions_used} repetitions and an end check that moved {shift:.1f} deg")
        elif shift > REPEAT_DEG:
            half = math.hypot(half, shift)
            parts.append(f"an end check that moved {shift:.1f} deg")
        else:
            parts.append("an end check that found the clips in place")
    if angle_deg is not None and angle_deg > half:
        half = angle_deg
        parts.append(f"an angle that is itself known to within {angle_deg:.1f} deg")
    return Band(half, "; ".join(parts))


def lift_half_width(lifts_deg: Sequence[float]) -> float:
    """How far the degrees gained in a lift test may be off, 95 % [deg]: repetition, and tissue that moves along.

    Rest and lifts are seconds apart, so mounting and creep cancel. lifts_deg : each lift's; fewer than two rest on the
    assumed spread of a repetition.
    """
    n = len(lifts_deg)
    error = statistics.stdev(lifts_deg) / math.sqrt(n) if n > 1 else _REPETITION_SD
    return _Z95 * math.hypot(max(error, _SMALLEST_REPETITION_SE), _TISSUE_SD)


def range_change_half_width(errors_deg: Sequence[float | None], end_shift_deg: float | None) -> float:
    """How far the change between two range checks of one wearing may be off, 95 % [deg]: repetition, tissue, creep.

    errors_deg : standard error of each end; None = of a single repetition. end_shift_deg : as in `offset_band`.
    """
    errors = [max(_REPETITION_SD if error is None else error, _SMALLEST_REPETITION_SE) for error in errors_deg]
    creep = _SMALLEST_CREEP_SD if end_shift_deg is None else max(abs(end_shift_deg), _SMALLEST_CREEP_SD)
    half = _Z95 * math.hypot(*errors, _TISSUE_SD, creep)
    return math.hypot(half, UNSEEN_SLIP_DEG) if end_shift_deg is None else half


def _row(motion: str, by_shank: bool, tape: bool) -> str:
    if "rotation" in motion:
        return "hip_rotation_by_shank" if by_shank else "hip_rotation_by_thigh"
    if "horizontal" in motion:
        return "hip_horizontal"
    if motion == "hip_spread":
        return "hip_spread_taped" if tape else "hip_spread_untaped"
    return motion
