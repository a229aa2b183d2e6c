"""Sudden turns of a clip that last: its mean orientation just after a moment against the one just before.

Over a few seconds a heading drifts by hundredths of a degree, so turns about the vertical show here as well as tilts.
Strokes come and go and leave nothing; what stays is a posture, or a clip that turned on the leg.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .orientation import Track
from .timebase import Floats

HOP_S = 0.25
"""Orientations are averaged over so long; moments are judged this far apart [s]."""
_WIDE, _APART, _LEAST = 8, 2, 3  # hops: averaged at most, left out on either side of the moment, averaged at least
HINGE_S = 60.0
"""So much of the playing before and after shows about which axis a clip turns [s]."""
_HINGE_LEAST_S = 4.0
_HINGE_RAD_S = 0.15
_HINGE_SPREAD = 0.4


@dataclass(frozen=True)
class Steps:
    """time_s : (k,) moments [s]. turn : (k, 3) rotation vector in the clip's own axes [deg]. up : (k, 3) vertical."""

    time_s: Floats
    turn: Floats
    up: Floats

    @property
    def yaw(self) -> Floats:
        """The part about the vertical, (k,) [deg]."""
        return np.einsum("ij,ij->i", self.turn, self.up)

    @property
    def tilt(self) -> Floats:
        """The size of the rest, which gravity shows, (k,) [deg]."""
        return np.sqrt(np.maximum(np.square(self.turn).sum(axis=1) - np.square(self.yaw), 0.0))


def steps(track: Track, part: slice, start_s: float) -> Steps:
    """What a clip turned by at each moment of a part of its track, which begins at start_s [s].

    NaN where the clip was not known without a break from two seconds before to two after, as far as the part reaches.
    """
    quat, good = _hops(track, part)
    n = len(quat)
    i = np.arange(_APART + _LEAST, n - _APART - _LEAST + 1)
    if not i.size:
        return Steps(np.zeros(0), np.zeros((0, 3)), np.zeros((0, 3)))
    total = np.concatenate([np.zeros((1, 4)), np.cumsum(quat, axis=0)])
    first, last = np.maximum(i - _APART - _WIDE, 0), np.minimum(i + _APART + _WIDE, n)
    before, after = total[i - _APART] - total[first], total[last] - total[i + _APART]
    bad = np.concatenate([[0], np.cumsum(~good)])
    whole = bad[last] == bad[first]
    turn = np.where(whole[:, None], _turn_deg(before, after), np.nan)
    return Steps(start_s + HOP_S * i.astype(np.float64), turn, _up(before))


def hinge_axis(track: Track, part: slice) -> Floats | None:
    """The axis a clip turns about most, (3,) in its own axes; None where it hardly moved or in several ways."""
    known = track.known[part]
    gyr = track.gyr[part][known]
    if len(gyr) < _HINGE_LEAST_S * track.rate_hz:
        return None
    power, axes = np.linalg.eigh((gyr.T @ gyr).astype(np.float64) / len(gyr))
    if power[2] < _HINGE_RAD_S**2 or power[1] > _HINGE_SPREAD * power[2]:
        return None
    return axes[:, 2]


def _hops(track: Track, part: slice) -> tuple[Floats, NDArray[np.bool_]]:
    """Sums of quaternions over each hop, signs alike, (m, 4); which hops are known and of one stretch with the last."""
    size = max(round(HOP_S * track.rate_hz), 1)
    m = len(range(*part.indices(len(track.quat)))) // size
    rows = slice(part.start, part.start + m * size)
    quat = track.quat[rows].reshape(m, size, 4)
    alike = np.where(np.einsum("ijk,ik->ij", quat, quat[:, 0]) < 0.0, np.float32(-1), np.float32(1))
    mean = np.einsum("ijk,ij->ik", quat, alike).astype(np.float64)
    if m:
        flips = np.where(np.einsum("ij,ij->i", mean[1:], mean[:-1]) < 0.0, -1.0, 1.0)
        mean[1:] *= np.cumprod(flips)[:, None]
    number = track.stretch[rows].reshape(m, size)
    good = (number[:, 0] == number[:, -1]) & track.known[rows].reshape(m, size).all(axis=1)
    good[1:] &= number[1:, 0] == number[:-1, 0]
    return mean, good


def _turn_deg(before: Floats, after: Floats) -> Floats:
    """Rotation vectors from one orientation to the other in the first one's axes, (k, 3) [deg]; any length of input."""
    w, v = before[:, :1], -before[:, 1:]
    real = w[:, 0] * after[:, 0] - np.einsum("ij,ij->i", v, after[:, 1:])
    vector = w * after[:, 1:] + after[:, :1] * v + np.cross(v, after[:, 1:])
    vector *= np.where(real < 0.0, -1.0, 1.0)[:, None]
    size = np.linalg.norm(vector, axis=1)
    angle = np.degrees(2.0 * np.arctan2(size, np.abs(real)))
    return vector * (angle / np.maximum(size, 1e-12))[:, None]


def _up(quat: Floats) -> Floats:
    w, x, y, z = (quat / np.maximum(np.linalg.norm(quat, axis=1, keepdims=True), 1e-12)).T
    return np.column_stack([2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)])
