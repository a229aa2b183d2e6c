"""Whether a figure rises or falls over a session: Theil-Sen slope with its interval.

Theil 1950 and Sen 1968 (J Am Stat Assoc 63:1379-1389); slopes only between blocks of one group (one set-up, exercise
and tempo), as Hirsch, Slack & Smith 1982 (Water Resour Res 18:107-121) do with seasons, so that a change of exercise is
no trend. Blocks in a row resemble each other, which makes Sen's interval too narrow: it is widened by
sqrt((1 + r) / (1 - r)) with r the correlation of neighbouring residuals (never narrowed; the factor is that of a mean
of such a series, common practice).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .exposure import NotKnown

Floats = NDArray[np.float64]

FEWEST_BLOCKS = 8
_MOST_RESEMBLANCE = 0.9
_Z95 = 1.959963984540054


@dataclass(frozen=True)
class Trend:
    """per_minute, low, high : slope and its 95 % interval [unit of the values / min].

    over_s : from the first block to the last [s]. blocks : how many. resemblance : of neighbouring residuals, 0-1.
    verdict : "rises", "falls" or "no trend".
    """

    per_minute: float
    low: float
    high: float
    over_s: float
    blocks: int
    resemblance: float
    verdict: str

    @property
    def change(self) -> float:
        """Slope times the time it was seen over [unit of the values]."""
        return self.per_minute * self.over_s / 60.0


def theil_sen(
    time_s: Floats, value: Floats, *, group: Sequence[object] | None = None, worth: float = 0.0
) -> Trend | NotKnown:
    """The trend of a figure over blocks.

    time_s, value : (n,) middle of each block [s] and its figure; NaN = not known. group : (n,) slopes are taken within
    groups only. worth : "rises" or "falls" need a change of at least this over the session, besides an interval without
    0 [unit of the values].
    NotKnown with fewer than eight known blocks, or fewer than three in every group.
    Raises ValueError for arrays of different length.
    """
    if time_s.shape != value.shape or time_s.ndim != 1 or (group is not None and len(group) != time_s.size):
        raise ValueError(f"time {time_s.shape}, value {value.shape} and group must be (n,) and of one length")
    known = np.isfinite(value) & np.isfinite(time_s)
    names = np.zeros(time_s.size, dtype=np.intp) if group is None else _numbered(group)
    minutes, figure, names = time_s[known] / 60.0, value[known], names[known]
    if figure.size < FEWEST_BLOCKS:
        return NotKnown(f"{figure.size} blocks are known, and a trend needs {FEWEST_BLOCKS}")
    parts = [np.flatnonzero(names == name) for name in np.unique(names)]
    parts = [part for part in parts if part.size >= 3]
    slopes = np.sort(np.concatenate([np.zeros(0), *(_slopes(minutes[part], figure[part]) for part in parts)]))
    used = sum(part.size for part in parts)
    if used < FEWEST_BLOCKS or not slopes.size:
        return NotKnown(f"no {FEWEST_BLOCKS} blocks of the same exercise are known")
    middle = float(np.median(slopes))
    resemblance = _resemblance([figure[part] - middle * minutes[part] for part in parts])
    factor = math.sqrt((1 + resemblance) / (1 - resemblance))
    spread = factor * math.sqrt(sum(_kendall_variance(figure[part]) for part in parts))
    low, high = _interval(slopes, _Z95 * spread)
    over = 60.0 * max(float(np.ptp(minutes[part])) for part in parts)
    trend = Trend(middle, low, high, over, used, resemblance, "no trend")
    sure = (low > 0 or high < 0) and abs(trend.change) >= worth
    verdict = "no trend" if not sure else "rises" if middle > 0 else "falls"
    return Trend(middle, low, high, over, used, resemblance, verdict)


def _numbered(group: Sequence[object]) -> NDArray[np.intp]:
    seen: dict[object, int] = {}
    return np.asarray([seen.setdefault(name, len(seen)) for name in group], dtype=np.intp)


def _slopes(minutes: Floats, figure: Floats) -> Floats:
    """Slope between every two blocks at different times."""
    first, second = np.triu_indices(figure.size, 1)
    apart = minutes[second] - minutes[first]
    use = apart != 0
    return (figure[second] - figure[first])[use] / apart[use]


def _kendall_variance(figure: Floats) -> float:
    """Variance of Kendall's S with ties in the figure (Sen 1968, eq. 2.6)."""
    n = figure.size
    _, ties = np.unique(figure, return_counts=True)
    return float(n * (n - 1) * (2 * n + 5) - np.sum(ties * (ties - 1) * (2 * ties + 5))) / 18.0


def _interval(slopes: Floats, reach: float) -> tuple[float, float]:
    """Slopes at the ranks of the interval, as scipy.stats.theilslopes takes them."""
    n = slopes.size
    upper = min(round((n + reach) / 2.0), n - 1)
    lower = max(round((n - reach) / 2.0) - 1, 0)
    return float(slopes[lower]), float(slopes[upper])


def _resemblance(residuals: list[Floats]) -> float:
    """Correlation of neighbouring residuals, corrected for the bias of short series, 0 to 0.9."""
    off = [part - part.mean() for part in residuals]
    total = sum(float(o @ o) for o in off)
    if not total > 0:
        return 0.0
    n = sum(o.size for o in off)
    lag = sum(float(o[1:] @ o[:-1]) for o in off) / total
    # Taking away level and slope lowers the correlation by about (1 + 4 r) / n a stretch (Kendall 1954, mean only;
    # doubled for the slope, ours).
    lag = (lag + 2.0 * len(off) / n) / (1.0 - min(0.5, 4.0 * len(off) / n))
    return min(max(lag, 0.0), _MOST_RESEMBLANCE)
