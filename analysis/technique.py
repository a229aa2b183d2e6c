"""Heel-down or heel-up: which way a foot played, told from the pitch of its sole, or "unknown".

At rest on the pedal the heel is on its plate and the sole lies on the board. Heel-down, the foot comes back to that
pitch after every stroke; heel-up, the heel stays lifted and the sole stays steeper (toes down) even between strokes.
So the least steep pitch of each stretch of playing, against the pitch at rest, tells the two apart; in between, or
where no rest was recorded or no foot clip worn, nothing is claimed here; `heel_style.py` then asks stroke by stroke,
and gives the one answer that is reported. Thresholds are ours.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from .timebase import Floats, Grid

Technique = Literal["heel-down", "heel-up", "unknown"]

STRETCH_S = 20.0
"""Length of the stretches of playing that are judged one by one [s]."""
TOP_PERCENT = 90.0
"""The least steep pitch of a stretch is this percentile of it."""
DOWN_FROM_DEG = -3.0
"""A foot that comes back to within this of its pitch at rest plays heel-down [deg]."""
UP_FROM_DEG = -10.0
"""... and one that stays steeper than this plays heel-up [deg]; a hi-hat held shut is 5 to 9 deg steeper heel-down."""
AGREE_SHARE = 0.8
"""So many of the stretches must agree."""


@dataclass(frozen=True)
class HeelDrops:
    """start_s, end_s : (k,) stretches of playing [s]. drop_deg : (k,) how far each stays from the pitch at rest [deg]:
    0 back at rest, negative steeper."""

    start_s: Floats
    end_s: Floats
    drop_deg: Floats


def heel_drops(
    foot_pitch: Floats, rest: Sequence[tuple[float, float]], playing: Sequence[tuple[float, float]], grid: Grid
) -> HeelDrops:
    """How far each stretch of playing stays from the pitch at rest.

    foot_pitch : (n,) pitch of the sole, toes up positive [deg], NaN where unknown.   rest, playing : spans [s].
    Empty where nothing is known of the rest or of the playing.
    """
    resting = foot_pitch[grid.mask(rest)]
    resting = resting[np.isfinite(resting)]
    if not resting.size:
        return HeelDrops(np.zeros(0), np.zeros(0), np.zeros(0))
    size = max(round(STRETCH_S * grid.rate_hz), 1)
    rows: list[tuple[float, float, float]] = []
    for start, end in playing:
        part = foot_pitch[grid.slice(start, end)]
        cuts = [*range(0, max(len(part) - size // 2, 1), size), len(part)]
        for low, high in zip(cuts[:-1], cuts[1:], strict=True):
            known = part[low:high]
            known = known[np.isfinite(known)]
            if known.size >= size // 4:
                top = float(np.percentile(known, TOP_PERCENT))
                rows.append((start + low / grid.rate_hz, start + high / grid.rate_hz, top))
    found = np.asarray(rows, dtype=np.float64).reshape(-1, 3)
    return HeelDrops(found[:, 0], found[:, 1], found[:, 2] - float(np.median(resting)))


def technique_of(drop_deg: Floats) -> Technique:
    """One word for a set-up's playing. drop_deg : (k,) of its stretches."""
    if not drop_deg.size:
        return "unknown"
    if np.mean(drop_deg > DOWN_FROM_DEG) >= AGREE_SHARE:
        return "heel-down"
    if np.mean(drop_deg < UP_FROM_DEG) >= AGREE_SHARE:
        return "heel-up"
    return "unknown"
