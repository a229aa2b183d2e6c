"""Segment axes in the earth frame over time, and the slow heading ties between neighbouring segments.

Each clip's heading is arbitrary and drifts. Here it is zeroed in the still pose, when all segments face the same way,
and afterwards neighbours are tied through their right-pointing axes, softly: a knee at 90 deg lets the shank rotate
about its own axis and the ankle inverts, so the tie follows only slow changes.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .alignment import Alignment
from .orientation import Track, rotate
from .timebase import Floats, Grid, Mask

TIE_S = 40.0
"""Width (Gaussian standard deviation) of the heading tie between neighbours [s]. Narrower, it takes a foot that turns
on its ball for drift; wider, a badly known gyroscope bias shows."""
SLOW_HZ = 4.0
"""Slow signals are smoothed at about this rate and interpolated back [Hz]."""


@dataclass(frozen=True)
class SegmentAxes:
    """Axes of one segment in its own earth frame (z up).

    y, z : (n, 3) proximal and right-pointing unit vectors.   known : (n,).   stretch : (n,) unbroken stretch number.
    """

    y: Floats
    z: Floats
    known: Mask
    stretch: np.ndarray

    @property
    def x(self) -> Floats:
        """(n, 3) anterior unit vector."""
        return cross(self.y, self.z)

    @cached_property
    def pitch(self) -> Floats:
        """(n,) how far the anterior axis points up [rad]; NaN where unknown."""
        up = self.y[:, 0] * self.z[:, 1] - self.y[:, 1] * self.z[:, 0]
        return np.where(self.known, np.arcsin(np.clip(up, -1.0, 1.0)), np.nan)


def segment_axes(track: Track, alignment: Alignment, still: Mask) -> SegmentAxes:
    """Axes of a segment over time, heading zeroed (x forward = earth x, z right = earth -y) in the still pose.

    still : (n,) True in the still pose the headings start from.
    """
    y = rotate(track.quat, alignment.frame[:, 1])
    z = rotate(track.quat, alignment.frame[:, 2])
    use = still & track.known
    heading = mean_angle(np.arctan2(z[use, 1], z[use, 0])) if use.any() else 0.0
    turn = -np.pi / 2 - heading
    return SegmentAxes(about_up(turn, y), about_up(turn, z), track.known, track.stretch)


def about_up(angle: float | Floats, vectors: Floats) -> Floats:
    """(n, 3) vectors turned about the upward vertical by `angle` [rad]."""
    c, s = np.cos(angle), np.sin(angle)
    x, y = vectors[:, 0], vectors[:, 1]
    out = np.empty(vectors.shape, order="F")
    out[:, 0] = c * x - s * y
    out[:, 1] = s * x + c * y
    out[:, 2] = vectors[:, 2]
    return out


def cross(a: Floats, b: Floats) -> Floats:
    """(n, 3) cross products of rows, by components (`np.cross` takes three times as long)."""
    out = np.empty(a.shape, order="F")
    out[:, 0] = a[:, 1] * b[:, 2] - a[:, 2] * b[:, 1]
    out[:, 1] = a[:, 2] * b[:, 0] - a[:, 0] * b[:, 2]
    out[:, 2] = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    return out


def mean_angle(angles: Floats) -> float:
    """Circular mean [rad]."""
    return float(np.angle(np.exp(1j * angles).mean()))


def slow(values: Floats, weight: Floats, width_s: float, rate_hz: float) -> Floats:
    """Weighted Gaussian running mean of a signal, computed at about `SLOW_HZ` and interpolated back.

    values, weight : (n,); where the weight is 0 the value does not count.   width_s : standard deviation [s].
    NaN where no weight is near.
    """
    step = max(1, round(rate_hz / SLOW_HZ))
    m = -(-len(values) // step)
    pad = m * step - len(values)
    w = np.pad(np.asarray(weight, dtype=np.float64), (0, pad))
    v = np.pad(np.where(weight > 0, values, 0.0), (0, pad)) * w
    width = max(width_s * rate_hz / step, 1e-6)
    top, bottom = (_gaussian_sum(signal.reshape(m, step).sum(axis=1), width) for signal in (v, w))
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(bottom > 1e-6, top / bottom, np.nan)
    centres = (np.arange(m) + 0.5) * step - 0.5
    return np.interp(np.arange(len(values)), centres, mean)


def _gaussian_sum(values: Floats, width: float) -> Floats:
    """(n,) values weighed by a Gaussian of `width` samples about each, cut at four widths; beyond the ends nothing.

    (`scipy.ndimage.gaussian_filter1d` does the same; importing it takes longer than an hour's signals do here.)
    """
    reach = int(4 * width + 0.5)
    kernel: Floats = np.exp(-0.5 * (np.arange(-reach, reach + 1) / width) ** 2)
    whole = np.convolve(values, kernel / kernel.sum(), mode="full")
    return np.asarray(whole[reach : reach + len(values)], dtype=np.float64)


def joint_stretches(*segments: SegmentAxes) -> np.ndarray:
    """(n,) number of the unbroken stretch that all segments share, -1 where one of them is unknown.

    Headings do not carry over from one number to the next.
    """
    known = np.logical_and.reduce([segment.known for segment in segments])
    breaks = np.zeros(len(known), dtype=bool)
    for segment in segments:
        breaks[1:] |= np.diff(segment.stretch) != 0
    return np.where(known, np.cumsum(breaks), -1)


def runs(stretches: np.ndarray) -> list[slice]:
    """The spans of samples that share one stretch number, unknown ones left out."""
    edges = np.concatenate([[0], np.flatnonzero(np.diff(stretches)) + 1, [len(stretches)]])
    return [slice(int(a), int(b)) for a, b in zip(edges[:-1], edges[1:], strict=True) if b > a and stretches[a] >= 0]


def slow_heading(
    along: Floats, across: Floats, stretches: np.ndarray, grid: Grid, width_s: float, use: Mask | None = None
) -> Floats:
    """(n,) running mean direction of the vectors (along, across) [rad]; NaN where unknown.

    stretches : as from `joint_stretches`; each is averaged on its own.   width_s : Gaussian standard deviation [s].
    use : (n,) where a sample counts (default: everywhere known).
    """
    out = np.full(grid.n, np.nan)
    for part in runs(stretches):
        weight = np.ones(part.stop - part.start) if use is None else use[part].astype(np.float64)
        if not weight.any():
            continue
        mean_along = slow(along[part], weight, width_s, grid.rate_hz)
        mean_across = slow(across[part], weight, width_s, grid.rate_hz)
        out[part] = np.arctan2(mean_across, mean_along)
    return out


def heading_tie(proximal: SegmentAxes, distal: SegmentAxes, grid: Grid, width_s: float = TIE_S) -> Floats:
    """(n,) slow heading of the distal right axis minus the proximal one [rad]; NaN where not known together."""
    p, d = proximal.z, distal.z
    along = p[:, 0] * d[:, 0] + p[:, 1] * d[:, 1]
    across = p[:, 0] * d[:, 1] - p[:, 1] * d[:, 0]
    return slow_heading(along, across, joint_stretches(proximal, distal), grid, width_s)
