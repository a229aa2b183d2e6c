"""When a clip's tick was: its clock against the computer's, from the frames that came fastest.

A frame arrives some time after its last sample was taken, never before. Seen over the clip's own time, these delays lie
above an edge: a straight line where both clocks keep their pace. The line is the highest below all delays (Moon, Skelly
and Towsley, INFOCOM 1999, doi 10.1109/INFCOM.1999.749287), read from their lower convex hull (Zhang, Liu and Xia,
INFOCOM 2002): the edge of the hull over the mean time. A part's pace changes as it warms up on the leg, so over long
runs the line may bend a little from knot to knot (ours; a small linear programme). The shortest delay itself cannot be
known from this: it is taken as the same for all clips.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

PLAUSIBLE_PPM = 150.0
"""A clock that seems worse than this over a short time has been seen too briefly (ours; crystals keep within 50)."""
LONG_S = 120.0
"""A run as long as this shows its own pace."""
KNOT_S = 300.0
"""From one bend of the line to the next."""
BEND_PPM = 5.0
"""Most change of pace from knot to knot: 1 ppm a minute, more than a crystal does that warms up on a leg (ours)."""
CRYSTAL_S = 0.006
"""No crystal on a leg leaves a straight line by more in an hour (15 ppm of warming do so by 5.5 ms in simulation). What
does is a way that got slower for all frames, which the straight line bears and a bent one would follow."""
_NO_MATTER_S = 0.001  # so little may be either
_EXPLAINED = (
    0.35  # of what the straight line leaves: a warming crystal leaves the bent one 0.15 of it, a step 0.4 to 0.9
)
_LEAST_IN_WINDOW = 40
_BEYOND_JITTER_S = 0.02  # a bounded line that lies so far below the unbounded one is wrong


@dataclass(frozen=True)
class ClockFit:
    """A clip's clock in one run: straight between knots.

    tick_s, host_s : (k,) knots, k >= 2. skew_ppm : how much the clip's clock is too fast, over the whole run.
    uncertainty_s : half-width within which the edge is known, 95 %, the shortest delay not counted [s]; where the line
    bends it holds the straight one, too: a way that got a little slower looks the same as a crystal that warms up.
    """

    tick_s: Floats
    host_s: Floats
    skew_ppm: float
    uncertainty_s: float

    def to_host(self, tick_s: Floats) -> Floats:
        """Host time of ticks [s]; beyond the knots the pace of the ends goes on."""
        found = np.interp(tick_s, self.tick_s, self.host_s)
        for end, inner, beyond in ((0, 1, tick_s < self.tick_s[0]), (-1, -2, tick_s > self.tick_s[-1])):
            if beyond.any():
                pace = (self.host_s[inner] - self.host_s[end]) / (self.tick_s[inner] - self.tick_s[end])
                found[beyond] = self.host_s[end] + pace * (tick_s[beyond] - self.tick_s[end])
        return found

    def shifted(self, by_s: float) -> ClockFit:
        """The same clock, later by `by_s` [s]."""
        return replace(self, host_s=self.host_s + by_s)


def fit_clock(tick_s: Floats, arrived_s: Floats, skew_ppm: float | None = None) -> ClockFit:
    """Fit the clock of one run.

    tick_s : (m,) tick of the last sample of each frame, increasing [s]. arrived_s : (m,) when each was there [s].
    skew_ppm : of the same clip in a longer run; used when this one is short.
    Raises ValueError without frames.
    """
    if not len(tick_s):
        raise ValueError("no frames to fit a clock to")
    start, delay = float(tick_s[0]), arrived_s - tick_s
    base = float(delay[0])
    x, y = tick_s - start, delay - base
    long = x[-1] >= LONG_S
    bounds = (-PLAUSIBLE_PPM * 1e-6, PLAUSIBLE_PPM * 1e-6)
    if not long and skew_ppm is not None:
        bounds = (-skew_ppm * 1e-6, -skew_ppm * 1e-6)
    slope, level = lower_edge(x, y, None if long else bounds)
    if not long and skew_ppm is None:
        free = lower_edge(x, y)
        middle = float(x.mean())
        if free[1] + free[0] * middle - level - slope * middle > _BEYOND_JITTER_S:
            slope, level = free
    knots = np.array([0.0, max(float(x[-1]), 1e-3)])
    edge = level + slope * knots
    either_s = 0.0
    if x[-1] >= 2 * KNOT_S:
        bends, bent = bent_edge(x, y, slope, level)
        if _is_crystal(x, y - (level + slope * x), y - np.interp(x, bends, bent)):
            knots, edge = bends, bent
            either_s = float(np.abs(edge - (level + slope * knots)).max())
    pace = float((edge[-1] - edge[0]) / (knots[-1] - knots[0]))
    above = y - np.interp(x, knots, edge)
    unsure_s = edge_uncertainty_s(x, above, float(knots[1])) + either_s
    return ClockFit(start + knots, start + base + knots + edge, -1e6 * pace / (1 + pace), unsure_s)


def lower_edge(x: Floats, y: Floats, slopes: tuple[float, float] | None = None) -> tuple[float, float]:
    """The line (slope, level at x = 0) below all points with the smallest summed gap.

    x : (m,) not decreasing. slopes : smallest and largest slope allowed.
    """
    hull_x, hull_y = lower_hull(x, y)
    if len(hull_x) < 2:
        slope = 0.0
    else:
        at = int(np.clip(np.searchsorted(hull_x, x.mean(), side="right") - 1, 0, len(hull_x) - 2))
        slope = float((hull_y[at + 1] - hull_y[at]) / (hull_x[at + 1] - hull_x[at]))
    if slopes is not None:
        slope = min(max(slope, slopes[0]), slopes[1])
    return slope, float((hull_y - slope * hull_x).min())


def lower_hull(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Corners of the lower convex hull, x increasing. x : (m,) not decreasing."""
    starts = np.flatnonzero(np.diff(x, prepend=-np.inf))
    x, y = x[starts], np.minimum.reduceat(y, starts)
    while len(x) > 2:  # a point on or above the chord of its neighbours is no corner, whatever else goes
        chord = y[:-2] + (y[2:] - y[:-2]) * (x[1:-1] - x[:-2]) / (x[2:] - x[:-2])
        kept = np.concatenate([[True], y[1:-1] < chord, [True]])
        if kept.all():
            break
        x, y = x[kept], y[kept]
    return x, y


def bent_edge(x: Floats, y: Floats, slope: float, level: float) -> tuple[Floats, Floats]:
    """The highest line below all points that bends by at most `BEND_PPM` at each knot: (knots, values there).

    slope, level : of the straight one, which is given back when the solver finds none.
    """
    from scipy.optimize import linprog

    count = max(2, round(float(x[-1]) / KNOT_S))
    knots = np.linspace(0.0, float(x[-1]), count + 1)
    width = knots[1]
    straight = level + slope * knots
    rest = y - (level + slope * x)
    inside = np.minimum((x / width).astype(int), count - 1)
    share = x / width - inside
    weights = np.bincount(inside, 1 - share, count + 1) + np.bincount(inside + 1, share, count + 1)
    rows, most = [], []
    for segment in range(count):
        low, high = np.searchsorted(inside, [segment, segment + 1])
        if low == high:
            continue
        for corner_x, corner_y in zip(*lower_hull(x[low:high], rest[low:high]), strict=True):
            row = np.zeros(count + 1)
            part = corner_x / width - segment
            row[segment], row[segment + 1] = 1 - part, part
            rows.append(row)
            most.append(corner_y)
    for knot in range(1, count):
        bend = np.zeros(count + 1)
        bend[knot - 1 : knot + 2] = (1.0, -2.0, 1.0)
        rows += [bend, -bend]
        most += [BEND_PPM * 1e-6 * width] * 2
    found = linprog(-weights / weights.sum(), np.array(rows), np.array(most), bounds=(None, None)).x
    return knots, straight if found is None else straight + found


def _is_crystal(x: Floats, above_straight: Floats, above_bent: Floats) -> bool:
    """Whether what the straight line leaves is a crystal's warming: little, and gone with the bends [s]."""
    left_s = _highest_gap_s(x, above_straight)
    gone = left_s < _NO_MATTER_S or _highest_gap_s(x, above_bent) < _EXPLAINED * left_s
    return gone and left_s < CRYSTAL_S * max(1.0, x[-1] / 3600)


def _highest_gap_s(x: Floats, above: Floats) -> float:
    """How far the fastest frames stay above a line where they do so most, window by window [s]."""
    windows = np.split(above, np.searchsorted(x, np.arange(KNOT_S / 2, x[-1], KNOT_S / 2)))
    return max((float(part.min()) for part in windows if len(part) >= _LEAST_IN_WINDOW), default=0.0)


def edge_uncertainty_s(x: Floats, above: Floats, width_s: float) -> float:
    """Half-width, 95 %, within which the edge is known [s].

    above : (m,) how far each delay lies above it [s]. width_s : from knot to knot [s].

    In each of up to 24 windows the fastest frame should touch the edge; how far it stays above, and half as much again
    (more where there are few windows), shows how well it is known where none touches it. To this comes how far a
    warming crystal's line may bow between knots. Ours; its coverage is measured on simulated delays.
    """
    windows = int(min(24, max(2, len(x) // 40)))
    edges = np.searchsorted(x, np.linspace(x[0], x[-1], windows + 1)[1:-1])
    least = [float(part.min()) for part in np.split(above, edges) if len(part)]
    seen = float(np.quantile(least, 0.95)) if len(least) > 1 else float(np.median(above))
    return (1.5 if windows > 8 else 3.0) * seen + min(BEND_PPM * 1e-6 / KNOT_S * width_s**2 / 8, CRYSTAL_S)
