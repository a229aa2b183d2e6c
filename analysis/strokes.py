"""Strokes of one foot, found in the ankle angle: one fall and rise of it is one stroke.

Works from one stroke in two seconds to 13 a second (a hobby claim, weak). Ours throughout, no source: turning points of
at least 1 deg; a fall or rise below 15 % of what its neighbours do is no stroke of its own; two within 60 ms are
one. Some techniques turn the ankle twice in a stroke. Only where the second turn is shallower AND follows at uneven
times, again and again, is it taken as part of the first; where every second one is merely shallower (an accent, or two
strokes from one movement of the leg) nobody can tell from an angle, so all are counted and `alternating_share` says so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter, percentile_filter, uniform_filter1d

from .turning_points import Floats, Indices, turning_points

SMALLEST_DEG = 1.0
REFRACTORY_S = 0.06
"""Two low points nearer than this are one stroke [s]; intervals of a foot go down to 75 ms (domain rule 4)."""
FAST_PER_S = 8.0
"""A sustained rate above this is unusual for one foot and is said [1/s] (our plausibility bound, no source)."""
_QUICK_S, _QUICK_PART, _QUICK_DEG = 0.25, 0.2, 0.7  # a stroke falls by this much within so short a time
_ARRIVAL_S, _ARRIVAL_DEG = 1.0, 1.0
_PART = 0.15
_NEIGHBOURS = 31
_ALTERNATING = 17  # strokes over which alternation is looked for
_SHALLOW = 0.7  # the shallower of two alternating turns is at most this part of the deeper
_UNEVEN = 1.25  # of the two alternating intervals the longer is at least this many times the shorter


@dataclass(frozen=True)
class Strokes:
    """time_s : (k,) when the foot has come down, within 1 deg (or a fifth of the fall) of the lowest point [s].

    excursion_deg : (k,) how far the ankle fell to it [deg]. top, bottom : (k,) sample indices of the fall.
    run : (k,) number of the stretch of known angle each lies in. alternating_share : part of the strokes in stretches
    where every second is clearly shallower at even times (0-1). doubled : second turns counted with the first.
    """

    time_s: Floats
    excursion_deg: Floats
    top: Indices
    bottom: Indices
    run: Indices
    alternating_share: float
    doubled: int

    @property
    def count(self) -> int:
        """Number of strokes."""
        return int(self.time_s.size)


def find_strokes(
    dorsiflexion_deg: Floats, rate_hz: float, start_s: float = 0.0, *, turns: int | None = None
) -> Strokes:
    """The strokes in an ankle angle.

    dorsiflexion_deg : (n,) on a uniform grid of rate_hz that begins at start_s; NaN = not known or not playing [deg].
    turns : how often the ankle turns in a stroke where that is known (1 or 2); None = find out.
    Raises ValueError for an array that is not (n,), a rate that is not above 0, or other turns.
    """
    if turns not in (None, 1, 2) or not rate_hz > 0:
        raise ValueError(f"turns must be None, 1 or 2, got {turns}; the rate above 0, got {rate_hz}")
    index = turning_points(dorsiflexion_deg, SMALLEST_DEG)
    value = dorsiflexion_deg[index]
    label = np.cumsum(~np.isfinite(dorsiflexion_deg))[index] if index.size else index
    top, bottom = _falls(index, value, label)
    quick = _quick(dorsiflexion_deg, top, bottom, max(1, round(_QUICK_S * rate_hz)))
    top, bottom = top[quick], bottom[quick]
    if not bottom.size:
        return _made(dorsiflexion_deg, top, bottom, rate_hz, start_s, 0.0, 0)
    top, bottom = _without(_unlike_neighbours(dorsiflexion_deg, index, top, bottom), dorsiflexion_deg, top, bottom)
    top, bottom = _without_echoes(dorsiflexion_deg, top, bottom, round(REFRACTORY_S * rate_hz))
    second, alternating = _second_turns(dorsiflexion_deg, top, bottom)
    if turns == 1:
        second[:], alternating = False, 0.0
    elif turns == 2:
        second, alternating = _pairs(dorsiflexion_deg, top, bottom), 0.0
    doubled = int(second.sum())
    top, bottom = _without(second, dorsiflexion_deg, top, bottom)
    return _made(dorsiflexion_deg, top, bottom, rate_hz, start_s, alternating, doubled)


def _falls(index: Indices, value: Floats, label: Indices) -> tuple[Indices, Indices]:
    """Sample indices of the top and bottom of every fall."""
    falls = np.flatnonzero((np.diff(value) < 0) & (np.diff(label) == 0)) if index.size > 1 else np.zeros(0, np.intp)
    return index[falls], index[falls + 1] if falls.size else index[falls]


def _quick(trace: Floats, top: Indices, bottom: Indices, samples: int) -> NDArray[np.bool_]:
    """Falls of which a part happens at once: a posture that sinks slowly is no stroke."""
    if not bottom.size:
        return np.zeros(0, dtype=np.bool_)
    drop = trace - np.append(trace[samples:], np.full(min(samples, trace.size), np.nan))
    spans = np.stack([top, np.maximum(bottom - samples + 1, top + 1)], axis=1).ravel()
    steepest = np.fmax.reduceat(drop, spans)[::2]
    fall = trace[top] - trace[bottom]
    whole = bottom - top <= samples
    return whole | (steepest >= np.maximum(_QUICK_PART * fall, _QUICK_DEG))


def _unlike_neighbours(trace: Floats, index: Indices, top: Indices, bottom: Indices) -> NDArray[np.bool_]:
    """Falls that are, or are followed by a rise that is, far smaller than what the neighbours do."""
    fall = trace[top] - trace[bottom]
    after = np.searchsorted(index, bottom) + 1
    following = index[np.minimum(after, index.size - 1)]
    rise = trace[following] - trace[bottom]
    last = (after >= index.size) | (rise <= 0) | ~_together(trace, bottom, following)
    size = min(_NEIGHBOURS, fall.size)  # before and after apart: loud and soft passages may meet here
    earlier = percentile_filter(fall, 50, size=size, mode="nearest", origin=(size - 1) // 2)
    later = percentile_filter(fall, 50, size=size, mode="nearest", origin=-(size // 2))
    usual = np.minimum(earlier, later)
    return np.minimum(fall, np.where(last, fall, rise)) < _PART * usual


def _together(trace: Floats, first: Indices, second: Indices) -> NDArray[np.bool_]:
    """Whether everything between two samples is known."""
    unknown = np.cumsum(~np.isfinite(trace))
    return unknown[first] == unknown[second]


def _without(drop: NDArray[np.bool_], trace: Floats, top: Indices, bottom: Indices) -> tuple[Indices, Indices]:
    """Falls left when some are dropped; one that follows dropped ones begins at the highest top since the last kept."""
    keep = np.flatnonzero(~drop)
    if keep.size == drop.size or not keep.size:
        return top[keep], bottom[keep]
    run = np.cumsum(~np.isfinite(trace))[bottom]
    best = top[keep].copy()
    for place in np.flatnonzero(np.diff(keep, prepend=-1) > 1).tolist():
        first = keep[place - 1] + 1 if place else 0
        span = np.arange(first, keep[place] + 1)
        span = span[run[span] == run[keep[place]]]
        best[place] = top[span][np.argmax(trace[top[span]])]
    return best, bottom[keep]


def _without_echoes(trace: Floats, top: Indices, bottom: Indices, apart: int) -> tuple[Indices, Indices]:
    """Of low points nearer than `apart` samples only the deepest."""
    while bottom.size > 1:
        near = np.diff(bottom) < apart
        if not near.any():
            break
        first = trace[bottom[:-1]] <= trace[bottom[1:]]  # the first of a pair is the deeper
        drop = np.zeros(bottom.size, dtype=np.bool_)
        drop[1:] = near & first
        drop[:-1] |= near & ~first & ~drop[1:]
        top, bottom = _without(drop, trace, top, bottom)
    return top, bottom


def _second_turns(trace: Floats, top: Indices, bottom: Indices) -> tuple[NDArray[np.bool_], float]:
    """(k,) falls that belong to the one before them, and the share that alternates without telling."""
    none = np.zeros(bottom.size, dtype=np.bool_)
    if bottom.size < _ALTERNATING:
        return none, 0.0
    depth = np.log(trace[top] - trace[bottom])
    off = depth - uniform_filter1d(depth, _ALTERNATING - 1, mode="reflect")
    power = uniform_filter1d(off**2, _ALTERNATING, mode="nearest") + 1e-12
    follow, skip = off[1:] * off[:-1], off[2:] * off[:-2]
    one = uniform_filter1d(np.append(follow, follow[-1]), _ALTERNATING, mode="nearest") / power
    two = uniform_filter1d(np.append(skip, skip[-2:]), _ALTERNATING, mode="nearest") / power
    deep_enough = 2 * np.sqrt(power) > -np.log(_SHALLOW)
    swings = (one < -0.5) & (two > 0.5) & deep_enough
    shallow = swings & (off < 0)
    gap = np.diff(bottom).astype(np.float64)
    before, after = np.append(np.inf, gap), np.append(gap, np.inf)
    ratio = np.where(np.isfinite(before) & np.isfinite(after), before / after, 1.0)
    # Uneven times: judged by what the shallow ones nearby do, not by one alone.
    usual = np.ones(bottom.size)
    usual[shallow] = median_filter(ratio[shallow], size=_ALTERNATING // 2) if shallow.any() else 1.0
    second = shallow & ((usual > _UNEVEN) | (usual < 1.0 / _UNEVEN))
    undecided = swings & ~second & ~np.append(second[1:], False) & ~np.append(False, second[:-1])
    return second, float(np.mean(undecided))


def _pairs(trace: Floats, top: Indices, bottom: Indices) -> NDArray[np.bool_]:
    """The shallower of each two falls in order, within stretches of known angle."""
    out = np.zeros(bottom.size, dtype=np.bool_)
    depth = trace[top] - trace[bottom]
    run = np.cumsum(~np.isfinite(trace))[bottom]
    for first in np.unique(run):
        here = np.flatnonzero(run == first)
        here = here[: here.size // 2 * 2].reshape(-1, 2)
        out[here[np.arange(len(here)), np.argmin(depth[here], axis=1)]] = True
    return out


def _arrival(trace: Floats, top: Indices, bottom: Indices, reach: int) -> Floats:
    """Where the fall comes near its bottom, (k,) in samples and parts of one; the bottom itself where that is far off.

    The lowest sample of a foot that stays down is chance; when it came down is not.
    """
    level = trace[bottom] + np.minimum(_ARRIVAL_DEG, 0.2 * (trace[top] - trace[bottom]))
    place = bottom.astype(np.float64)
    waiting = np.ones(bottom.size, dtype=np.bool_)
    for back in range(1, reach + 1):
        at = bottom - back
        waiting &= at >= top
        above = waiting & (trace[np.maximum(at, 0)] > level)
        high, low = trace[at[above]], trace[at[above] + 1]
        place[above] = at[above] + (high - level[above]) / (high - low)
        waiting &= ~above
        if not waiting.any():
            break
    return place


def _made(
    trace: Floats, top: Indices, bottom: Indices, rate_hz: float, start_s: float, alternating: float, doubled: int
) -> Strokes:
    run = np.cumsum(~np.isfinite(trace))[bottom] if bottom.size else bottom
    low = trace[bottom]
    arrived = _arrival(trace, top, bottom, max(2, round(_ARRIVAL_S * rate_hz)))
    return Strokes(
        time_s=start_s + arrived / rate_hz,
        excursion_deg=trace[top] - low,
        top=top,
        bottom=bottom,
        run=run,
        alternating_share=alternating,
        doubled=doubled,
    )
