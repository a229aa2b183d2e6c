"""Was a range test the test it is meant to be? Told from the knee: bent for the ankle, at a right angle for the hip.

A straight knee lets the calf end dorsiflexion some 15 deg early (knee straight 4, bent 75 deg 20: Baumbach et al. 2014,
BMC Musculoskelet Disord 15:246), so such a repetition does not count. Whether the toes curl no clip can see: ask.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from .repetitions import Span
from .timebase import Floats

STRAIGHT_DEG = 20.0
"""With the knee straighter than this the calf limits the ankle: not valid (Baumbach et al. 2014: 20 deg suffice)."""
SQUARE_DEG = (60.0, 120.0)
"""Hip rotation is tested with the knee at about 90 deg; outside this it is said (ours)."""
_LEAST_S = 0.5


def straight_knee_spans(time_s: Floats, knee_flexion_deg: Floats, spans: Sequence[Span]) -> list[Span]:
    """Where, within some spans, the knee was straighter than 20 deg for half a second or more [s].

    time_s, knee_flexion_deg : (n,) grid [s] and angle [deg]; where the angle is not known (NaN) nothing is claimed.
    """
    found: list[Span] = []
    for start, end in spans:
        first, last = np.searchsorted(time_s, (start, end)).tolist()
        with np.errstate(invalid="ignore"):
            straight = np.concatenate(([False], knee_flexion_deg[first:last] < STRAIGHT_DEG, [False])).astype(np.int8)
        edges = np.diff(straight)
        for i, j in zip(np.flatnonzero(edges > 0).tolist(), np.flatnonzero(edges < 0).tolist(), strict=True):
            piece = (float(time_s[first + i]), float(time_s[first + j - 1]))
            if piece[1] - piece[0] >= _LEAST_S:
                found.append(piece)
    return found


def knee_sentence(motion: str, knee_flexion_deg: Floats, spans_rows: Sequence[slice], invalid: Sequence[Span]) -> str:
    """What to say of the knee in a range test; empty when there is nothing to say.

    spans_rows : the test's rows of the (n,) knee angle [deg]. invalid : from `straight_knee_spans`.
    """
    if motion.startswith("ankle") and invalid:
        return (
            f"the knee was straighter than {STRAIGHT_DEG:g} deg in a repetition, where the calf limits the ankle: it "
            "does not count; repeat it seated with the knee bent"
        )
    if motion.endswith("rotation") and spans_rows:
        known = np.concatenate([knee_flexion_deg[rows] for rows in spans_rows])
        known = known[np.isfinite(known)]
        if known.size:
            middle = float(np.median(known))
            low, high = SQUARE_DEG
            if not low <= middle <= high:
                return f"the knee stood at {middle:.0f} deg instead of about 90: repeat it with the knee square"
    return ""
