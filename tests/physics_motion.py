"""Smooth motions: minimum-jerk moves, stroke trains, slow wanders. Pure, seeded by the caller."""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import CubicSpline
from scipy.signal import lfilter


def minimum_jerk(x):
    """0 to 1 with zero velocity and acceleration at both ends, for x from 0 to 1 (held outside)."""
    x = np.clip(x, 0.0, 1.0)
    return x**3 * (10.0 - 15.0 * x + 6.0 * x**2)


def pulse(t, start, rise, hold, fall):
    """0 before `start`, up within `rise`, 1 for `hold`, down within `fall` [s]."""
    return minimum_jerk((t - start) / rise) - minimum_jerk((t - start - rise - hold) / fall)


def wander(t, sd, time_constant_s, rng):
    """A smooth stationary random drift sampled at `t` (even grid) [same unit as sd]; sd over many runs, not in one.

    First-order noise, smoothed once more with a tenth of its time constant, through a spline.
    """
    t = np.asarray(t)
    if sd == 0.0 or len(t) == 0:
        return np.zeros(len(t))
    step = time_constant_s / 20.0
    lead = 400
    n = int(np.ceil((t[-1] - t[0]) / step)) + 4 + lead
    keep, smooth = np.exp(-step / time_constant_s), np.exp(-10.0 * step / time_constant_s)
    noise = rng.normal(0.0, 1.0, n)
    slow = lfilter([1.0 - smooth], [1.0, -smooth], lfilter([1.0], [1.0, -keep], noise))
    impulse = lfilter([1.0 - smooth], [1.0, -smooth], keep ** np.arange(2000))
    knots = slow[lead:] * sd / np.sqrt(np.sum(impulse**2))
    return CubicSpline(t[0] + step * np.arange(len(knots)), knots)(t)


@dataclass(frozen=True)
class Strokes:
    """How a foot plays: bursts at one rate each, rests between. Amplitudes are the foot's turn on the board [deg].

    `small_share` of the strokes is below `small_below_deg`, where that lies within the amplitudes.
    """

    rate_hz: tuple = (2.0, 6.0)
    amplitude_deg: tuple = (3.0, 20.0)
    small_share: float = 1.0 / 3.0
    small_below_deg: float = 8.0
    burst_s: tuple = (4.0, 12.0)
    rest_s: tuple = (1.0, 5.0)

    def draw(self, duration_s, rng):
        """Strokes from 0 to duration: arrays `start_s`, `length_s`, `amplitude_deg`, none overlapping."""
        starts, lengths, amplitudes = [], [], []
        now = rng.uniform(*self.rest_s)
        while now < duration_s:
            interval = 1.0 / rng.uniform(*self.rate_hz)
            end = min(now + rng.uniform(*self.burst_s), duration_s - self.rest_s[0])
            while now + interval < end:
                low, high = self.amplitude_deg
                if self.small_share > 0.0 and low < self.small_below_deg < high:
                    small = rng.random() < self.small_share
                    low, high = (low, self.small_below_deg) if small else (self.small_below_deg, high)
                starts.append(now)
                lengths.append(min(0.85 * interval, 0.32))
                amplitudes.append(rng.uniform(low, high))
                now += interval * rng.uniform(0.97, 1.03)
            now = max(now, end) + rng.uniform(*self.rest_s)
        return np.array(starts), np.array(lengths), np.array(amplitudes)


def stroke_train(t, start_s, length_s, amplitude):
    """The strokes as one curve on the even grid `t`: down in 45 % of each, up in 55 %."""
    out = np.zeros(len(t))
    for start, length, height in zip(start_s, length_s, amplitude, strict=True):
        i, j = np.searchsorted(t, (start, start + length))
        out[i:j] = height * pulse(t[i:j], start, 0.45 * length, 0.0, 0.55 * length)
    return out
