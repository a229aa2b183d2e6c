"""Clips on separate clocks: offset and skew of each against the first, from the motion neighbours share.

Neighbouring segments move together, so the sizes of their angular rates rise and fall together whatever the mounting.
Windows of the recording are cross-correlated; the offset is read in moves that turn both segments as one (knee kicks,
thigh lifts), the skew from all windows. A correction is made only where the evidence is clear and the effect matters:
real joints move with small delays of their own, and clips that share a clock must be left alone.
Legs are tied to each other only through a pelvis clip: their angles do not need a common clock to a few milliseconds.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..logger.models import SEGMENTS
from .timebase import Floats

RATE_HZ = 50.0
COARSE_HZ = 10.0
WINDOW_S = 20.0
FINE_LAG_S = 0.6
"""Lags searched around the coarse one [s]."""
MATTERS_S = 0.015
"""Smaller offsets, and smaller drifts over the whole recording, are left alone [s]."""
FITTED_S = 0.1
"""Where each clip's clock was fitted from its arrivals, motion must show more than this to be believed instead [s]: by
docs/recordings.md such clocks agree within a few milliseconds, and ways to the computer differ by tens (ours)."""
CLEARER_BY = 0.2
"""Another shift than the stated one must correlate by this much better."""
LARGEST_SKEW = 1e-3
"""A steeper drift is no clock."""
FAINT_CORRELATION = 0.3
"""Whole recordings that correlate less than this show no other shift; above it the windows must confirm it. A foot taps
and plays while its shank is still: on a simulated leg the two reached 0.43 at the true shift and 0.1 elsewhere."""
CLEAR_CORRELATION = 0.6
"""Windows in which two clips correlate less than this say nothing about their clocks."""


@dataclass(frozen=True)
class Clock:
    """A clip's clock against the first clip's: first = t + offset_s + skew * (t - pivot_s).

    unlike : the neighbour that moved differently even in the moves that turn both as one; "" where none did.
    """

    offset_s: float = 0.0
    skew: float = 0.0
    pivot_s: float = 0.0
    unlike: str = ""

    def to_first(self, time_s: Floats) -> Floats:
        """Stamps of the clip on the first clip's clock [s]."""
        if self.offset_s == 0.0 and self.skew == 0.0:
            return time_s
        return time_s + self.offset_s + self.skew * (time_s - self.pivot_s)


@dataclass(frozen=True)
class RateSize:
    """Size of a clip's angular rate, (n,) at `RATE_HZ` from `start_s` on the clip's own clock [rad/s]."""

    start_s: float
    size: Floats


def rate_size(time_s: Floats, gyr: Floats) -> RateSize:
    """The size of the angular rate, evenly sampled. time_s : (n,) [s].   gyr : (n, 3) [rad/s]."""
    size = np.sqrt(np.einsum("ij,ij->i", gyr, gyr))
    even = np.arange(time_s[0], time_s[-1], 1.0 / RATE_HZ)
    area = np.concatenate([[0.0], np.cumsum(np.diff(time_s) * (size[1:] + size[:-1]) / 2)])
    edges = np.concatenate([even, [even[-1] + 1.0 / RATE_HZ]])
    return RateSize(float(time_s[0]), np.diff(np.interp(edges, time_s, area)) * RATE_HZ)


def neighbours(names: Sequence[str]) -> list[tuple[str, str]]:
    """Pairs (known, next) along chains of neighbours: from the first clip, then from the first clip not yet reached.

    A leg that no pelvis clip ties to the first clip is so ordered in itself, on the clock of its own first clip.
    """
    links = [("pelvis", f"{side}_thigh") for side in ("right", "left")]
    links += [(f"{s}_{a}", f"{s}_{b}") for s in ("right", "left") for a, b in (("thigh", "shank"), ("shank", "foot"))]
    reached, path = {names[0]}, []
    while True:
        step = [(a, b) if a in reached else (b, a) for a, b in links if (a in reached) != (b in reached)]
        step = [(a, b) for a, b in step if b in names]
        if not step:
            apart = [name for name in names if name not in reached]
            if not apart:
                return path
            reached.add(apart[0])
            continue
        path.append(step[0])
        reached.add(step[0][1])


def lower_of(pair: Collection[str]) -> str:
    """The lower of two neighbouring clips on a leg."""
    return min(pair, key=lambda name: SEGMENTS.index(name.rpartition("_")[2]))


def clocks(
    sizes: Mapping[str, RateSize], rigid: Mapping[str, Sequence[tuple[float, float]]], least_s: float = 0.0
) -> dict[str, Clock]:
    """Clock of every clip against the first one.

    sizes : rate sizes, first clip first.   rigid : {clip name: spans on the first clip's clock [s]} of moves that turn
    the clip and its upper neighbour as one.   least_s : a correction that nowhere reaches this is not made [s].
    """
    names = list(sizes)
    found = {name: Clock() for name in names}
    on_first: dict[str, RateSize] = {}
    for known, other in neighbours(names):
        on_first.setdefault(known, sizes[known])
        clock, unlike = _against(on_first[known], sizes[other], rigid.get(lower_of((known, other)), ()))
        if _most_s(clock, sizes[other]) < least_s:
            clock = Clock()
        found[other] = replace(clock, unlike=known if unlike else "")
        on_first[other] = _moved(sizes[other], found[other])
    return found


def _most_s(clock: Clock, size: RateSize) -> float:
    """The largest correction a clock makes within a recording [s]."""
    ends = np.array([size.start_s, size.start_s + len(size.size) / RATE_HZ])
    return float(np.abs(clock.to_first(ends) - ends).max())


def _moved(size: RateSize, clock: Clock) -> RateSize:
    """A rate size brought onto the first clip's clock."""
    stamps = clock.to_first(size.start_s + np.arange(len(size.size)) / RATE_HZ)
    even = np.arange(stamps[0], stamps[-1], 1.0 / RATE_HZ)
    return RateSize(float(stamps[0]), np.interp(even, stamps, size.size))


def _against(known: RateSize, other: RateSize, rigid: Sequence[tuple[float, float]]) -> tuple[Clock, bool]:
    """Clock of `other` against the first clip's, on which `known` is; no change where nothing clear shows one.

    Also whether the two moved differently in every window of the `rigid` moves.
    """
    start = known.start_s
    a, b = known.size, other.size
    coarse = _coarse_lag_s(a, b, other.start_s - start) + start - other.start_s
    if abs(coarse) < FINE_LAG_S / 2:
        coarse = 0.0
    at, lag, quality = _windows(a, b, other.start_s + coarse - start)
    good = quality > CLEAR_CORRELATION
    if coarse != 0.0:
        as_stated = _windows(a, b, other.start_s - start)
        if np.sum(as_stated[2] > CLEAR_CORRELATION) >= good.sum():
            coarse, (at, lag, quality) = 0.0, as_stated
            good = quality > CLEAR_CORRELATION
    inside = np.array([any(s - WINDOW_S / 2 < t < e + WINDOW_S / 2 for s, e in rigid) for t in at + start], dtype=bool)
    unlike = len(rigid) > 0 and not (good & inside).any()
    if good.sum() < 3:
        return Clock(), unlike
    at, lag, inside = at[good] + start, lag[good] + coarse, inside[good]
    skew = 0.0
    if good.sum() >= 6 and np.ptp(at) > 120.0:
        skew = _skew(at, lag, len(a) / RATE_HZ)
    level = lag - skew * (at - at[0])
    offset = float(np.median(level[inside] if inside.any() else level))
    if skew == 0.0 and (abs(offset) < MATTERS_S or (not inside.any() and coarse == 0.0)):
        return Clock(), unlike
    return Clock(offset, skew, float(at[0] - offset)), unlike


def _skew(at: Floats, lag: Floats, whole_s: float) -> float:
    """Slope of the lags over time by Theil and Sen, 0 where it does not matter or is no clock's."""
    rough = float(np.median(lag[-len(lag) // 3 :]) - np.median(lag[: len(lag) // 3])) / (2 / 3 * np.ptp(at))
    if abs(rough) * whole_s < MATTERS_S / 3:
        return 0.0  # plainly none: spares a second of imports
    from scipy.stats import theilslopes

    slope, _, low, high = theilslopes(lag, at)
    drifts = MATTERS_S / whole_s < abs(slope) < LARGEST_SKEW and (low > 0 or high < 0)
    return float(slope) if drifts else 0.0


def _coarse_lag_s(a: Floats, b: Floats, stated_s: float) -> float:
    """Shift of b after a that lines the whole recordings up [s]: the stated one unless another is clear."""
    a, b = (_coarser(v) for v in (a, b))
    size = 1 << (len(a) + len(b) - 2).bit_length()
    spectrum = np.fft.rfft(a, size) * np.conj(np.fft.rfft(b, size))
    match = np.roll(np.fft.irfft(spectrum, size), len(b) - 1)[: len(a) + len(b) - 1]
    overlap = np.minimum(np.minimum(np.arange(1, len(match) + 1), np.arange(len(match), 0, -1)), min(len(a), len(b)))
    match[overlap < 0.5 * min(len(a), len(b))] = -np.inf
    match /= len(a) ** 0.5 * len(b) ** 0.5 * max(float(a.std() * b.std()), 1e-12)
    zero = len(b) - 1
    stated = zero + round(stated_s * COARSE_HZ)
    near = match[max(stated - 1, 0) : stated + 2]
    as_stated = float(near.max()) if near.size else -np.inf
    best = int(np.argmax(match))
    clear = match[best] > FAINT_CORRELATION and match[best] > as_stated + CLEARER_BY
    return (best - zero) / COARSE_HZ if clear else stated_s


def _coarser(size: Floats) -> Floats:
    """Roots of a rate size (loud moves weigh less) at `COARSE_HZ`, about their mean."""
    step = round(RATE_HZ / COARSE_HZ)
    m = len(size) // step
    root = np.sqrt(size[: m * step].reshape(m, step).mean(axis=1))
    return root - root.mean()


def _windows(a: Floats, b: Floats, shift_s: float) -> tuple[Floats, Floats, Floats]:
    """Per window of a: its middle after a's start [s], how much later b must be shifted [s], and the correlation."""
    size, reach = round(WINDOW_S * RATE_HZ), round(FINE_LAG_S * RATE_HZ)
    whole = round(shift_s * RATE_HZ)
    rest = shift_s - whole / RATE_HZ
    at, lags, qualities = [], [], []
    for low in range(0, len(a) - size + 1, size):
        first = low - whole - reach
        if first < 0 or first + size + 2 * reach > len(b):
            continue
        part, wide = a[low : low + size], b[first : first + size + 2 * reach]
        part = part - part.mean()
        wide = wide - wide.mean()
        sums = np.concatenate([[0.0], np.cumsum(wide)])
        squares = np.concatenate([[0.0], np.cumsum(wide**2)])
        mean, square = (np.subtract(v[size:], v[:-size]) / size for v in (sums, squares))
        spread = np.sqrt(np.maximum(square - mean**2, 0.0)) * part.std() * size
        match = np.correlate(wide, part, mode="valid") / np.maximum(spread, 1e-12)  # part has no mean
        best = int(np.argmax(match))
        if not 0 < best < 2 * reach or part.std() < 0.02:
            continue
        left, middle, right = match[best - 1 : best + 2]
        fine = best + 0.5 * (left - right) / (left - 2 * middle + right)
        at.append((low + size / 2) / RATE_HZ)
        lags.append(-(fine - reach) / RATE_HZ - rest)
        qualities.append(float(middle))
    return np.array(at), np.array(lags), np.array(qualities)
