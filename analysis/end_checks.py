"""Did a clip move on the leg? The still pose at the end against the ones before.

People repeat a pose to about 2 deg, so a small shift only widens the bands; a large one is said.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..logger.models import Session
from .alignment import unit
from .calibration import phases_of
from .orientation import Track, up_in_sensor
from .quality import Quality
from .timebase import Floats, Grid

REPEAT_DEG = 2.0
"""How well people repeat a pose [deg] (domain rule 21)."""
DOUBT_DEG = 5.0
"""A clip turned more than this against gravity between the still poses is doubted in words [deg] (domain rule 21)."""


def check_end(session: Session, tracks: Mapping[str, Track], grid: Grid, quality: Quality) -> dict[str, float]:
    """How far each clip's still pose at the end is turned against the earlier ones, {clip: deg}; adds to `quality`.

    Only clips with an `end_still` phase appear.
    """
    shifts: dict[str, float] = {}
    for clip in session.clips:
        track = tracks[clip.name]
        before = _up(session, "still", clip.side, track, grid)
        after = _up(session, "end_still", clip.side, track, grid)
        if before is None or after is None:
            continue
        turn = float(np.degrees(np.arccos(np.clip(before @ after, -1.0, 1.0))))
        shifts[clip.name] = turn
        quality.end_checks.append({"clip": clip.name, "turn_deg": round(turn, 2)})
        if turn > DOUBT_DEG:
            quality.say(
                f"{clip.name}: at the end the clip sat {turn:.0f} deg differently than in the still pose; it may have "
                "turned on the leg, and figures of this leg are less sure."
            )
    if not shifts:
        quality.say("No still pose was recorded at the end, so a clip that crept on the leg would not be seen.")
    return shifts


def _up(session: Session, phase: str, side: str | None, track: Track, grid: Grid) -> Floats | None:
    spans = [(p.start_s, p.end_s) for p in phases_of(session, phase) if side is None or p.side in (None, side)]
    use = grid.mask(spans) & track.known
    return unit(up_in_sensor(track.quat[use]).mean(axis=0)) if use.any() else None
