"""Figures of the end zone, and where they lie as its line is moved by the offset band."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .levels import recovery_gaps, stay_figures

Floats = NDArray[np.float64]

ZONE_FIGURES: tuple[str, ...] = (
    "seconds_per_minute", "degree_seconds_past", "entries_per_minute", "longest_stay_s", "stays", "median_stay_s",
    "held_stays", "held_share", "repeated_share", "stays_by_duration", "gaps_per_minute", "gap_share", "median_gap_s",
    "longest_gap_s", "longest_without_gap_s",
)  # fmt: skip
"""What `zone_figures` gives."""
_TABLE = "stays_by_duration"
MOVED: tuple[float, ...] = tuple(part / 8.0 for part in range(-8, 9) if part)
"""Where in the band the figures are computed again, in half-widths. At four places instead of sixteen 92 % of the true
entries per minute and 86 % of the gaps lay in their bands, at sixteen 95 to 97 % (`benchmarks/offset_band.py`)."""


def zone_figures(trace_deg: Floats, line_deg: float, dt_s: float) -> dict[str, Any]:
    """Everything said of the time beyond a line, which is in the end zone (`ZONE_FIGURES`).

    trace_deg : (n,) toward the end, the playing only, on a grid of dt_s [s]; NaN = not known, but not all [deg].
    """
    known, inside = np.isfinite(trace_deg), trace_deg > line_deg
    known_s = float(np.count_nonzero(known)) * dt_s
    return {
        "seconds_per_minute": 60.0 * float(np.count_nonzero(inside)) * dt_s / known_s,
        "degree_seconds_past": float(np.sum(trace_deg[inside] - line_deg)) * dt_s,
        **stay_figures(inside, dt_s, known_s),
        **recovery_gaps(inside, known, dt_s),
    }


def banded_zone_figures(
    trace_deg: Floats, line_deg: float, dt_s: float, half_width_deg: float
) -> tuple[dict[str, Any], dict[str, list[float]]]:
    """`zone_figures`, and the least and the most of each as the line is moved by up to half_width_deg [deg].

    Entries, stays and gaps do not simply grow with the zone, so many lines are tried (`MOVED`).
    Where a figure has no value at one of the lines (no stay, no gap) its band is of the others, and absent without any.
    `stays_by_duration` gets `low` and `high`, of its shares.
    """
    figures = zone_figures(trace_deg, line_deg, dt_s)
    reached = float(np.nanmax(trace_deg)) > line_deg - half_width_deg  # else nothing changes within the band
    lines = [line_deg + part * half_width_deg for part in MOVED] if reached else []
    moved = [figures, *(zone_figures(trace_deg, line, dt_s) for line in lines)]
    bands: dict[str, list[float]] = {}
    for name in ZONE_FIGURES:
        found = [one[name] for one in moved if one[name] is not None]
        if name == _TABLE:
            shares = np.array([one["share"] for one in found])
            figures[name] |= {"low": shares.min(axis=0).tolist(), "high": shares.max(axis=0).tolist()}
        elif found:
            bands[name] = [min(found), max(found)]
    return figures, bands
