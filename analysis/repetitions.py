"""Finding the repetitions of a range check in an angle trace.

A repetition is an excursion from rest toward the end. Its value is the median of its best second (among the seconds
whose median is within 0.5 deg of the highest, the steadiest), so that a knock or an overshoot does not count and a held
end does. Every repetition is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Span = tuple[float, float]

HELD_WINDOW_S = 1.0
HELD_SPREAD_DEG = 3.0  # 5th to 95th percentile within the held second; ours: tremor at an end is 1-2 deg
SMALLEST_EXCURSION_DEG = 3.0  # below this a span holds no movement; ours
SHORTEST_S = 0.3  # shorter excursions are knocks
_UP, _DOWN = 0.5, 0.35  # an excursion starts above / ends below these fractions of the way from rest to the top
_KNOWN_SHARE = 0.8
_GAP_S = 1.0  # nobody goes back to rest and up again within it
_NEAR_TOP_DEG = 0.5


@dataclass(frozen=True)
class Repetition:
    """One excursion toward the end of range.

    start_s, end_s: on the recording's axis [s]. held_deg: median of its best second [deg]. peak_deg: highest sample
    [deg]. held: that second stayed within 3 deg. invalid: marked as not to be used (pain, a wrong movement).
    practice, used: set when an end is formed from the repetitions.
    """

    start_s: float
    end_s: float
    held_deg: float
    peak_deg: float
    held: bool
    invalid: bool = False
    practice: bool = False
    used: bool = False

    def as_dict(self) -> dict[str, float | bool]:
        """For `exposure.json`."""
        return {
            "start_s": self.start_s,
            "end_s": self.end_s,
            "held_deg": self.held_deg,
            "peak_deg": self.peak_deg,
            "held": self.held,
            "invalid": self.invalid,
            "practice": self.practice,
            "used": self.used,
        }


def find_repetitions(
    time_s: NDArray[np.float64],
    trace_deg: NDArray[np.float64],
    spans: Sequence[Span],
    *,
    invalid: Sequence[Span] = (),
) -> tuple[Repetition, ...]:
    """The repetitions of one motion within the spans of its range phases, in order of time.

    time_s: (n,) uniform grid, increasing [s]. trace_deg: (n,) positive toward the end, NaN = not known [deg].
    spans: start and end of each range phase [s]. invalid: spans to leave out (a repetition that touches one is kept
    in the result and marked).
    Raises ValueError if the lengths differ.
    """
    if time_s.shape != trace_deg.shape or time_s.ndim != 1:
        raise ValueError(f"time_s {time_s.shape} and trace_deg {trace_deg.shape} must be (n,) and of one length")
    if len(time_s) < 3:
        return ()
    dt = float(time_s[-1] - time_s[0]) / (len(time_s) - 1)
    found: list[Repetition] = []
    for start_s, end_s in sorted(spans):
        first, last = np.searchsorted(time_s, (start_s, end_s))
        for i, j in _excursions(trace_deg[first:last], dt):
            repetition = _measure(time_s, trace_deg, int(first) + i, int(first) + j, dt)
            if repetition is not None:
                marked = any(a < repetition.end_s and b > repetition.start_s for a, b in invalid)
                found.append(_with(repetition, invalid=marked))
    return tuple(found)


def _with(repetition: Repetition, *, invalid: bool) -> Repetition:
    return Repetition(
        repetition.start_s, repetition.end_s, repetition.held_deg, repetition.peak_deg, repetition.held, invalid
    )


def _excursions(trace: NDArray[np.float64], dt: float) -> list[tuple[int, int]]:
    """Index pairs [i, j) of the excursions in one span; more than a second not known ends one."""
    known = np.isfinite(trace)
    values = np.sort(trace[known])
    if values.size * dt < 2 * SHORTEST_S:
        return []
    rest = values[int(0.1 * values.size)]
    top = values[-max(1, min(values.size, round(0.5 / dt)))]  # exceeded for half a second in all: no spike
    if top - rest < SMALLEST_EXCURSION_DEG:
        return []
    mark = np.zeros(trace.size, dtype=np.int8)
    mark[known & (trace > rest + _UP * (top - rest))] = 1
    mark[known & (trace < rest + _DOWN * (top - rest))] = -1
    mark[_long_runs(~known, round(_GAP_S / dt))] = -1
    latest = np.maximum.accumulate(np.where(mark != 0, np.arange(trace.size), 0))
    above = np.concatenate(([False], mark[latest] > 0, [False])).astype(np.int8)
    edges = np.diff(above)
    pairs = zip(np.flatnonzero(edges > 0).tolist(), np.flatnonzero(edges < 0).tolist(), strict=True)
    return [(i, j) for i, j in pairs if (j - i) * dt >= SHORTEST_S]


def _long_runs(flag: NDArray[np.bool_], longer_than: int) -> NDArray[np.bool_]:
    """True inside runs of `flag` longer than that many samples."""
    edges = np.diff(np.concatenate(([0], flag.astype(np.int8), [0])))
    out = np.zeros_like(flag)
    for i, j in zip(np.flatnonzero(edges > 0), np.flatnonzero(edges < 0), strict=True):
        out[i:j] = j - i > longer_than
    return out


def _measure(time_s: NDArray[np.float64], trace: NDArray[np.float64], i: int, j: int, dt: float) -> Repetition | None:
    piece = trace[i:j]
    width = max(2, round(HELD_WINDOW_S / dt))
    if piece.size >= width:
        windows = np.lib.stride_tricks.sliding_window_view(piece, width)[:: max(1, width // 20)]
        windows = windows[np.isfinite(windows).sum(axis=1) >= _KNOWN_SHARE * width]
        long_enough = True
    else:
        windows = piece[None, :]
        long_enough = False
    if not len(windows) or not np.isfinite(windows).any():
        return None
    whole = bool(np.isfinite(windows).all())  # the NaN-aware ones are much slower
    medians = np.median(windows, axis=1) if whole else np.nanmedian(windows, axis=1)
    near_top = medians >= medians.max() - _NEAR_TOP_DEG
    low, high = (np.percentile if whole else np.nanpercentile)(windows[near_top], [5, 95], axis=1)
    steadiest = int(np.argmin(high - low))
    return Repetition(
        start_s=float(time_s[i]),
        end_s=float(time_s[j - 1]),
        held_deg=float(medians[near_top][steadiest]),
        peak_deg=float(np.nanmax(piece)),
        held=bool(long_enough and high[steadiest] - low[steadiest] <= HELD_SPREAD_DEG),
    )
