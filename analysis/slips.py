"""A clip that turned on the leg while somebody played: found, dated, and not believed afterwards.

Two things show it. Gravity shows a tilt: still poses before and after disagree, and in the playing between them the
clip tilted suddenly, the same way, and stayed. Turns about the vertical no pose shows: there the clip turned at once
and stayed while its neighbour did not (a knee that moves turns shank and thigh alike), or, on a foot, the axis about
which the strokes go lies elsewhere in the clip from then on (a foot that turns on its board takes that axis along).
How small a turn is found, by clip and axis: `benchmarks/slips.py`, docs/slips.md. Limits are ours, from there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ..logger.models import Clip, Session
from .alignment import unit
from .calibration import phases_of
from .orientation import Track, up_in_sensor
from .phrases import clock
from .quality import Quality
from .timebase import Floats, Grid
from .turn_steps import HINGE_S, HOP_S, Steps, hinge_axis, steps

TILT_DEG = {"foot": 5.5, "shank": 4.5, "thigh": 4.5, "pelvis": 6.0}
"""Still poses that differ less than this show no slip [deg] (three to four repeats of a pose)."""
SURE_DEG, SURE_SHARE = 7.0, 0.7
"""From so much on in the poses [deg] the neighbour may have moved by this share at that moment."""
STEP_SHARE, STEP_DEG = 0.6, 3.0
"""The sudden tilt in playing must reach this share of what the poses show, and so many degrees."""
YAW_DEG = {"shank": 5.5, "thigh": 5.5}
"""A sudden turn about the vertical that the neighbour did not make, from so much on [deg]."""
QUIET_SHARE = 0.4
"""The neighbour is quiet when it turned by less than this share."""
HINGE_DEG = 4.0
"""A foot's sudden turn off the axis of its strokes, which that axis does not follow, from so much on [deg]."""
ALIKE_DEG = 4.0
"""Moments at which a tilt fits the poses but for so much less well may be the one, too [deg]: the earliest counts."""
LASTS_S, LASTS_SHARE = (6.0, 20.0), 0.5
"""A tilt lasts when the means over the shorter or the longer time before and after it differ by this share [s]."""
NEIGHBOUR = {"foot": ("shank",), "shank": ("thigh", "foot"), "thigh": ("shank",)}


@dataclass(frozen=True)
class Slip:
    """time_s [s]. turn_deg : how far the clip turned [deg]. earliest_s : it may have been then already [s]."""

    time_s: float
    turn_deg: float
    earliest_s: float | None = None

    @property
    def from_s(self) -> float:
        """From when on the clip is not believed [s]."""
        return self.time_s if self.earliest_s is None else self.earliest_s


@dataclass(frozen=True)
class _Pose:
    time_s: float
    up: Floats


def without_slips(session: Session, tracks: Mapping[str, Track], grid: Grid, quality: Quality) -> dict[str, Track]:
    """The tracks, each unknown from where its clip turned on the leg; slips and what they cost go to `quality`."""
    out = dict(tracks)
    for clip in session.clips:
        slip = find_slip(session, clip, tracks, grid)
        if slip is None:
            continue
        quality.slips.append({"clip": clip.name, "time_s": round(slip.time_s, 1), "turn_deg": round(slip.turn_deg, 1)})
        quality.withhold(
            f"what {clip.name} shows after {clock(slip.from_s)} min",
            f"the clip turned on the leg by about {slip.turn_deg:.0f} deg there; fasten it and repeat the calibration "
            "moves",
        )
        after = grid.time_s >= slip.from_s
        track = tracks[clip.name]
        out[clip.name] = replace(
            track, known=track.known & ~after, stretch=np.where(after, -1, track.stretch).astype(np.int32)
        )
    return out


def find_slip(session: Session, clip: Clip, tracks: Mapping[str, Track], grid: Grid) -> Slip | None:
    """When a clip turned on the leg and by how much, or None. The largest turn, where there are several."""
    track = tracks[clip.name]
    poses = _poses(session, clip, track, grid)
    beside = next(
        (tracks[f"{clip.side}_{n}"] for n in NEIGHBOUR.get(clip.segment, ()) if f"{clip.side}_{n}" in tracks), None
    )
    found: list[Slip] = []
    for phase in phases_of(session, "playing"):
        if clip.side is not None and phase.side not in (None, clip.side):
            continue
        part = grid.slice(phase.start_s, phase.end_s)
        start_s = float(grid.start_s + part.start / grid.rate_hz)
        own = steps(track, part, start_s)
        if not own.time_s.size:
            continue
        other = None if beside is None else steps(beside, part, start_s)
        before = [pose.up for pose in poses if pose.time_s < phase.start_s]
        after = [pose.up for pose in poses if pose.time_s > phase.start_s]
        axis = hinge_axis(track, part) if clip.segment == "foot" else None
        tilted = _pose_tilt(before, after, axis)
        for slip in (
            None if tilted is None else _by_poses(clip, track, grid, part, own, other, tilted),
            _by_yaw(clip, own, other, tilted),
            None if axis is None else _by_hinge(track, part, own, start_s, axis, tilted),
        ):
            if slip is not None:
                found.append(slip)
    return max(found, key=lambda slip: slip.turn_deg, default=None)


def _poses(session: Session, clip: Clip, track: Track, grid: Grid) -> list[_Pose]:
    poses = []
    for name in ("still", "end_still"):
        for phase in phases_of(session, name):
            if clip.side is None or phase.side in (None, clip.side):
                part = grid.slice(phase.start_s, phase.end_s)
                known = track.known[part]
                if known.any():
                    poses.append(_Pose(phase.start_s, unit(up_in_sensor(track.quat[part][known]).mean(axis=0))))
    return poses


@dataclass(frozen=True)
class _Tilt:
    """What the poses before and after a playing phase show of a clip's turn.

    turn : (3,) [deg], upright to `up`, the vertical in the first poses. free : axis about which the segment itself
    turns all the time (a foot's strokes), along which a sudden turn need not be the clip's own; None = none.
    """

    turn: Floats
    up: Floats
    free: Floats | None

    def off(self, turn: Floats) -> Floats:
        """How far sudden turns, (k, 3) [deg], are from it, the free axis aside."""
        rest = turn - np.outer(turn @ self.up, self.up) - self.turn
        if self.free is not None:
            rest = rest - np.outer(rest @ self.free, self.free)
        return np.linalg.norm(rest, axis=1)


def _pose_tilt(before: list[Floats], after: list[Floats], free: Floats | None) -> _Tilt | None:
    """None without poses on both sides."""
    if not before or not after:
        return None
    first, second = unit(np.mean(before, axis=0)), unit(np.mean(after, axis=0))
    turn = np.cross(second, first)
    size = float(np.linalg.norm(turn))
    return _Tilt(turn * (np.degrees(np.arctan2(size, float(first @ second))) / max(size, 1e-12)), first, free)


def _by_poses(
    clip: Clip, track: Track, grid: Grid, part: slice, own: Steps, other: Steps | None, tilted: _Tilt
) -> Slip | None:
    """A tilt that the poses show, where a sudden one like it lasted."""
    tilt, up = tilted.turn, tilted.up
    size = float(np.linalg.norm(tilt))
    if size < TILT_DEG[clip.segment]:
        return None
    level = own.turn - np.outer(own.turn @ up, up)  # what a pose would show of each step
    along = level @ (tilt / size)
    good: NDArray[np.bool_] = along >= max(STEP_DEG, STEP_SHARE * size)
    if other is not None:
        moved = np.linalg.norm(other.turn, axis=1)
        good &= ~(moved > (SURE_SHARE if size >= SURE_DEG else QUIET_SHARE) * np.linalg.norm(own.turn, axis=1))
    good &= _peaks(along) & (tilted.off(own.turn) <= max(3.0, 0.5 * size))
    found: list[tuple[float, float, float]] = []  # how unlike, time, size
    for i in np.flatnonzero(good):
        at_s = float(own.time_s[i])
        lasts = [_lasting(track, grid, part, at_s, tilt / size, long_s) for long_s in LASTS_S]
        if max(lasts) >= LASTS_SHARE * size:
            unlike = float(np.linalg.norm(level[i] - tilt)) + min(abs(one - size) for one in lasts)
            found.append((unlike, at_s, float(np.hypot(size, own.yaw[i]))))
    if not found:
        return None
    least, at_s, turn = min(found)
    return Slip(at_s, turn, min(time for unlike, time, _ in found if unlike <= least + ALIKE_DEG))


def _by_yaw(clip: Clip, own: Steps, other: Steps | None, tilted: _Tilt | None) -> Slip | None:
    """A sudden turn about the vertical that the neighbour did not make."""
    if other is None or clip.segment not in YAW_DEG:
        return None
    size = np.abs(own.yaw)
    quiet = np.abs(other.yaw) < QUIET_SHARE * size
    # A knee that moves sideways tilts the shank as much as it turns it.
    alone = np.abs(own.yaw - other.yaw) > own.tilt
    good = quiet & alone & (size >= YAW_DEG[clip.segment]) & _agree(own.turn, tilted)
    return _largest(own, np.where(good, size, 0.0))


def _by_hinge(track: Track, part: slice, own: Steps, start_s: float, axis: Floats, tilted: _Tilt | None) -> Slip | None:
    """A foot's sudden turn off the axis of its strokes, after which that axis lies elsewhere in the clip."""
    off = own.turn - np.outer(own.turn @ axis, axis)
    size = np.where(_agree(own.turn, tilted), np.nan_to_num(np.linalg.norm(off, axis=1)), 0.0)
    for i in np.argsort(-np.where(_peaks(size), size, 0.0))[:3]:
        if size[i] < HINGE_DEG:
            return None
        at = part.start + round((float(own.time_s[i]) - start_s) * track.rate_hz)
        apart, long = round(2 * HOP_S * track.rate_hz), round(HINGE_S * track.rate_hz)
        before = hinge_axis(track, slice(max(part.start, at - long), max(at - apart, part.start)))
        after = hinge_axis(track, slice(min(at + apart, part.stop), min(part.stop, at + long)))
        if before is None or after is None:
            continue
        shown = -np.degrees(np.cross(before, after * np.sign(before @ after)))
        if np.linalg.norm(shown) >= 0.7 * HINGE_DEG and np.linalg.norm(off[i] - shown) <= max(2.0, 0.4 * size[i]):
            return Slip(float(own.time_s[i]), float(size[i]))
    return None


def _agree(turn: Floats, tilted: _Tilt | None) -> NDArray[np.bool_]:
    """Whether the poses, where there are any on both sides, show what they should of each turn."""
    if tilted is None:
        return np.ones(len(turn), dtype=np.bool_)
    return tilted.off(turn) <= np.maximum(4.0, 0.5 * np.linalg.norm(turn, axis=1))


def _peaks(value: Floats) -> NDArray[np.bool_]:
    """Where a value is the largest within a second and a half."""
    reach = round(1.5 / HOP_S)
    padded = np.pad(np.nan_to_num(value, nan=-np.inf), reach, constant_values=-np.inf)
    return value >= np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).max(axis=1)


def _largest(own: Steps, size: Floats) -> Slip | None:
    i = int(np.argmax(size))
    return Slip(float(own.time_s[i]), float(np.linalg.norm(own.turn[i]))) if size[i] > 0 else None


def _lasting(track: Track, grid: Grid, part: slice, time_s: float, along: Floats, long_s: float) -> float:
    """How far the vertical in the clip lies farther along a tilt after a time than before it [deg]."""
    at, long = round((time_s - grid.start_s) * grid.rate_hz), round(long_s * grid.rate_hz)
    means = []
    for rows in (slice(max(part.start, at - long), at), slice(at, min(part.stop, at + long))):
        known = track.known[rows][::10]
        means.append(up_in_sensor(track.quat[rows][::10][known]).mean(axis=0) if known.any() else np.full(3, np.nan))
    return float(np.degrees(np.cross(means[1], means[0]) @ along))
