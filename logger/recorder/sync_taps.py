"""A gentle tap that all clips feel at once shows what is left between their clocks.

Asked for during a recording (both heels dropped on the floor together, say), a tap is a sharp peak of acceleration in
every clip. Clocks from arrivals take the shortest delay as the same for all; taps show where it is not. They are
believed only when every tap is clear in a clip, and the taps agree. Ours; thresholds chosen, not measured on people.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

AROUND_S = 1.5  # a tap is looked for this far around the moment it was asked for or noted [s]
LEAST_TAPS = 2
AGREE_S = 0.004  # taps that differ by more say nothing [s]
LARGEST_S = 0.1  # no clock is so far off after the fit [s]
_CLEAR = 12.0  # a peak is clear when so many times larger than the usual change from sample to sample
_ALONE = 0.6  # and nothing further than `_NEAR_S` from it reaches this share of it
_NEAR_S = 0.15

Window = tuple[Floats, Floats]
"""Times (n,) [s] and sizes (n,) of the acceleration [any unit] of a clip around one tap."""


def tap_time(window: Window) -> float | None:
    """When a clip felt the tap [s]; None when there is no clear single peak."""
    time_s, size = window
    if len(size) < 20:
        return None
    sharp = np.abs(np.diff(size))
    usual = float(np.median(sharp))
    best = int(np.argmax(sharp))
    if sharp[best] < _CLEAR * max(usual, 1e-9) or not 0 < best < len(sharp) - 1:
        return None
    elsewhere = np.abs(time_s[1:] - time_s[1 + best]) > _NEAR_S
    if (sharp[elsewhere] > _ALONE * sharp[best]).any():
        return None
    near = slice(max(0, best - 1), best + 2)
    return float(np.average((time_s[1:] + time_s[:-1])[near] / 2, weights=sharp[near]))


def tap_offsets(taps: Sequence[Mapping[str, Window]]) -> dict[str, float]:
    """How much later each clip must be put to agree with the others [s]; empty unless that is clear.

    taps : per tap, the windows of all clips. A clip that is not listed stays as it is.
    """
    if len(taps) < LEAST_TAPS:
        return {}
    names = [name for name in taps[0] if all(name in tap for tap in taps)]
    felt = {name: [tap_time(tap[name]) for tap in taps] for name in names}
    clear = {name: np.array(times, float) for name, times in felt.items() if None not in times}
    if len(clear) < 2:
        return {}
    together = np.median(list(clear.values()), axis=0)
    found = {}
    for name, times in clear.items():
        off = together - times
        if np.ptp(off) > AGREE_S or abs(off.mean()) > LARGEST_S:
            return {}
        found[name] = float(off.mean())
    return found
