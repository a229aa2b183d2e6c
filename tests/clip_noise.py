"""What a real clip adds to ideal samples: bias, noise, steps, its own clock, losses. Pure, seeded by the caller.

Default figures are those of a common consumer part (from memory): 7 mdps and 120 ug per root hertz, 16 bit.
"""

from dataclasses import dataclass

import numpy as np

G = 9.81


@dataclass(frozen=True)
class ClipErrors:
    """Errors of every clip of a session; spreads are standard deviations."""

    gyro_bias_dps: float = 0.4
    gyro_walk_dps_per_root_s: float = 0.0
    gyro_noise_dps_per_root_hz: float = 0.007
    acc_noise_g_per_root_hz: float = 120e-6
    acc_offset_g: float = 0.0
    gyro_full_scale_dps: float = 2000.0
    acc_full_scale_g: float = 16.0
    bits: int = 16
    clock_offset_s: float = 0.0
    clock_skew_ppm: float = 0.0
    clock_jitter_s: float = 0.0
    lost_share: float = 0.0


PERFECT = ClipErrors(
    gyro_bias_dps=0.0,
    gyro_noise_dps_per_root_hz=0.0,
    acc_noise_g_per_root_hz=0.0,
    gyro_full_scale_dps=np.inf,
    acc_full_scale_g=np.inf,
    bits=0,
)


@dataclass(frozen=True)
class Gap:
    """A span in which one clip sends nothing [s, on the first clip's clock]."""

    clip: str
    start_s: float
    end_s: float


@dataclass(frozen=True)
class ClipRecord:
    """One clip as recorded: its own clock [s], acceleration [m/s^2], angular rate [rad/s], and its true bias."""

    time_s: np.ndarray
    acc: np.ndarray
    gyr: np.ndarray
    gyro_bias_dps: np.ndarray


def quantise(values, full_scale, bits):
    """Values in the steps of a signed `bits` wide number over +-full_scale, saturated at its ends."""
    if not np.isfinite(full_scale):
        return values
    step = full_scale / 2 ** (bits - 1)
    return np.clip(np.round(values / step), -(2 ** (bits - 1)), 2 ** (bits - 1) - 1) * step


def spoil(stamps, acc, gyr, rate_hz, errors, rng, *, reference_clock, gaps=()):
    """Ideal samples at `stamps` [s] as the clip would record them.

    The reference clip (the first listed) keeps its clock exact: everyone's time is counted on it.
    """
    n = len(stamps)
    dps = np.degrees(gyr)
    bias = rng.normal(0.0, errors.gyro_bias_dps, 3)
    walk = rng.normal(0.0, errors.gyro_walk_dps_per_root_s / np.sqrt(rate_hz), (n, 3)).cumsum(axis=0)
    noise = rng.normal(0.0, 1.0, (n, 3)) * errors.gyro_noise_dps_per_root_hz * np.sqrt(rate_hz / 2.0)
    dps = quantise(dps + bias + walk + noise, errors.gyro_full_scale_dps, errors.bits)
    offset = rng.normal(0.0, errors.acc_offset_g, 3)
    shake = rng.normal(0.0, 1.0, (n, 3)) * errors.acc_noise_g_per_root_hz * np.sqrt(rate_hz / 2.0)
    force = quantise(acc / G + offset + shake, errors.acc_full_scale_g, errors.bits)
    time_s = np.array(stamps, dtype=float)
    start, skew = rng.normal(0.0, 1.0, 2) * (errors.clock_offset_s, errors.clock_skew_ppm * 1e-6)
    jitter = np.clip(rng.normal(0.0, errors.clock_jitter_s, n), -0.45 / rate_hz, 0.45 / rate_hz)
    keep = rng.random(n) >= errors.lost_share
    for gap in gaps:
        keep &= ~((time_s >= gap.start_s) & (time_s < gap.end_s))
    if not reference_clock:
        time_s = time_s * (1.0 + skew) + start
    time_s = time_s + jitter
    return ClipRecord(time_s[keep], force[keep] * G, np.radians(dps[keep]), bias)


def knocks(stamps, times, size, rng):
    """A burst (n, 3) of `size` [its unit] in one fixed direction after each time: sign by turns, gone in 30 ms."""
    direction = rng.normal(0.0, 1.0, 3)
    direction /= np.linalg.norm(direction)
    out = np.zeros((len(stamps), 3))
    for time in times:
        first, last = np.searchsorted(stamps, (time, time + 0.03))
        after = stamps[first:last] - time
        burst = size * np.exp(-after / 0.01) * (-1.0) ** np.arange(last - first)
        out[first:last] += burst[:, None] * direction
    return out
