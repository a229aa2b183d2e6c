"""Is each clip where it is said to be? The calibration moves tell: each turns known segments and leaves others still.

Ankle taps turn the foot, knee kicks the shank and the foot on it. Sizes of angular rates need no alignment, so this is
asked first; a leg whose clips were swapped is refused, since nothing else shows it.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..logger.models import Session, Side
from .calibration import phases_of
from .orientation import Track
from .quality import Quality
from .timebase import Grid

# Move: (segments that turn, segments that stay).
MOVERS: dict[str, tuple[tuple[str, ...], tuple[str, ...]]] = {
    "ankle_taps": (("foot",), ("shank", "thigh")),
    "knee_kicks": (("shank",), ("thigh",)),
}
OTHER_SIDE: dict[Side, Side] = {"right": "left", "left": "right"}
CLEARLY = 1.5
"""A segment that should stay must turn this much more than the one that should turn before clips are called swapped."""
SLOWEST_RAD_S = 0.05
"""Below this rate (root mean square) nothing moved and nothing is concluded [rad/s]."""


def swapped_clips(session: Session, side: Side, tracks: Mapping[str, Track], grid: Grid, quality: Quality) -> bool:
    """Whether clips of this leg are swapped with each other or with the other leg's; says which and what to do."""
    for move, (movers, stayers) in MOVERS.items():
        for phase in phases_of(session, move, side):
            part = grid.slice(phase.start_s, phase.end_s)
            rates = {name: _rate(track, part) for name, track in tracks.items()}
            for mover in movers:
                own = rates.get(f"{side}_{mover}")
                if own is None:
                    continue
                rivals = [f"{side}_{stayer}" for stayer in stayers]
                if phase.side is not None:
                    rivals.append(f"{OTHER_SIDE[side]}_{mover}")
                for rival in rivals:
                    other = rates.get(rival, 0.0)
                    if other > max(CLEARLY * own, SLOWEST_RAD_S):
                        quality.withhold(
                            f"{side} leg",
                            f"in the {move.replace('_', ' ')} {rival} turned more than {side}_{mover}: the two clips "
                            "look swapped; correct their segments or sides in import.toml and import again",
                        )
                        return True
    return False


def _rate(track: Track, part: slice) -> float:
    """Root mean square of the angular rate, known samples only [rad/s]."""
    gyr = track.gyr[part][track.known[part]]
    return float(np.sqrt(np.mean(np.square(gyr).sum(axis=1)))) if len(gyr) else 0.0
