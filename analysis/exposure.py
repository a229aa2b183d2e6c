"""How much of the playing time is spent near the end of active range, per motion and set-up.

Room is the active end minus the angle [deg]; negative room is past the end. All shares are of known playing time, 0-1:
a sample stands for one grid step and NaN adds no time. Shares and percentiles are exact (one sort per motion, no
histogram); the room histogram is for drawing only and has 1 degree classes.

Amplitude distribution: Jonsson B 1982, J Hum Ergol 11:73-88 (its load limits are for muscle activity and do not apply).
No standard sets a line as a fraction of a person's own range: the line is ours, and swept.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ..logger.errors import InputError
from .active_range import ActiveEnd
from .end_zone import ZONE_FIGURES, banded_zone_figures
from .offset_band import Band

Span = tuple[float, float]

ROOM_SWEEP_DEG: tuple[str, ...] = ("0", "2.5", "5", "7.5", "10", "15")
FRACTION_SWEEP: tuple[str, ...] = tuple(f"{percent / 100:.2f}" for percent in range(50, 111, 5))


@dataclass(frozen=True)
class NotKnown:
    """No figure can be given. reason: one clause for `quality.withheld`."""

    reason: str


def zone_from_fraction(active_end_deg: float, fraction: float) -> float:
    """Width of the end zone that begins at `fraction` of the way from neutral to the end [deg].

    Raises InputError unless 0 < fraction < 1 and the end lies beyond neutral.
    """
    if not 0.0 < fraction < 1.0:
        raise InputError(
            f"an end zone cannot begin at the fraction {fraction:g}; give one between 0 and 1, such as 0.8"
        )
    if not active_end_deg > 0.0:
        raise InputError(f"an active end of {active_end_deg:g} deg has no fractions; give the end zone in degrees")
    return active_end_deg * (1.0 - fraction)


def motion_exposure(
    time_s: NDArray[np.float64],
    trace_deg: NDArray[np.float64],
    spans: Sequence[Span],
    end: ActiveEnd,
    *,
    zone_deg: float,
    band: Band,
    block_s: float = 60.0,
    motion: str = "this motion",
) -> dict[str, Any] | NotKnown:
    """All exposure figures of one motion on one side in one set-up, as `exposure.json` holds them.

    time_s: (n,) uniform grid, gaps filled with NaN angles [s]. trace_deg: (n,) positive toward the end, NaN = not
    known [deg]. spans: playing on this set-up [s]; overlapping ones count once. zone_deg: width of the end zone [deg].
    block_s: length of a block [s]; each span is cut into equal pieces as near to it as whole numbers allow.
    Returns NotKnown where no playing time is known. Figures of the end zone are None for an end made by contact,
    and where the zone is as wide as the range.
    Raises InputError for a zone, block or end that cannot be used, ValueError for arrays that do not fit.
    """
    _check(zone_deg, block_s, end, motion)
    if time_s.shape != trace_deg.shape or time_s.ndim != 1:
        raise ValueError(f"time_s {time_s.shape} and trace_deg {trace_deg.shape} must be (n,) and of one length")
    if time_s.size < 2:
        return NotKnown("the recording holds fewer than two samples")
    dt = float(time_s[-1] - time_s[0]) / (time_s.size - 1)
    steps = np.diff(time_s)
    if not dt > 0 or float(np.ptp(steps)) > 0.01 * dt + 1e-6:
        raise ValueError("time_s must be a uniform, increasing grid")
    pieces = [(a, b) for a, b in (_indices(time_s, span) for span in merge_spans(spans)) if b > a]
    if not pieces:
        return NotKnown("no playing phase lies within the recording")
    trace = joined(trace_deg, [slice(a, b) for a, b in pieces])
    ordered = np.sort(trace)  # NaN last
    ordered = ordered[: int(np.searchsorted(ordered, np.inf, side="right"))]
    playing_s = sum(b - a for a, b in pieces) * dt
    known_s = ordered.size * dt
    if not ordered.size:
        return NotKnown(f"none of the {playing_s:.0f} s of playing gave a known angle")
    at = _Distribution(ordered, end.value_deg)
    half = band.half_width_deg
    median_room = at.room_percentile(50)
    figures: dict[str, Any] = {
        "active_end_deg": end.value_deg,
        "range_source": end.source,
        "contact": end.contact,
        "zone_deg": float(zone_deg),
        "known_s": known_s,
        "playing_s": playing_s,
        "median_room_deg": median_room,
        "band_median_room_deg": [median_room - half, median_room + half],
        "p05_room_deg": at.room_percentile(5),
        "angle_percentiles_deg": {str(p): end.value_deg - at.room_percentile(100 - p) for p in (10, 50, 90)},
        "band_half_width_deg": half,
        "band_rests_on": band.rests_on,
        "room_histogram": at.room_histogram(),
        "block_s": block_s,
        "blocks": _blocks(time_s, trace_deg, pieces, end, zone_deg, half, block_s, dt),
    }
    figures |= _zone_figures(trace, at, end, zone_deg, half, dt)
    figures["zone_flag"] = None if end.contact else _zone_flag(end, zone_deg)
    return figures


def merge_spans(spans: Sequence[Span]) -> list[Span]:
    """Spans in order of time, overlapping or touching ones made one."""
    merged: list[Span] = []
    for start, stop in sorted(spans):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], stop))
        else:
            merged.append((start, stop))
    return merged


class _Distribution:
    """Shares and percentiles of known angles in order, (n,) [deg], with room to `end_deg`."""

    def __init__(self, ordered: NDArray[np.float64], end_deg: float) -> None:
        self.ordered, self.end_deg = ordered, end_deg

    def share_room_below(self, room_deg: float) -> float:
        """Share with room < room_deg."""
        below = int(np.searchsorted(self.ordered, self.end_deg - room_deg, side="right"))
        return (self.ordered.size - below) / self.ordered.size

    def band_room_below(self, room_deg: float, half_deg: float) -> list[float]:
        """The same share with the line moved by half_deg either way."""
        return [self.share_room_below(room_deg - half_deg), self.share_room_below(room_deg + half_deg)]

    def share_at_least(self, angle_deg: float) -> float:
        """Share with angle >= angle_deg."""
        below = int(np.searchsorted(self.ordered, angle_deg, side="left"))
        return (self.ordered.size - below) / self.ordered.size

    def room_percentile(self, percent: float) -> float:
        """Percentile of room, linear between samples [deg]."""
        place = (100.0 - percent) / 100.0 * (self.ordered.size - 1)
        low = math.floor(place)
        high = min(low + 1, self.ordered.size - 1)
        a, b = float(self.ordered[low]), float(self.ordered[high])
        return self.end_deg - (a + (b - a) * (place - low))

    def room_histogram(self) -> dict[str, list[float]]:
        """Shares of known time in classes of 1 degree of room, from the smallest to the largest room seen."""
        lowest = math.floor(self.end_deg - float(self.ordered[-1]))
        highest = max(lowest + 1, math.floor(self.end_deg - float(self.ordered[0])) + 1)
        edges = np.arange(lowest, highest + 1, dtype=np.float64)
        not_above = np.searchsorted(self.ordered, self.end_deg - edges, side="right")  # angle <= end - edge
        counts = -np.diff(not_above)
        counts[0] += self.ordered.size - not_above[0]  # rounding at the outer edges
        counts[-1] += not_above[-1]
        return {"edges_deg": edges.tolist(), "share": (counts / self.ordered.size).tolist()}


def _zone_figures(
    trace: NDArray[np.float64], at: _Distribution, end: ActiveEnd, zone_deg: float, half: float, dt: float
) -> dict[str, Any]:
    names = ("share_near_end", "share_past_end", "band_near_end", "band_past_end", *ZONE_FIGURES)
    p05 = at.room_percentile(5)
    bands = {"p05_room_deg": [p05 - half, p05 + half]}
    if end.contact:
        swept = {name: dict.fromkeys(ROOM_SWEEP_DEG) for name in ("share_by_room_deg", "band_by_room_deg")}
        swept |= {name: dict.fromkeys(FRACTION_SWEEP) for name in ("share_by_fraction", "band_by_fraction")}
        return {**dict.fromkeys(names), **swept, "bands": bands}
    beyond_neutral = end.value_deg > 0.0
    lines = {text: float(text) * end.value_deg for text in FRACTION_SWEEP}
    swept = {
        "share_by_room_deg": {room: at.share_room_below(float(room)) for room in ROOM_SWEEP_DEG},
        "band_by_room_deg": {room: at.band_room_below(float(room), half) for room in ROOM_SWEEP_DEG},
        "share_by_fraction": {
            text: at.share_at_least(line) if beyond_neutral else None for text, line in lines.items()
        },
        "band_by_fraction": {
            text: [at.share_at_least(line + half), at.share_at_least(line - half)] if beyond_neutral else None
            for text, line in lines.items()
        },
    }
    past = {"share_past_end": at.share_room_below(0.0), "band_past_end": at.band_room_below(0.0, half)}
    if not has_zone(end, zone_deg):
        return {**dict.fromkeys(names), **(past if beyond_neutral else {}), **swept, "bands": bands}
    figures, of_zone = banded_zone_figures(trace, end.value_deg - zone_deg, dt, half)
    return {
        "share_near_end": at.share_room_below(zone_deg),
        "band_near_end": at.band_room_below(zone_deg, half),
        **past,
        **figures,
        **swept,
        "bands": bands | of_zone,
    }


def has_zone(end: ActiveEnd, zone_deg: float) -> bool:
    """Whether an end zone has a meaning: not where legs touch, nor where it is as wide as the range from neutral."""
    return not end.contact and zone_deg < end.value_deg


def _zone_flag(end: ActiveEnd, zone_deg: float) -> str | None:
    """What makes the share near the end weak evidence, or None."""
    if end.value_deg <= 0.0:
        return (
            f"the active end ({end.value_deg:.1f} deg) does not reach beyond neutral, so there is no end zone, and "
            "no fractions of the range: measure it again"
        )
    if zone_deg >= end.value_deg:
        return (
            f"the end zone ({zone_deg:g} deg) is as wide as the whole range from neutral ({end.value_deg:.1f} deg), so "
            "time in it is not given: judge on median room"
        )
    error = end.standard_error_deg
    if error is not None and zone_deg < 2.0 * error:
        return (
            f"the end zone ({zone_deg:g} deg) is narrower than twice the standard error of the range check "
            f"({error:.1f} deg): judge on median room"
        )
    return None


def _blocks(
    time_s: NDArray[np.float64],
    trace_deg: NDArray[np.float64],
    pieces: list[tuple[int, int]],
    end: ActiveEnd,
    zone_deg: float,
    half: float,
    block_s: float,
    dt: float,
) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = []
    line = end.value_deg - zone_deg
    for first, last in pieces:
        count = max(1, math.floor((last - first) * dt / block_s + 0.5))
        cuts = np.linspace(first, last, count + 1).round().astype(int).tolist()
        for i, j in zip(cuts[:-1], cuts[1:], strict=True):
            values = trace_deg[i:j]
            values = values[np.isfinite(values)]
            zoned = bool(values.size) and has_zone(end, zone_deg)
            near, low, high = (
                float(np.mean(values > at)) if zoned else None for at in (line, line + half, line - half)
            )
            rows.append(
                {
                    "start_s": float(time_s[i]),
                    "end_s": float(time_s[j - 1]) + dt,
                    "known_s": values.size * dt,
                    "median_room_deg": end.value_deg - float(np.median(values)) if values.size else None,
                    "share_near_end": near,
                    "band_near_end": [low, high] if zoned else None,
                }
            )
    return rows


def _indices(time_s: NDArray[np.float64], span: Span) -> tuple[int, int]:
    first, last = np.searchsorted(time_s, span, side="left")
    return int(first), int(last)


def joined(values: NDArray[np.float64], pieces: Sequence[slice]) -> NDArray[np.float64]:
    """Pieces of a trace one after another with a NaN between them (a stay never crosses); infinities become NaN."""
    gap = np.array([np.nan])
    parts: list[NDArray[np.float64]] = []
    for piece in pieces:
        parts += [values[piece], gap]
    out = np.concatenate(parts) if parts else np.zeros(0)
    out[np.isinf(out)] = np.nan
    return out


def _check(zone_deg: float, block_s: float, end: ActiveEnd, motion: str) -> None:
    if not (math.isfinite(zone_deg) and zone_deg > 0.0):
        raise InputError(f"the end zone of {motion} is {zone_deg:g} deg; give a width above 0, such as 5")
    if not (math.isfinite(block_s) and block_s > 0.0):
        raise InputError(f"blocks of {block_s:g} s cannot be made; give a length above 0, such as 60")
    if not math.isfinite(end.value_deg):
        raise InputError(f"the active end of {motion} is not a number; measure the range again or type it in degrees")
