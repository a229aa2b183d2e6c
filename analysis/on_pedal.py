"""The foot on the pedal when nothing is played: room at rest, and how far it can really be lifted.

A range that was measured with the foot hanging free need not be there on the board, so the lift test measures it: heel
down, foot relaxed, then the toes lifted as far as they go and held for a second, three times. Stop if it hurts.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .exposure import NotKnown
from .offset_band import lift_half_width
from .repetitions import SMALLEST_EXCURSION_DEG, Span, find_repetitions

Floats = NDArray[np.float64]

FEWEST_S = 1.0
REST_SPREAD_DEG = 4.0
"""5th to 95th percentile of the angle above which a foot was not at rest [deg] (ours: people repeat a pose to 2)."""
LIFTED_DEG = SMALLEST_EXCURSION_DEG
"""A lift of less than this cannot be told from none [deg] (ours)."""


def room_at_rest(rest_deg: Floats, rate_hz: float, end_deg: float, half_width_deg: float) -> dict[str, Any] | NotKnown:
    """Degrees left with the heel on its plate and the foot relaxed on the board.

    rest_deg : (n,) trace toward the end during `rest_on_pedal` [deg], NaN = not known. end_deg : of active range [deg].
    half_width_deg : of the offset band; `band_room_deg` is room minus and plus it [deg].
    """
    known = rest_deg[np.isfinite(rest_deg)]
    if known.size < FEWEST_S * rate_hz:
        return NotKnown("less than a second of the rest on the pedal is known")
    low, middle, high = (float(v) for v in np.percentile(known, (5, 50, 95)))
    if high - low > REST_SPREAD_DEG:
        return NotKnown(f"the foot moved by {high - low:.0f} deg while it should have rested on the pedal")
    room = end_deg - middle
    return {"angle_deg": middle, "room_deg": room, "band_room_deg": [room - half_width_deg, room + half_width_deg]}


def lift_test(
    time_s: Floats, dorsiflexion_deg: Floats, spans: Sequence[Span], rest_deg: float | None = None
) -> dict[str, Any] | NotKnown:
    """How many degrees the foot was really lifted off the board.

    time_s, dorsiflexion_deg : (n,) uniform grid [s] and ankle angle [deg], NaN = not known. spans : of the lift tests
    [s]. rest_deg : foot relaxed on the board; None takes the level between the lifts [deg].
    `lifts_deg`: each lift's held level above rest; `gained_deg`: their median, `band_gained_deg` where that may really
    lie; `lifted`: whether it is 3 deg or more; `held`: how many were held for a second.
    NotKnown where less than two seconds are known. Without any lift the gain is what little the foot moved.
    """
    inside = np.zeros(time_s.size, dtype=np.bool_)
    for start, stop in spans:
        inside[np.searchsorted(time_s, start) : np.searchsorted(time_s, stop)] = True
    known = inside & np.isfinite(dorsiflexion_deg)
    if time_s.size < 3 or np.count_nonzero(known) * float(time_s[1] - time_s[0]) < 2 * FEWEST_S:
        return NotKnown("less than two seconds of the lift test are known")
    level = float(np.percentile(dorsiflexion_deg[known], 10)) if rest_deg is None else rest_deg
    lifts = find_repetitions(time_s, dorsiflexion_deg, spans)
    if lifts:
        gains = [lift.held_deg - level for lift in lifts]
        gained = float(np.median(gains))
    else:
        gains = []
        gained = max(0.0, float(np.percentile(dorsiflexion_deg[known], 95)) - level)
    half = lift_half_width(gains)
    return {
        "rest_deg": level,
        "lifts_deg": gains,
        "held": sum(lift.held for lift in lifts),
        "gained_deg": gained,
        "band_gained_deg": [max(0.0, gained - half), gained + half],
        "lifted": gained >= LIFTED_DEG,
    }
