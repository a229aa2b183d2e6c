"""From the phases of a session to an alignment of each clip, with fall-backs, each said.

Right-pointing axis of a clip, first that holds: the move made for it; another move about the same joint; the hinge that
any motion of two neighbouring clips shows (its sign from the `right_axis` hint of the import). An axis whose sign
nothing settles is refused: the angle could be upside down.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from ..logger.models import Clip, Phase, Session, Side
from .alignment import (
    REFUSED_SHARE,
    WEAK_SHARE,
    Alignment,
    Axis,
    frame_from,
    main_axis,
    tilted_long_axis,
    unit,
)
from .hinge_signs import fill_by_hinge, hint_sign
from .orientation import Track, up_in_sensor
from .quality import Quality
from .timebase import Floats, Grid, Mask
from .uncertainty import SKIN_DRAG, TYPED_SLOPE_SD_DEG, pose_sd_deg

# Moves that show a segment's right axis: (phase, sign of the first turn about it).
RIGHT_AXIS_MOVES: dict[str, tuple[tuple[str, int], ...]] = {
    "foot": (("ankle_taps", -1), ("range_dorsiflexion", 1), ("range_plantarflexion", -1)),
    "shank": (("knee_kicks", 1),),
    "thigh": (("thigh_lifts", 1), ("range_hip_flexion", 1)),
}
# Moves that show the thigh's long axis, with the sign of the first turn about it on the right leg.
LONG_AXIS_MOVES: tuple[tuple[str, int], ...] = (("range_internal_rotation", 1), ("range_external_rotation", -1))
SURELY_BACKWARD = 0.5
"""A thigh whose long axis points this much (cosine) from where the sitting hip must be was turned the other way."""
CALM_S = 2.0
"""Without a still pose the calmest span of this length before the first phase serves as one [s]."""
CALM_RAD_S = 0.05
"""... if no clip of the leg turned faster than this in it (root mean square) [rad/s] (ours: 3 deg/s)."""


@dataclass(frozen=True)
class Poses:
    """Where the person sat still.

    zero : (n,) all still poses, which give the long axes.   repeats : each of them.   last : (n,) the last one before
    playing, where headings start.   facing_ahead : spans of every pose with the legs straight ahead, the end included.
    """

    zero: Mask
    repeats: list[Mask]
    last: Mask
    facing_ahead: list[tuple[float, float]]


def phases_of(session: Session, name: str, side: Side | None = None) -> list[Phase]:
    """Phases called `name` that hold for `side`, in time order (all of them when `side` is None)."""
    found = [p for p in session.phases if p.name == name and (side is None or p.side in (None, side))]
    return sorted(found, key=lambda phase: phase.start_s)


def still_poses(
    session: Session, side: Side, tracks: Mapping[str, Track], grid: Grid, quality: Quality
) -> Poses | None:
    """The still poses of one side, or None (and why) where there is none and nobody sat still before the first move."""
    spans = [(p.start_s, p.end_s) for p in phases_of(session, "still", side)]
    if not spans:
        calm = _calm_start(session, side, tracks, grid)
        if calm is None:
            quality.withhold(f"{side} leg", "no still pose was recorded, so no angle has a zero; record one of 5 s")
            return None
        quality.say(
            f"{side} leg: no still pose was recorded; {calm[0]:.0f} to {calm[1]:.0f} s, when the leg was calm, was "
            "taken as one. If the soles were not flat and the shanks not upright then, every angle is off by as much."
        )
        spans = [calm]
    playing = [p.start_s for p in phases_of(session, "playing", side)]
    before = [s for s in spans if not playing or s[0] < min(playing)] or spans[:1]
    at_end = [(p.start_s, p.end_s) for p in phases_of(session, "end_still", side)]
    repeats = [grid.mask([span]) for span in spans]
    return Poses(grid.mask(spans), repeats, grid.mask(before[-1:]), sorted(spans + at_end))


def _calm_start(session: Session, side: Side, tracks: Mapping[str, Track], grid: Grid) -> tuple[float, float] | None:
    """The calmest span of `CALM_S` before the first phase, if all clips of the leg were calm in it [s]."""
    first = min(phase.start_s for phase in session.phases)
    size = round(CALM_S * grid.rate_hz)
    before = grid.slice(grid.start_s, first)
    steps = range(before.start, before.stop - size + 1, max(size // 4, 1))
    legs = [tracks[clip.name] for clip in session.clips if clip.side == side]

    def restlessness(low: int) -> float:
        part = slice(low, low + size)
        if not all(track.known[part].all() for track in legs):
            return np.inf
        return max(float(np.sqrt(np.mean(np.square(track.gyr[part]).sum(axis=1)))) for track in legs)

    calmest = min(steps, key=restlessness, default=None)
    if calmest is None or restlessness(calmest) > CALM_RAD_S:
        return None
    start = grid.start_s + calmest / grid.rate_hz
    return start, start + CALM_S


def align_leg(
    session: Session, side: Side, tracks: Mapping[str, Track], grid: Grid, poses: Poses, quality: Quality
) -> dict[str, Alignment]:
    """Alignments of the clips of one leg, {segment: Alignment}; what cannot be aligned is left out and said.

    tracks : {clip name: Track} of all clips.
    """
    clips = {c.segment: c for c in session.clips if c.side == side}
    worn = {segment: tracks[clip.name] for segment, clip in clips.items()}
    axes = {
        segment: _axis_from_moves(session, side, segment, track, grid)
        for segment, track in worn.items()
        if segment in RIGHT_AXIS_MOVES
    }
    for first, second in (("shank", "foot"), ("thigh", "shank")):
        if first in axes and second in axes and (axes[first] is None or axes[second] is None):
            fill_by_hinge(axes, first, second, worn, clips, quality)
    out: dict[str, Alignment] = {}
    for segment, axis in axes.items():
        name = clips[segment].name
        checked = _checked(axis, name, clips[segment], quality)
        if checked is None:
            continue
        up = _mean_up(worn[segment], poses.zero)
        if up is None:
            quality.withhold(name, "the clip was silent during the still pose, so its zero is unknown")
            continue
        if segment == "thigh":
            aligned = _thigh(session, side, worn[segment], grid, up, checked, quality)
        else:
            keep: Literal["long", "right"] = "right" if "hinge" in checked.method else "long"
            spread = pose_sd_deg(segment, _ups(worn[segment], poses.repeats))
            aligned = _framed(up, spread, checked, keep, "gravity in the still pose", name, quality)
        if aligned is not None:
            out[segment] = aligned
            quality.axes[name] = {
                "method": checked.method,
                "share_explained": round(checked.share_explained, 4),
                "error_deg": round(checked.error_deg, 2),
                "long_axis": aligned.long_axis_method,
            }
    return out


def _rates(session: Session, side: Side, name: str, track: Track, grid: Grid) -> list[Floats]:
    """Angular rates of a clip during each phase called `name`, known samples only."""
    parts = [grid.slice(p.start_s, p.end_s) for p in phases_of(session, name, side)]
    return [track.gyr[part][track.known[part]].astype(np.float64) for part in parts]


def _axis_from_moves(session: Session, side: Side, segment: str, track: Track, grid: Grid) -> Axis | None:
    best: Axis | None = None
    for name, sign in RIGHT_AXIS_MOVES[segment]:
        axis = main_axis(_rates(session, side, name, track, grid), grid.rate_hz, sign, name.replace("_", " "))
        if axis is not None and axis.share_explained >= WEAK_SHARE:
            return axis
        if axis is not None and (best is None or axis.share_explained > best.share_explained):
            best = axis
    return best


def _checked(axis: Axis | None, name: str, clip: Clip, quality: Quality) -> Axis | None:
    """The axis if it may be used; notes the reason or a warning."""
    if axis is None:
        quality.withhold(name, "no move and no other motion shows how the clip sits on the leg")
        return None
    if "hinge" not in axis.method and axis.share_explained < REFUSED_SHARE:
        quality.withhold(
            name, f"only {axis.share_explained:.0%} of the {axis.method} turned about one axis; repeat the move slowly"
        )
        return None
    if not axis.signed:
        quality.withhold(
            name,
            "which way is up for this hinge is unknown; record the calibration moves or give right_axis in import.toml",
        )
        return None
    if "hinge" not in axis.method and axis.share_explained < WEAK_SHARE:
        quality.say(f"{name}: only {axis.share_explained:.0%} of the {axis.method} turned about one axis.")
    hint = hint_sign(axis, clip)
    if hint < 0:
        quality.say(
            f"{name}: the moves say the clip is worn the other way round than right_axis = {clip.right_axis!r}; "
            "the moves are believed."
        )
    return axis


def _mean_up(track: Track, still: Mask) -> Floats | None:
    use = still & track.known
    return unit(up_in_sensor(track.quat[use]).mean(axis=0)) if use.any() else None


def _ups(track: Track, poses: Sequence[Mask]) -> list[Floats]:
    """Upward vertical in the sensor frame in each still pose where the clip was heard."""
    return [up for pose in poses if (up := _mean_up(track, pose)) is not None]


def _framed(
    long_axis: Floats,
    sd_deg: float,
    axis: Axis,
    keep: Literal["long", "right"],
    method: str,
    name: str,
    quality: Quality,
) -> Alignment | None:
    try:
        return Alignment(frame_from(long_axis, axis.direction, keep), axis, method, sd_deg)
    except ValueError:
        quality.withhold(
            name, f"the axis from {axis.method} lies along the segment, not across it: is the clip swapped?"
        )
        return None


def _thigh(
    session: Session, side: Side, track: Track, grid: Grid, up: Floats, axis: Axis, quality: Quality
) -> Alignment | None:
    """Alignment of the thigh: long axis from the rotation moves, else a typed slope.

    Whatever the moves are called, gravity and the axis to the right tell which end of a sitting thigh is the knee.
    """
    mirror = 1 if side == "right" else -1
    moves = [
        (axis_, name)
        for name, sign in LONG_AXIS_MOVES
        if (axis_ := main_axis(_rates(session, side, name, track, grid), grid.rate_hz, sign * mirror, name)) is not None
        and axis_.share_explained >= REFUSED_SHARE
    ]
    name = f"{side}_thigh"
    if moves:
        weights = [a.share_explained / max(a.error_deg, 0.1) for a, _ in moves]
        first = moves[0][0].direction
        same = [a.direction * (np.sign(a.direction @ first) or 1.0) for a, _ in moves]
        long_axis = unit(np.sum([w * d for w, d in zip(weights, same, strict=True)], axis=0))
        if long_axis @ tilted_long_axis(up, axis.direction, 0.0) < -SURELY_BACKWARD:
            long_axis = -long_axis
            quality.say(
                f"{side} hip: the rotation moves turned the other way than their names say; were internal and external "
                "rotation swapped? Check the phases' names."
            )
        sd = SKIN_DRAG * float(1.0 / np.sqrt(np.sum([1.0 / max(a.error_deg, 0.1) ** 2 for a, _ in moves])))
        return _framed(long_axis, sd, axis, "long", "hip rotation moves", name, quality)
    slopes = {s.thigh_slope_deg for s in session.setups if s.thigh_slope_deg is not None}
    if slopes:
        slope = float(np.mean(list(slopes)))
        quality.say(f"{name}: long axis from the typed thigh slope of {slope:.0f} deg, good to about 3 deg.")
        long_axis = tilted_long_axis(up, axis.direction, slope)
        return _framed(long_axis, TYPED_SLOPE_SD_DEG, axis, "right", "typed thigh slope", name, quality)
    quality.withhold(
        f"{side} hip and knee",
        "the thigh's long axis is unknown: record the hip rotation moves or give thigh_slope_deg",
    )
    return None
