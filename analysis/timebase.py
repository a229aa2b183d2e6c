"""One common time grid for clips that sample at their own pace, without inventing data in gaps.

Sources: linear interpolation between neighbouring samples; averaging over the output interval when the rate falls
(a boxcar anti-alias filter). A silence longer than `GAP_S` is a gap: values inside it are marked unknown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Mask = NDArray[np.bool_]

GAP_S = 0.1
"""A silence longer than this is a gap [s]."""

COMMON_RATES_HZ = (50.0, 100.0, 200.0)
"""Rates the common grid may have; the highest that no clip falls short of by more than 10 %."""


@dataclass(frozen=True)
class Grid:
    """Uniform times `start_s + i / rate_hz`, i = 0 ... n - 1."""

    start_s: float
    rate_hz: float
    n: int

    @property
    def time_s(self) -> Floats:
        """(n,) times of the grid [s]."""
        return self.start_s + np.arange(self.n) / self.rate_hz

    def slice(self, start_s: float, end_s: float) -> slice:
        """Indices of the grid times in [start_s, end_s)."""
        low, high = (int(np.ceil(round((t - self.start_s) * self.rate_hz, 6))) for t in (start_s, end_s))
        return slice(min(max(low, 0), self.n), min(max(high, 0), self.n))

    def mask(self, spans: Sequence[tuple[float, float]]) -> Mask:
        """(n,) True inside any of the `spans` (start, end) [s]."""
        inside = np.zeros(self.n, dtype=bool)
        for start, end in spans:
            inside[self.slice(start, end)] = True
        return inside


def median_rate_hz(time_s: Floats) -> float:
    """Sampling rate from the median spacing of the stamps [Hz]; mean spacing where most stamps repeat."""
    steps = np.diff(time_s)
    step = float(np.median(steps)) if steps.size else 0.0
    return 1.0 / step if step > 0 else float(steps.size / max(time_s[-1] - time_s[0], 1e-9))


def common_grid(times: Mapping[str, Floats]) -> Grid:
    """The grid all clips are brought to: the first clip's span, at a rate all clips support.

    times : stamps of each clip on the first clip's clock, first clip first [s].
    Raises ValueError without clips or with fewer than two samples in one.
    """
    if not times:
        raise ValueError("no clips to put on a common grid")
    for name, stamps in times.items():
        if stamps.size < 2:
            raise ValueError(f"clip {name!r} has fewer than two samples")
    slowest = min(median_rate_hz(stamps) for stamps in times.values())
    rate = max((r for r in COMMON_RATES_HZ if r <= 1.1 * slowest), default=COMMON_RATES_HZ[0])
    first = next(iter(times.values()))
    n = int(np.floor((first[-1] - first[0]) * rate + 1e-6)) + 1
    return Grid(float(first[0]), rate, n)


def find_gaps(time_s: Floats, longest_s: float = GAP_S) -> list[tuple[float, float]]:
    """Silences longer than `longest_s`, as (last stamp before, first stamp after) [s]."""
    steps = np.diff(time_s)
    return [(float(time_s[i]), float(time_s[i + 1])) for i in np.flatnonzero(steps > longest_s)]


def onto_grid(time_s: Floats, values: Floats, grid: Grid) -> tuple[Floats, Mask]:
    """Values at the grid times, and where they are known.

    time_s : (m,) stamps, strictly increasing [s].   values : (m, k) samples.
    Returns (n, k) values (inside gaps and beyond the ends: held or interpolated, only to keep a filter running)
    and (n,) known, False inside gaps and beyond the ends.
    Raises ValueError if the lengths differ or the stamps do not increase.
    """
    if len(time_s) != len(values):
        raise ValueError(f"{len(time_s)} stamps but {len(values)} samples")
    steps = np.diff(time_s)
    if steps.size and steps.min() <= 0:
        raise ValueError("time stamps must increase strictly")
    rate = median_rate_hz(time_s)
    target = grid.time_s
    step = 1.0 / grid.rate_hz
    if len(time_s) == grid.n and np.abs(time_s - target).max() < 0.02 * step:
        out = np.array(values, dtype=np.float64)
    elif rate > 1.2 * grid.rate_hz:
        out = _averaged(time_s, values, target, step)
    else:
        out = np.column_stack([np.interp(target, time_s, column) for column in values.T])
    known = (target >= time_s[0] - step) & (target <= time_s[-1] + step)
    for start, end in find_gaps(time_s):
        known[grid.slice(start + step / 2, end - step / 2)] = False
    return out, known


def _averaged(time_s: Floats, values: Floats, target: Floats, step: float) -> Floats:
    """Mean over target +- step / 2: differences of the interpolated running integral (trapezoids)."""
    edges = np.concatenate([target - step / 2, target[-1:] + step / 2])
    out = np.empty((len(target), values.shape[1]))
    for k in range(values.shape[1]):
        area = np.concatenate([[0.0], np.cumsum(np.diff(time_s) * (values[1:, k] + values[:-1, k]) / 2)])
        out[:, k] = np.diff(np.interp(edges, time_s, area)) / step
    # Beyond the ends the integral stands still: hold the end values instead.
    out[target < time_s[0] + step / 2] = values[0]
    out[target > time_s[-1] - step / 2] = values[-1]
    return out
