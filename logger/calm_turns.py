"""Is the angular rate in its unit? Told from how far gravity turned in the clip between moments of calm.

Between two calm moments the rates add up to a turn; it must carry gravity from where it was to where it is. A rate that
is 57.3 times too small carries it nowhere, one that is 57.3 times too large carries it anywhere. On 37 clips (sample
sessions) the true unit leaves at most 2 % of a turn over (median of a clip), the wrong one 98 % or more. Where nobody
is ever calm nothing is said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from .recording import ANGULAR_RATE_UNITS, STANDARD_GRAVITY

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

# All ours.
_CALM_S = 0.2
_CALM_M_S2 = 0.2  # spread of each axis within it
_LENGTH_OFF = 0.03  # of gravity's length from its middle
_LONGEST_S = 3.0  # from one calm moment to the other: bias and noise add up to little
_LEAST_TURN = math.radians(8.0)
_FEWEST, _MOST = 5, 40  # turns
_EXPLAINED, _UNEXPLAINED = 0.3, 0.5  # part of a turn that is left over


@dataclass(frozen=True)
class _Turns:
    """Turns between calm moments: gravity's direction before and after, (m, 3), and the rows between, (m,)."""

    before: Array
    after: Array
    first: Indices
    last: Indices
    bias: Array
    step_s: float


def calm_turn_slip(time_s: Array, acc: Array, gyr: Array, unit: str) -> str | None:
    """Why gyr (n, 3) cannot be in `unit`, or None. acc (n, 3) in any unit, time_s (n,) [s]."""
    turns = _turns(time_s, acc, gyr)
    if turns is None:
        return None
    other = next(name for name in ANGULAR_RATE_UNITS if name != unit)
    as_said, as_other = (_left_over(turns, gyr, ANGULAR_RATE_UNITS[name]) for name in (unit, other))
    if not (as_said > _UNEXPLAINED and as_other < _EXPLAINED):
        return None
    return (
        f"between moments of calm gravity turns in the clip as the angular rate says in {other}, not in {unit}, so it "
        f'looks like {other}; write angular_rate = "{other}" in [units]'
    )


def _turns(time_s: Array, acc: Array, gyr: Array) -> _Turns | None:
    """The largest turns of gravity between calm moments, none over another; None with too few of them."""
    step = float(np.median(np.diff(time_s)))
    rows = max(3, round(_CALM_S / step))
    n = len(time_s) // rows
    force = acc[: n * rows].reshape(n, rows, 3)
    mean = force.mean(axis=1)
    length = np.linalg.norm(mean, axis=1)
    gravity = float(np.median(length)) if n else 0.0
    if not gravity > 0:
        return None
    calm = (force.std(axis=1).max(axis=1) < _CALM_M_S2 / STANDARD_GRAVITY * gravity) & (
        np.abs(length / gravity - 1.0) < _LENGTH_OFF
    )
    up = mean / np.where(length > 0, length, 1.0)[:, None]
    stamps = time_s[rows // 2 : n * rows : rows]
    best, to = np.zeros(n), np.zeros(n, dtype=np.intp)
    for ahead in range(1, min(round(_LONGEST_S / (rows * step)), n - 1) + 1):
        turn = np.arccos(np.clip(np.einsum("ij,ij->i", up[:-ahead], up[ahead:]), -1.0, 1.0))
        spans = stamps[ahead:] - stamps[:-ahead]
        whole = np.abs(spans - ahead * rows * step) < 0.05 * spans  # no gap in between
        better = np.flatnonzero(calm[:-ahead] & calm[ahead:] & whole & (turn > best[:-ahead]))
        best[better], to[better] = turn[better], better + ahead
    taken = np.zeros(n, dtype=np.bool_)
    chosen: list[int] = []
    for i in np.argsort(-best).tolist():
        if best[i] < _LEAST_TURN or len(chosen) == _MOST:
            break
        if not taken[i : to[i]].any():
            taken[i : to[i]] = True
            chosen.append(i)
    if len(chosen) < _FEWEST:
        return None
    use = np.array(chosen)
    bias = np.median(gyr[: n * rows].reshape(n, rows, 3)[calm].mean(axis=1), axis=0)
    middle = rows // 2
    return _Turns(up[use], up[to[use]], use * rows + middle, to[use] * rows + middle, bias, step)


def _left_over(turns: _Turns, gyr: Array, to_rad_s: float) -> float:
    """Angle that is left between gravity carried by the rates and gravity seen, over the turn: middle of all turns."""
    carried = turns.before.copy()
    for k in range(int((turns.last - turns.first).max())):
        row = np.minimum(turns.first + k, turns.last - 1)
        going = (turns.first + k < turns.last)[:, None]
        by = (turns.bias - gyr[row]) * (to_rad_s * turns.step_s) * going
        angle = np.linalg.norm(by, axis=1, keepdims=True)
        axis = by / np.where(angle > 0, angle, 1.0)
        along = axis * np.einsum("ij,ij->i", axis, carried)[:, None]
        carried = along + (carried - along) * np.cos(angle) + np.cross(axis, carried) * np.sin(angle)
    left = np.arccos(np.clip(np.einsum("ij,ij->i", carried, turns.after), -1.0, 1.0))
    turned = np.arccos(np.clip(np.einsum("ij,ij->i", turns.before, turns.after), -1.0, 1.0))
    return float(np.median(left / turned))
