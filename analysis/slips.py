"""A clip that turned on the leg: found where the still poses before and after disagree, dated by the playing between.

Gravity shows the turn in two still poses; in the playing between them the vertical in the clip jumps within seconds,
and stays. A shift that no jump explains is left to the end check (people repeat a pose only to about 2 deg).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from ..logger.models import Clip, Session
from .alignment import unit
from .calibration import phases_of
from .orientation import Track, up_in_sensor
from .quality import Quality
from .timebase import Floats, Grid

SLIP_DEG = 6.0
"""Still poses that differ less than this show no slip [deg] (ours: three repeats of a pose)."""
JUMP_SHARE = 0.6
"""The jump in playing must reach this share of the turn that the poses show."""
JUMP_S = 10.0
"""The jump is judged on this long before and after [s]."""


def without_slips(session: Session, tracks: Mapping[str, Track], grid: Grid, quality: Quality) -> dict[str, Track]:
    """The tracks, each unknown from where its clip turned on the leg; slips and what they cost go to `quality`."""
    out = dict(tracks)
    for clip in session.clips:
        slip = find_slip(session, clip, tracks[clip.name], grid)
        if slip is None:
            continue
        time_s, turn = slip
        quality.slips.append({"clip": clip.name, "time_s": round(time_s, 1), "turn_deg": round(turn, 1)})
        quality.withhold(
            f"what {clip.name} shows after {_clock(time_s)}",
            f"the clip turned on the leg by at least {turn:.0f} deg there; fasten it and repeat the calibration moves",
        )
        after = grid.time_s >= time_s
        track = tracks[clip.name]
        out[clip.name] = replace(
            track, known=track.known & ~after, stretch=np.where(after, -1, track.stretch).astype(np.int32)
        )
    return out


def _clock(seconds: float) -> str:
    return f"{int(seconds // 60)}:{int(seconds % 60):02d} min"


def find_slip(session: Session, clip: Clip, track: Track, grid: Grid) -> tuple[float, float] | None:
    """When [s] and by how much [deg, at least] a clip turned on the leg, or None.

    The turn is the angle between the mean verticals of the still poses before and after it.
    """
    poses = []
    for name in ("still", "end_still"):
        for phase in phases_of(session, name):
            if clip.side is None or phase.side in (None, clip.side):
                part = grid.slice(phase.start_s, phase.end_s)
                known = track.known[part]
                if known.any():
                    poses.append((phase.start_s, unit(up_in_sensor(track.quat[part][known]).mean(axis=0))))
    poses.sort(key=lambda pose: pose[0])
    best: tuple[float, float] | None = None
    for split in range(1, len(poses)):
        before, after = (unit(np.mean([up for _, up in group], axis=0)) for group in (poses[:split], poses[split:]))
        turn = _angle_deg(before, after)
        if turn < SLIP_DEG or (best is not None and turn < best[1]):
            continue
        time_s = _jump(session, clip, track, grid, (poses[split - 1][0], poses[split][0]), JUMP_SHARE * turn)
        if time_s is not None:
            best = time_s, turn
    return best


def _jump(
    session: Session, clip: Clip, track: Track, grid: Grid, between: tuple[float, float], least_deg: float
) -> float | None:
    """Time of the largest jump of the vertical in the clip during the playing between two poses [s]."""
    size = round(grid.rate_hz)
    best, best_deg = None, least_deg
    for phase in phases_of(session, "playing"):
        mine = clip.side is None or phase.side in (None, clip.side)
        if not mine or phase.start_s < between[0] or phase.end_s > between[1]:
            continue
        part = grid.slice(phase.start_s, phase.end_s)
        n = (part.stop - part.start) // size
        reach = min(round(JUMP_S), n // 3)
        if reach < 2:
            continue
        rows = slice(part.start, part.start + n * size)
        weight = track.known[rows].reshape(n, size).sum(axis=1)
        ups = (up_in_sensor(track.quat[rows]) * track.known[rows, None]).reshape(n, size, 3).sum(axis=1)
        totals = np.concatenate([np.zeros((1, 3)), np.cumsum(ups, axis=0)])
        counts = np.concatenate([[0], np.cumsum(weight)])
        for second in range(reach, n - reach + 1):
            spans = ((second - reach, second), (second, second + reach))
            if any(counts[high] - counts[low] < size for low, high in spans):
                continue
            before, after = (unit(totals[high] - totals[low]) for low, high in spans)
            turned = _angle_deg(before, after)
            if turned > best_deg:
                best, best_deg = phase.start_s + second, turned
    return best


def _angle_deg(a: Floats, b: Floats) -> float:
    return float(np.degrees(np.arccos(np.clip(a @ b, -1.0, 1.0))))
