"""Turning points of an angle trace: where it changes direction, small wiggles left out.

A wiggle is left out as the four-point rule of rainflow counting leaves out a small cycle (ISO 12110-2; the same cycles
as ASTM E1049-85 5.4.4): two neighbouring turning points whose range is below the smallest asked for and not above that
of either neighbour. So what is left is what rainflow counting would keep, and no larger range changes.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]

_FEW_LEFT = 0.02  # a pass that drops a smaller part than this is followed by the plain loop


def turning_points(trace_deg: Floats, smallest_deg: float) -> Indices:
    """Indices of the turning points, (k,) in order, ranges below `smallest_deg` left out.

    trace_deg : (n,) [deg]; NaN = not known, and nothing reaches across it: each known run is on its own, its first and
    last sample count as turning points where the range to the next is large enough.
    A run that never moves by `smallest_deg` has none. Of a plateau the first sample stands for all.
    Raises ValueError for an array that is not (n,) or a range that is not above 0.
    """
    if trace_deg.ndim != 1:
        raise ValueError(f"the trace must be (n,), got {trace_deg.shape}")
    if not smallest_deg > 0.0:
        raise ValueError(f"the smallest range must be above 0 deg, got {smallest_deg}")
    index = np.flatnonzero(np.isfinite(trace_deg))
    run = np.cumsum(np.diff(index, prepend=-1) > 1, dtype=np.intp)
    for _ in range(2):  # the second time: directions after plateaus are gone
        index, run = _reversals(trace_deg, index, run)
    while index.size >= 4:
        ranges, same = _ranges(trace_deg, index, run)
        drop = _small_inner(ranges, same, smallest_deg)
        if not drop.any():
            break
        before = index.size
        keep = ~drop
        index, run = index[keep], run[keep]
        if before - index.size < _FEW_LEFT * before:
            index, run = _one_by_one(trace_deg, index, run, smallest_deg)
            break
    return _without_small_ends(trace_deg, index, run, smallest_deg)


def _reversals(trace: Floats, index: Indices, run: Indices) -> tuple[Indices, Indices]:
    """First and last sample of each run, and where the direction changes; of equal neighbours the first."""
    if not index.size:
        return index, run
    value = trace[index]
    new = np.concatenate(([True], (np.diff(value) != 0) | (np.diff(run) != 0)))
    index, run, value = index[new], run[new], value[new]
    step = np.diff(value)
    edge = np.diff(run) != 0
    turn = np.ones(index.size, dtype=np.bool_)
    turn[1:-1] = (step[:-1] * step[1:] < 0) | edge[:-1] | edge[1:]
    return index[turn], run[turn]


def _ranges(trace: Floats, index: Indices, run: Indices) -> tuple[Floats, NDArray[np.bool_]]:
    """Range from each turning point to the next, (k - 1,), and whether both lie in one run."""
    return np.abs(np.diff(trace[index])), np.diff(run) == 0


def _small_inner(ranges: Floats, same: NDArray[np.bool_], smallest: float) -> NDArray[np.bool_]:
    """Turning points, (k,), of ranges that are small and not above either neighbour; of touching ones every other."""
    whole = np.where(same, ranges, -1.0)
    small = np.zeros(ranges.size, dtype=bool)
    small[1:-1] = (whole[1:-1] >= 0) & (whole[1:-1] < smallest)
    small[1:-1] &= (whole[1:-1] <= whole[:-2]) & (whole[1:-1] <= whole[2:])
    place = np.arange(small.size)
    begun = np.maximum.accumulate(np.where(small, 0, place + 1))  # one past the last that is not small
    small &= (place - begun) % 2 == 0
    drop = np.zeros(ranges.size + 1, dtype=bool)
    drop[:-1] |= small
    drop[1:] |= small
    return drop


def _one_by_one(trace: Floats, index: Indices, run: Indices, smallest: float) -> tuple[Indices, Indices]:
    """The same rule with a stack: each point is looked at once."""
    value, label = trace[index].tolist(), run.tolist()
    stack: list[int] = []
    for i in range(len(value)):
        stack.append(i)
        while len(stack) >= 4:
            a, b, c, d = stack[-4:]
            inner = abs(value[c] - value[b])
            if label[a] != label[d] or inner >= smallest:
                break
            if inner > abs(value[b] - value[a]) or inner > abs(value[d] - value[c]):
                break
            del stack[-3:-1]
    return index[stack], run[stack]


def _without_small_ends(trace: Floats, index: Indices, run: Indices, smallest: float) -> Indices:
    """Without the first and last points of a run from which the trace moves less than `smallest`.

    After the inner small ranges are gone, those left can only lead away from a run's ends, growing or shrinking.
    """
    while index.size:
        ranges, same = _ranges(trace, index, run)
        left, right = np.concatenate(([False], same)), np.concatenate((same, [False]))
        to_next = np.where(right, np.append(ranges, 0.0), np.inf)
        to_last = np.where(left, np.append(0.0, ranges), np.inf)
        drop = (~left & (to_next < smallest)) | (~right & (to_last < smallest)) | (~left & ~right)
        if not drop.any():
            break
        index, run = index[~drop], run[~drop]
    return index
