"""Signs of tiring over a session: does a figure of the strokes or of posture rise or fall, block by block.

"No trend" is the ordinary answer. A trend is a sign to take a rest, not a finding about a body, and nobody is ever
asked to play to exhaustion: loss of control, cramp or pain is a reason to stop and to see a clinician. No norm for feet
at a pedal was found; what counts as a change worth saying is ours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter1d

from .evenness import interval_figures, steady_intervals
from .exposure import NotKnown
from .smoothness import log_dimensionless_jerk, movement_speed, sparc
from .strokes import Strokes
from .trends import theil_sen

Floats = NDArray[np.float64]
Span = tuple[float, float]

WORTH: dict[str, float] = {
    "room_deg": 1.0,
    "excursion_deg": 1.0,
    "interval_cv": 0.01,
    "sparc": 0.2,
    "ldlj": 0.5,
    "posture_deg": 2.0,
}
"""Change over the session below which nothing is said, in the sign's unit (ours)."""
LIFTS_PER_BLOCK = 8
SMOOTHED_HZ = 20.0
SPARC_CUTOFF_HZ = 20.0  # a lift takes 0.1 to 0.3 s; the 10 Hz of arm movements would cut into it (ours)


def stroke_signs(
    strokes: Strokes, dorsiflexion_deg: Floats, rate_hz: float, blocks: Sequence[Span]
) -> dict[str, Floats]:
    """Per block, (b,) each and NaN where not known: `excursion_deg`, `interval_cv`, `sparc`, `ldlj`.

    dorsiflexion_deg : (n,) on the grid the strokes were found on [deg]. blocks : start and end of each [s].
    Excursion needs three strokes in a block. Smoothness is the median over at most 8 lifts of the foot, evenly chosen.
    """
    out = {name: np.full(len(blocks), np.nan) for name in ("excursion_deg", "interval_cv", "sparc", "ldlj")}
    if not strokes.count:
        return out
    # 3 dB at 20 Hz: jerk is made of noise otherwise. What is not known stays so, and spreads by six samples at most.
    smoothed = gaussian_filter1d(dorsiflexion_deg, 0.1325 / SMOOTHED_HZ * rate_hz)
    for b, (start, stop) in enumerate(blocks):
        first, last = np.searchsorted(strokes.time_s, (start, stop)).tolist()
        if last - first < 3:
            continue
        out["excursion_deg"][b] = np.median(strokes.excursion_deg[first:last])
        even = interval_figures(*steady_intervals(strokes.time_s[first:last], strokes.run[first:last]))
        if even is not None and even["cv"] is not None:
            out["interval_cv"][b] = even["cv"]
        out["sparc"][b], out["ldlj"][b] = _smoothness(strokes, smoothed, rate_hz, first, last)
    return out


def _smoothness(strokes: Strokes, angle: Floats, rate_hz: float, first: int, last: int) -> tuple[float, float]:
    """Median SPARC and LDLJ of lifts: from a stroke's low point to the top of the next."""
    count = min(LIFTS_PER_BLOCK, last - first - 1)
    arcs: list[float] = []
    jerks: list[float] = []
    for i in np.linspace(first, last - 2, count).round().astype(int).tolist():
        if strokes.run[i] != strokes.run[i + 1]:
            continue
        speed = movement_speed(angle[strokes.bottom[i] : strokes.top[i + 1] + 1], rate_hz)
        arc, jerk = sparc(speed, rate_hz, cutoff_hz=SPARC_CUTOFF_HZ), log_dimensionless_jerk(speed, rate_hz)
        if arc is not None and jerk is not None:
            arcs.append(arc)
            jerks.append(jerk)
    return (float(np.median(arcs)), float(np.median(jerks))) if len(arcs) >= 3 else (np.nan, np.nan)


def block_medians(angle_deg: Floats, slices: Sequence[slice]) -> Floats:
    """Median of an angle in each block, (b,) [deg]; NaN where none of it is known."""
    out = np.full(len(slices), np.nan)
    for b, here in enumerate(slices):
        known = angle_deg[here]
        known = known[np.isfinite(known)]
        if known.size:
            out[b] = np.median(known)
    return out


def sign_trend(
    name: str, middle_s: Floats, value: Floats, group: Sequence[object] | None = None
) -> dict[str, Any] | NotKnown:
    """The trend of one sign over blocks, as plain data; `name` of `WORTH` says from what change on it counts.

    middle_s, value : (b,) [s] and the sign's unit. group : (b,) exercise and tempo of each block.
    """
    found = theil_sen(middle_s, value, group=group, worth=WORTH[name])
    if isinstance(found, NotKnown):
        return found
    return {
        "per_minute": found.per_minute,
        "interval_per_minute": [found.low, found.high],
        "change": found.change,
        "over_s": found.over_s,
        "blocks": found.blocks,
        "verdict": found.verdict,
    }


def all_trends(
    signs: Mapping[str, Floats], middle_s: Floats, group: Sequence[object] | None = None
) -> tuple[dict[str, Any], dict[str, str]]:
    """Trends of all signs, and why the others have none: ({sign: trend}, {sign: reason})."""
    trends: dict[str, Any] = {}
    unknown: dict[str, str] = {}
    for name, value in signs.items():
        found = sign_trend(name, middle_s, value, group)
        if isinstance(found, NotKnown):
            unknown[name] = found.reason
        else:
            trends[name] = found
    return trends, unknown
