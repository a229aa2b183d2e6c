"""Do the samples fit the units they are said to have? Only slips that are certain are refused.

Gravity settles the acceleration: whatever a leg does, the middle of its acceleration's length lies near 9.8 m/s^2.
It helps with the angular rate, too: while the clip turns, gravity turns in it, dg/dt = -w x g, so the two sensors
measure one rotation in two ways. Linear acceleration changes that ratio (on a swinging leg even its sign), so a factor
near 57.3 between them is believed only when the rates themselves are unlikely, too.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from .recording import ACCELERATION_UNITS, ANGULAR_RATE_UNITS, STANDARD_GRAVITY

Array = npt.NDArray[np.float64]

SLOWEST_HZ = 100.0
"""Below this fast strokes are not seen: 10 samples a stroke at 10 strokes a second (ours) [Hz]."""
RATE_OFF_SHARE = 0.1
"""A rate may be this far from what a part promises (ours: sensors are off by a few per cent, arrival by as much)."""
# Median length of the acceleration that a worn clip can have, in units of gravity.
_LEAST_G, _MOST_G = 0.5, 2.0
# Twice the widest range of a usual part (2000 deg/s = 34.9 rad/s).
_MOST_RAD_S = 70.0
_MOST_DEG_S = 4500.0
_ENOUGH_WINDOWS = 8
_LEAST_CORRELATION = 0.3
_ENOUGH_T = 8.0  # slope of the regression over its standard error
_LEAST_TURN = 0.02  # of gravity's direction within a window [rad]
_WINDOW_S = 0.1
_TIMES_OFF = (20.0, 170.0)  # around 57.3
_FAST_RAD_S = 10.0  # fast for a leg: a slip towards deg/s is believed from here
_GENTLE_DEG_S = 35.0  # gentle for a whole recording: a slip towards rad/s is believed up to here


def time_slip(time_s: Array) -> str | None:
    """Why `time_s` (n,) cannot be in seconds, or None. [s]"""
    step = float(np.median(np.diff(time_s)))
    if step >= 0.5:
        unit, divisor = ("milliseconds", 1e3) if step < 500 else ("microseconds", 1e6)
        if step > 5e5:
            unit, divisor = "nanoseconds", 1e9
        return (
            f"time_s steps by {step:g} from sample to sample, which looks like {unit}; divide it by {divisor:,.0f} "
            "so that it is in seconds"
        )
    return None


def slow_rate(time_s: Array) -> str | None:
    """A warning when the sampling is too slow for fast strokes, or None. A part may be off by `RATE_OFF_SHARE`. [s]"""
    rate = 1.0 / float(np.median(np.diff(time_s)))
    if rate >= (1 - RATE_OFF_SHARE) * SLOWEST_HZ:
        return None
    return f"only {rate:.3g} samples a second; fast strokes need {SLOWEST_HZ:g}"


def acceleration_slip(acc: Array, unit: str) -> str | None:
    """Why acc (n, 3) cannot be in `unit`, or None."""
    length = float(np.median(np.linalg.norm(acc, axis=1)))
    gravity = length * ACCELERATION_UNITS[unit] / STANDARD_GRAVITY
    if _LEAST_G <= gravity <= _MOST_G:
        return None
    expected = {"m/s^2": "9.8", "g": "1"}[unit]
    found = f"the middle length of the acceleration is {length:.3g} where gravity alone makes {expected} {unit}"
    for other, factor in ACCELERATION_UNITS.items():
        if other != unit and _LEAST_G <= length * factor / STANDARD_GRAVITY <= _MOST_G:
            return f'{found}: it looks like {other}; write acceleration = "{other}" in [units]'
    if _LEAST_G <= length / 1000.0 <= _MOST_G:
        return f'{found}: it looks like thousandths of g; divide it by 1000 and write acceleration = "g"'
    if gravity < _LEAST_G:
        return f"{found}: has gravity been taken out? export the acceleration as measured, gravity included"
    return f"{found}; convert the values to {' or '.join(ACCELERATION_UNITS)}"


def stuck_sensor(acc: Array, gyr: Array) -> str | None:
    """Why a sensor cannot have been on: every sample of acc (n, 3) or gyr (n, 3) is the same, without any noise."""
    for what, part, values in (("acceleration", "accelerometer", acc), ("angular rate", "gyroscope", gyr)):
        if not np.ptp(values, axis=0).any():
            return (
                f"the {what} is the same in every line, so the {part} was off; switch it on and record again, or "
                "export the recording again"
            )
    return None


def angular_rate_slip(time_s: Array, acc: Array, gyr: Array, unit: str) -> str | None:
    """Why gyr (n, 3) cannot be in `unit`, or None. acc (n, 3) in any unit, time_s (n,) [s]."""
    top = float(np.quantile(np.linalg.norm(gyr, axis=1), 0.99))
    most = _MOST_RAD_S if unit == "rad/s" else _MOST_DEG_S
    other = next(name for name in ANGULAR_RATE_UNITS if name != unit)
    if top > most:
        found = f"one in a hundred angular rates is above {top:.4g} {unit}, more than a leg can turn"
        if unit == "rad/s" and top < _MOST_DEG_S:
            return f'{found}: it looks like deg/s; write angular_rate = "deg/s" in [units]'
        return f"{found}; convert the values to {' or '.join(ANGULAR_RATE_UNITS)}"
    if top < _FAST_RAD_S if unit == "rad/s" else top > _GENTLE_DEG_S:
        return None
    ratio = _gravity_turn_ratio(time_s, acc, gyr * ANGULAR_RATE_UNITS[unit])
    if ratio is None:
        return None
    times_off = ratio if unit == "deg/s" else 1.0 / ratio
    if not _TIMES_OFF[0] < times_off < _TIMES_OFF[1]:
        return None
    direction = "slower" if unit == "rad/s" else "faster"
    return (
        f"gravity turns in the clip {times_off:.0f} times {direction} than the angular rate in {unit} says, so it "
        f'looks like {other}; write angular_rate = "{other}" in [units]'
    )


def _gravity_turn_ratio(time_s: Array, acc: Array, gyr: Array) -> float | None:
    """How fast gravity's direction turns, over how fast the angular rate [rad/s] says it does, without sign.

    None when the clip turns too little, or linear acceleration hides gravity too much, to be certain.
    """
    step = float(np.median(np.diff(time_s)))
    rows = max(3, round(_WINDOW_S / step))
    n = len(time_s) // rows * rows
    if n // rows < _ENOUGH_WINDOWS + 1:
        return None
    length = np.linalg.norm(acc[:n], axis=1, keepdims=True)
    direction = acc[:n] / np.where(length > 0, length, 1.0)
    turn = -np.cross(gyr[:n], direction).reshape(-1, rows, 3).mean(axis=1)
    mean = direction.reshape(-1, rows, 3).mean(axis=1)
    times = time_s[:n].reshape(-1, rows).mean(axis=1)
    spans = np.diff(times)[:, None]
    said = 0.5 * (turn[1:] + turn[:-1]) * spans
    seen = np.diff(mean, axis=0)
    use = (spans[:, 0] < 2 * rows * step) & (np.linalg.norm(seen, axis=1) > _LEAST_TURN)
    if int(use.sum()) < _ENOUGH_WINDOWS:
        return None
    said, seen = said[use], seen[use]
    power = float((said * said).sum())
    seen_power = float((seen * seen).sum())
    both = float((said * seen).sum())
    if power <= 0 or seen_power <= 0:
        return None
    correlation = both / math.sqrt(power * seen_power)
    t = correlation * math.sqrt((said.size - 1) / max(1e-12, 1.0 - correlation**2))
    if abs(correlation) < _LEAST_CORRELATION or abs(t) < _ENOUGH_T:
        return None
    return abs(both) / power
