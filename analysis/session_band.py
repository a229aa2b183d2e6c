"""The offset band of one motion in some spans of a session, from what the session knows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from ..logger.models import SIDES
from .active_range import ActiveEnd
from .exposure import merge_spans
from .motions import BOTH, angle_column
from .offset_band import Band, offset_band
from .repetitions import Span
from .session_angles import SessionAngles


def motion_band(
    angles: SessionAngles, side: str, motion: str, end: ActiveEnd, shifts: Mapping[str, float], spans: Sequence[Span]
) -> Band:
    """How far room may be off in `spans` [s]. shifts : {clip: deg} of the end checks."""
    return offset_band(
        motion,
        end.source,
        standard_error_deg=end.standard_error_deg,
        repetitions_used=end.used,
        end_shift_deg=end_shift(motion, side, shifts),
        tape=_taped(angles, side, spans),
        angle_deg=angle_half_width(angles, angle_column(motion, side), spans),
    )


def end_shift(motion: str, side: str, shifts: Mapping[str, float]) -> float | None:
    """The end check that bears on a motion [deg]: of the clips its angle is made of; None without one."""
    segments = ("foot", "shank") if motion.startswith("ankle") else ("thigh", "shank")
    clips = [f"{s}_{segment}" for s in (SIDES if side == BOTH else (side,)) for segment in segments]
    found = [shifts[clip] for clip in clips if clip in shifts]
    return float(np.max(found)) if found else None


def angle_half_width(angles: SessionAngles, column: str, spans: Sequence[Span]) -> float | None:
    """The ordinary 95 % half-width of an angle in some spans [deg]; None where it is not known."""
    step = max(1, round(angles.grid.rate_hz))  # it changes slowly
    parts = [angles.grid.slice(*span) for span in merge_spans(spans)]
    sure = np.concatenate([angles.uncertainty[column][part][::step] for part in parts])
    sure = sure[np.isfinite(sure)]
    return float(np.median(sure)) if sure.size else None


def _taped(angles: SessionAngles, side: str, spans: Sequence[Span]) -> bool:
    """Whether a hip azimuth rested on tape measures for most of some spans."""
    here = angles.grid.mask(spans)
    sides = SIDES if side == BOTH else (side,)
    return (
        all(s in angles.by_tape and float(angles.by_tape[s][here].mean()) > 0.5 for s in sides) if here.any() else False
    )
