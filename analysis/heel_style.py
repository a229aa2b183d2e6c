"""Strokes with the heel down or up, where the angles tell; else unknown. All limits are ours, no source.

Heel-down the foot turns about the heel: thigh and shank hardly move, and each stroke starts near where the foot rests
on the board. Heel-up either the whole leg drives the stroke (the thigh moves with it), or the ankle does with the heel
floating: then the strokes start far more toes-down than at rest. On a simulated leg (`logger/virtual_leg.py`) the thigh
moved by at most 0.11 of the ankle heel-down, and by 0.4 to 0.7 where the leg drove. Where the sole's pitch between the
strokes tells (`technique.py`), it goes before: one answer is reported, here.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter

from .strokes import Strokes
from .technique import AGREE_SHARE, DOWN_FROM_DEG, UP_FROM_DEG, HeelDrops, Technique

Floats = NDArray[np.float64]

UP, UNKNOWN, DOWN = 1, 0, -1
_LEG_DRIVES, _LEG_RESTS = 0.3, 0.15  # thigh excursion over ankle excursion
_FLOATING_DEG, _RESTING_DEG = 15.0, 8.0  # start of the stroke below the rest on the board
_REACH_S = 0.5
_SMOOTH = 9


def heel_style(
    strokes: Strokes,
    dorsiflexion_deg: Floats,
    hip_flexion_deg: Floats | None,
    rest_deg: float | None,
    rate_hz: float,
) -> NDArray[np.int8]:
    """(k,) 1 heel up, -1 heel down, 0 unknown, for each stroke; a change needs a few strokes in a row.

    dorsiflexion_deg, hip_flexion_deg : (n,) on the grid the strokes were found on; None = no thigh. rest_deg : ankle
    with the foot relaxed on the board; None = not recorded. Without both, heel-down cannot be told.
    """
    style = np.zeros(strokes.count, dtype=np.int8)
    if not strokes.count:
        return style
    start = dorsiflexion_deg[strokes.top]
    drive = np.full(strokes.count, np.nan)
    if hip_flexion_deg is not None:
        drive = _moved(hip_flexion_deg, strokes, round(_REACH_S * rate_hz)) / strokes.excursion_deg
    below = np.full(strokes.count, np.nan) if rest_deg is None else rest_deg - start
    style[(drive < _LEG_RESTS) & (np.abs(below) < _RESTING_DEG)] = DOWN
    style[(drive > _LEG_DRIVES) | (below > _FLOATING_DEG)] = UP
    return median_filter(style, size=min(_SMOOTH, style.size), mode="nearest")


def by_pitch(style: NDArray[np.int8], time_s: Floats, drops: HeelDrops | None) -> NDArray[np.int8]:
    """The styles of strokes at time_s, (k,) [s], those of a stretch whose pitch tells replaced by what it tells."""
    if drops is None or not drops.start_s.size or not style.size:
        return style
    place = np.maximum(np.searchsorted(drops.start_s, time_s, side="right") - 1, 0)
    inside = (time_s >= drops.start_s[place]) & (time_s <= drops.end_s[place])
    drop = np.where(inside, drops.drop_deg[place], np.nan)
    out = style.copy()
    out[drop > DOWN_FROM_DEG] = DOWN
    out[drop < UP_FROM_DEG] = UP
    return out


def style_shares(style: NDArray[np.int8]) -> dict[str, float | Technique] | None:
    """Shares of strokes heel down, heel up and unknown, 0-1, and the word for all of them; None without strokes."""
    if not style.size:
        return None
    down, up = float(np.mean(style == DOWN)), float(np.mean(style == UP))
    word: Technique = "heel-down" if down >= AGREE_SHARE else "heel-up" if up >= AGREE_SHARE else "unknown"
    return {
        "technique": word,
        "heel_down_share": down,
        "heel_up_share": up,
        "heel_unknown_share": float(np.mean(style == UNKNOWN)),
    }


def _moved(angle_deg: Floats, strokes: Strokes, reach: int) -> Floats:
    """Range of an angle over each fall, (k,) [deg]; NaN where none of it is known."""
    first = np.maximum(strokes.top, strokes.bottom - reach)
    spans = np.stack([first, strokes.bottom + 1], axis=1).ravel()
    padded = np.append(angle_deg, np.nan)
    return (np.fmax.reduceat(padded, spans) - np.fmin.reduceat(padded, spans))[::2]
