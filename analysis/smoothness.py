"""How smooth a movement is: spectral arc length, and the log dimensionless jerk of its speed.

Balasubramanian, Melendez-Calderon & Burdet 2012, IEEE TBME 59:2126-2136, and Balasubramanian et al. 2015, J NeuroEng
Rehabil 12:112. Both are unitless and negative; nearer to 0 is smoother. They are validated for single, discrete
movements, so they are taken of one lift of the foot at a time, never of a stretch of playing.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

CUTOFF_HZ = 10.0
AMPLITUDE = 0.05
PADDING = 4
_MOVING = 0.05  # of the peak of the speed (5 to 10 % are common practice, no source)
_FEWEST = 5


def sparc(
    speed: Floats, rate_hz: float, *, cutoff_hz: float = CUTOFF_HZ, amplitude: float = AMPLITUDE, padding: int = PADDING
) -> float | None:
    """Spectral arc length of a speed profile, unitless, below 0.

    speed : (n,), any unit. cutoff_hz, amplitude : the spectrum counts up to the last frequency below cutoff_hz at which
    it reaches `amplitude` of its peak; padding : zeros to 2**padding times the next power of two (the authors'
    defaults; a fast lift needs a higher cut-off than a reach of the arm, and figures of different ones do not compare).
    None for fewer than five samples, unknown ones, or no movement.
    """
    if speed.size < _FEWEST or not bool(np.isfinite(speed).all()) or not bool(speed.any()):
        return None
    size = 2 ** (math.ceil(math.log2(speed.size)) + padding)
    # Only frequencies up to the cut-off are looked at; the spectrum of a real profile is symmetric.
    spectrum = np.abs(np.fft.rfft(speed, size))
    spectrum /= spectrum.max()
    step = rate_hz / size
    last = min(spectrum.size, math.floor(cutoff_hz / step + 1e-9) + 1)
    spectrum = spectrum[:last]
    loud = np.flatnonzero(spectrum >= amplitude)
    if not loud.size or loud[-1] == loud[0]:
        return None
    part = spectrum[loud[0] : loud[-1] + 1]
    width = 1.0 / (part.size - 1)
    return -float(np.sqrt(width**2 + np.diff(part) ** 2).sum())


def log_dimensionless_jerk(speed: Floats, rate_hz: float) -> float | None:
    """-ln( T**3 / peak**2 x integral of (d2 speed / dt2)**2 dt ), unitless: the form with the peak of the speed.

    speed : (n,), any unit. As the authors' code counts it: T is n samples, derivatives are plain differences.
    None for fewer than five samples, unknown ones, or no movement.
    """
    if speed.size < _FEWEST or not bool(np.isfinite(speed).all()):
        return None
    peak = float(np.abs(speed).max())
    jerk = np.diff(speed, 2) * rate_hz**2
    total = float(jerk @ jerk) / rate_hz
    duration = speed.size / rate_hz
    return -math.log(duration**3 / peak**2 * total) if peak > 0 and total > 0 else None


def movement_speed(angle_deg: Floats, rate_hz: float) -> Floats:
    """Speed of the movement within a piece of an angle trace, from its onset to its end, (k,) [deg/s].

    angle_deg : (n,) [deg]. From the first to the last sample at which the speed is above 5 % of its peak: a halt on
    the way belongs to the movement. Empty where anything is unknown or nothing moves.
    """
    if angle_deg.size < 3 or not bool(np.isfinite(angle_deg).all()):
        return np.zeros(0)
    speed = np.abs(np.diff(angle_deg)) * rate_hz
    moving = np.flatnonzero(speed > _MOVING * float(speed.max()))
    return speed[moving[0] : moving[-1] + 1] if moving.size else np.zeros(0)
