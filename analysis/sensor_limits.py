"""Did a sensor reach the end of its range? Then its largest values are cut off, and the motion there looks too small.

Seen in the samples themselves, whatever the part: several times three or more samples in a row stand at exactly the
largest value of an axis. A motion that turns round by itself leaves a largest value that occurs once or twice.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..logger.recording import STANDARD_GRAVITY
from .timebase import Floats

ROW = 3
"""So many samples in a row at the same largest value are no turning point (ours)."""
TIMES = 3
"""As often as this it is no chance (ours)."""
LEAST = {"gyroscope": np.radians(100.0), "accelerometer": 1.9 * STANDARD_GRAVITY}
"""Limits below these no part has: 125 deg/s and 2 g are the smallest usual ranges [rad/s, m/s^2] (from memory)."""
UNIT = {"gyroscope": ("deg/s", 180.0 / np.pi), "accelerometer": ("g", 1.0 / STANDARD_GRAVITY)}
KNOCKS_SHARE = 0.001
"""An accelerometer cut off for a smaller share of the time is hit by knocks, which are bridged anyway (ours)."""


def reached_limits(acc: Floats, gyr: Floats) -> list[dict[str, Any]]:
    """Sensors of one clip that were at their limit: `sensor`, `limit`, `unit`, `times`, `share` of the samples.

    acc : (n, 3) [m/s^2].   gyr : (n, 3) [rad/s].
    """
    found: list[dict[str, Any]] = []
    for sensor, values in (("gyroscope", gyr), ("accelerometer", acc)):
        most, times, samples = 0.0, 0, 0
        for axis in range(3):
            for sign in (1.0, -1.0):
                limit, rows = _rows_at_top(sign * values[:, axis], LEAST[sensor])
                if len(rows) >= TIMES:
                    most, times, samples = max(most, limit), times + len(rows), samples + int(rows.sum())
        share = samples / max(len(values), 1)
        if times and (sensor == "gyroscope" or share >= KNOCKS_SHARE):
            unit, factor = UNIT[sensor]
            found.append(
                {"sensor": sensor, "limit": round(most * factor, 1), "unit": unit, "times": times, "share": share}
            )
    return found


def _rows_at_top(values: Floats, least: float) -> tuple[float, np.ndarray[Any, np.dtype[np.int64]]]:
    """The largest of (n,) values, and how many samples stood there in each row of `ROW` or more."""
    top = float(values.max(initial=0.0))
    at = np.flatnonzero(values == top) if top >= least else np.zeros(0, dtype=np.int64)
    if at.size < ROW * TIMES:
        return top, np.zeros(0, dtype=np.int64)
    rows = np.diff(np.flatnonzero(np.diff(at, prepend=-2, append=at[-1] + 2) != 1))
    return top, rows[rows >= ROW]
