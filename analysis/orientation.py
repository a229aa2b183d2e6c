"""Orientation of each clip against gravity, six-axis (no magnetometer), by the offline version of the VQF filter.

Source: Laidig D, Seel T 2023, VQF: highly accurate IMU orientation estimation with bias estimation and magnetic
disturbance rejection, Information Fusion 91:187-204, doi:10.1016/j.inffus.2022.10.014 (library `vqf`).
The heading of each clip is arbitrary and drifts; everything downstream that needs headings says where it gets them.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from .timebase import Floats, Mask

Singles = NDArray[np.float32]

MIN_STRETCH_S = 5.0
"""A stretch between gaps shorter than this is not oriented: the filter needs seconds to find gravity [s]."""
KNOCK_M_S2 = 26.0
"""A sample so far off the line between its neighbours is a knock, at 200 Hz and faster [m/s^2] (ours). However hard a
leg swings it does so smoothly: strokes of 25 deg in 0.1 s, whose shank feels +-9 g, stay under 25 at their sharpest."""
KNOCK_S = 0.02
"""How long a knock rings [s]."""
FILTER = {"restThGyr": 0.5, "restMinT": 2.0, "biasForgettingTime": 300.0}
"""What differs from the filter's defaults: a slow range move must not pass for rest (2 deg/s would), and the bias of a
worn clip changes slowly. On the physics leg (3 seeds, 6 clips, 13 min) this takes the RMS error of the bias from 0.061
to about 0.016 deg/s, and with it the drift of headings."""


_CALM_RAD_S, _FEWEST_CALM = 0.05, 3
"""A second whose rates spread by less, summed over the axes, is calm [rad/s]; so many tell a bias (ours)."""


@dataclass(frozen=True)
class Track:
    """Orientation of one clip on the common grid.

    quat : (n, 4) unit quaternions w, x, y, z, sensor to earth (z up, heading arbitrary).
    gyr : (n, 3) angular rate in the sensor frame, bias removed [rad/s]. Both in single precision (1e-5 deg), which
        halves what two processes hand over.
    known : (n,) False where the clip was silent or its orientation had not settled.
    stretch : (n,) number of the unbroken stretch each sample belongs to, -1 where unknown. Headings do not carry
        over from one stretch to the next.
    rate_hz : rate of the grid [Hz].   knocked : share of the known samples whose force was bridged under knocks.
    """

    quat: Singles
    gyr: Singles
    known: Mask
    stretch: NDArray[np.int32]
    rate_hz: float
    knocked: float = 0.0


def orient(acc: Floats, gyr: Floats, known: Mask, rate_hz: float) -> Track:
    """Orientation of one clip from its samples on the common grid.

    acc : (n, 3) specific force [m/s^2].   gyr : (n, 3) angular rate, bias not removed [rad/s].
    known : (n,) False inside gaps.   rate_hz : rate of the grid [Hz].
    Each stretch between gaps is filtered on its own, so that a turn nobody saw cannot leak across a gap.
    """
    n = len(acc)
    spans = _stretches(known, round(MIN_STRETCH_S * rate_hz))
    quat = np.zeros((n, 4), dtype=np.float32, order="F")
    quat[:, 0] = 1.0
    free = np.zeros((n, 3), dtype=np.float32)
    stretch = np.full(n, -1, dtype=np.int32)
    bias_0 = _rest_bias(gyr, known, rate_hz) if len(spans) > 1 else np.zeros(3)
    knocked = 0
    for i, (low, high) in enumerate(spans):
        part = slice(low, high)
        force, bridged = without_knocks(acc[part], rate_hz)
        quat[part], free[part], rested = _filter(force, gyr[part] - bias_0, rate_hz)
        if not rested and len(spans) == 1:  # then the filter never learns a bias about the vertical
            quat[part], free[part], _ = _filter(force, gyr[part] - _rest_bias(gyr, known, rate_hz), rate_hz)
        stretch[part] = i
        knocked += bridged
    known = stretch >= 0
    return Track(quat, free, known, stretch, rate_hz, knocked / max(int(known.sum()), 1))


def without_knocks(acc: Floats, rate_hz: float) -> tuple[Floats, int]:
    """(n, 3) specific force with knocks bridged [m/s^2], and how many samples were.

    Where beater, board or stand hit the clip, single samples stand off by more than any leg's motion bends; a part
    that saturates or rings then reads a mean force that is not there, and gravity seems to lean. From just before such
    a sample to `KNOCK_S` after the last one the force is taken as a straight line: what is left of the
    ringing would bend a fitted curve.
    """
    off = np.abs(acc[1:-1] - 0.5 * (acc[:-2] + acc[2:])).max(axis=1, initial=0.0)
    knock = off > KNOCK_M_S2 * max(1.0, 200.0 / rate_hz)
    if not knock.any():
        return acc, 0
    after = max(1, round(KNOCK_S * rate_hz))
    starts = np.flatnonzero(knock)
    change = np.zeros(len(acc) + 1, dtype=np.int32)
    np.add.at(change, starts, 1)
    np.add.at(change, np.minimum(starts + after + 1, len(acc)), -1)
    good = np.flatnonzero(np.cumsum(change[:-1]) == 0)
    if good.size < 2:
        return acc, 0
    bad = np.flatnonzero(np.cumsum(change[:-1]) > 0)
    out = acc.copy()
    for k in range(3):
        out[bad, k] = np.interp(bad, good, acc[good, k])
    return out, len(bad)


def _filter(acc: Floats, gyr: Floats, rate_hz: float) -> tuple[Floats, Floats, bool]:
    """Orientation, rate without bias, and whether it saw more than a second of rest."""
    from vqf import offlineVQF

    out = offlineVQF(np.ascontiguousarray(gyr), np.ascontiguousarray(acc), None, 1.0 / rate_hz, FILTER)
    return _half_a_step_back(out["quat6D"]), gyr - out["bias"], bool(np.count_nonzero(out["restDetected"]) > rate_hz)


def _half_a_step_back(quat: Floats) -> Floats:
    """The filter adds a sample's whole turn at its stamp: it is half a sample ahead. Go half way to the one before.

    The normalised sum of two neighbours is the orientation half way between them.
    """
    out = quat.copy()
    same = np.einsum("ij,ij->i", quat[1:], quat[:-1]) >= 0.0
    out[1:] += quat[:-1] if same.all() else np.where(same[:, None], quat[:-1], -quat[:-1])
    out /= np.sqrt(np.einsum("ij,ij->i", out, out))[:, None]
    return out


def _stretches(known: Mask, shortest: int) -> list[tuple[int, int]]:
    """(low, high) index spans where `known` holds without a break for at least `shortest` samples."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], known, [False]]).astype(np.int8)))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a >= shortest]


def _rest_bias(gyr: Floats, known: Mask, rate_hz: float, quietest: float = 0.02) -> Floats:
    """Rough gyroscope bias [rad/s]: the median rate over the quietest seconds; zero where fewer than three are calm.

    One calm second in a walk may be a slow turn, and the filter does better by itself.
    """
    size = max(round(rate_hz), 1)
    blocks = [gyr[i : i + size] for i in range(0, len(gyr) - size + 1, size) if known[i : i + size].all()]
    if not blocks:
        return np.zeros(3)
    spread = np.array([block.std(axis=0).sum() for block in blocks])
    calm = np.argsort(spread)[: max(_FEWEST_CALM, int(quietest * len(blocks)))]
    calm = calm[spread[calm] <= _CALM_RAD_S]
    if calm.size < _FEWEST_CALM:
        return np.zeros(3)
    return np.median(np.concatenate([blocks[i] for i in calm]), axis=0)


def rotate(quat: Floats | Singles, vector: Floats) -> Floats:
    """(n, 3) the sensor-fixed `vector` (3,) in the earth frame, for each of (n, 4) quaternions w, x, y, z."""
    w, x, y, z = np.ascontiguousarray(quat.T, dtype=np.float64)
    a, b, c = 2.0 * vector
    p, q, r = y * c - z * b, z * a - x * c, x * b - y * a  # t = 2 u x v;  v + w t + u x t
    out = np.empty((len(quat), 3), order="F")
    out[:, 0] = vector[0] + w * p + (y * r - z * q)
    out[:, 1] = vector[1] + w * q + (z * p - x * r)
    out[:, 2] = vector[2] + w * r + (x * q - y * p)
    return out


def up_in_sensor(quat: Floats | Singles) -> Floats:
    """(n, 3) the upward vertical in the sensor frame: third row of the rotation matrix."""
    w, x, y, z = np.ascontiguousarray(quat.T, dtype=np.float64)
    return np.column_stack([2 * (x * z - w * y), 2 * (y * z + w * x), 1 - 2 * (x * x + y * y)])
