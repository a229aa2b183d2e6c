"""All joint angles of one leg over a session, from aligned clips, tape measures and the phases.

The thigh's azimuth (horizontal abduction) is the delicate one: no gravity shows it. While the foot is on its pedal,
tape measures close the horizontal triangle hip - knee - ankle; the thigh clip's own heading carries it between and
follows the fast motion. Without tape it is known only relative to the last still pose, for as long as the heading is
trusted.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

import numpy as np

from ..logger.models import Side
from .alignment import Alignment
from .ball_turn import ball_turn
from .joint_angles import ankle_dorsiflexion, hip_angles, horizontal_abduction, knee_flexion
from .segments import SegmentAxes, about_up, cross, heading_tie, joint_stretches, runs, slow, slow_heading
from .tape import Tape, triangle_azimuth
from .timebase import Floats, Grid, Mask

ANCHOR_S = 8.0
"""Width (Gaussian standard deviation) with which the tape corrects the thigh clip's heading [s]."""
SOON_S = 60.0
"""So soon after a still pose a thigh's own heading may be held against the tape [s]."""


@dataclass
class OnPedal:
    """Where the foot is on the pedal of one set-up.

    mask : (n,).   tape : the tape measures, if known.   resting : (n,) where it rests.
    may_turn : whether the foot may turn about its ball: it is not known to play heel-down.
    """

    mask: Mask
    tape: Tape | None
    resting: Mask
    may_turn: bool = False


@dataclass
class LegAngles:
    """Angle columns of one leg, {column without side: (n,) deg}, and what was found on the way.

    in_room : proximal unit vectors of thigh and shank, (n, 3) each, forward, left, up in the room; None without both.
    ahead_m : per set-up index, (n,) how far the hip is ahead of where the tape has it, which is by how much the taped
    triangle fails to close [m]; NaN off that pedal.
    off_deg : per set-up index, how far outward the tape has the thigh of where its own heading does, soon after a still
    pose [deg].
    by_tape : (n,) where the azimuth rests on tape measures.   on_pedal : (n,) where the foot is on the pedal.
    from_still_s : (n,) time from the still poses that a tape-less azimuth rests on [s], inf without one.
    turn_followed : (n,) where the foot's turn about its ball was estimated.
    lean_rad : (n,) slow tilt of the shank against the vertical [rad]; empty where hip angles are not known.
    """

    columns: dict[str, Floats]
    by_tape: Mask
    on_pedal: Mask
    from_still_s: Floats
    turn_followed: Mask
    lean_rad: Floats = field(default_factory=lambda: np.zeros(0))
    in_room: tuple[Floats, Floats] | None = None
    ahead_m: dict[int, Floats] = field(default_factory=dict)
    off_deg: dict[int, float] = field(default_factory=dict)


@dataclass
class WornLeg:
    """One leg that wears clips: its angles, its clips' alignments {segment: alignment}, an entry per set-up."""

    leg: LegAngles
    alignments: dict[str, Alignment]
    on_pedal: list[OnPedal]


def leg_angles(
    axes: Mapping[str, SegmentAxes],
    side: Side,
    grid: Grid,
    still: Sequence[Mask],
    on_pedal: Sequence[OnPedal],
) -> LegAngles:
    """Ankle and knee of one leg, and how thigh and shank stand in the room: the hip follows by `add_hip`.

    axes : {"foot" | "shank" | "thigh": axes over time}, headings zeroed in the last still pose.
    still : masks of the still poses, in time order.   on_pedal : one entry per set-up.
    """
    nowhere = np.zeros(grid.n, dtype=bool)
    anywhere = np.logical_or.reduce([nowhere, *(s.mask for s in on_pedal)])
    out = LegAngles({}, nowhere, anywhere, np.full(grid.n, np.inf), nowhere.copy())
    if "foot" in axes and "shank" in axes:
        tie = heading_tie(axes["shank"], axes["foot"], grid)
        ankle = ankle_dorsiflexion(axes["shank"], axes["foot"], tie)
        out.columns["ankle_dorsiflexion"] = _where_known(ankle, axes["shank"], axes["foot"])
    if "thigh" in axes and "shank" in axes:
        _knee(out, axes["thigh"], axes["shank"], axes.get("foot"), side, grid, still, on_pedal)
    return out


def add_hip(leg: LegAngles, side: Side, turn_rad: Floats, pelvis: SegmentAxes | None = None) -> None:
    """Hip angles of one leg, against a pelvis that is turned to the left by (n,) `turn_rad`; none without a thigh clip.

    pelvis : axes of the pelvis clip; only its tilt is used. `leg.in_room` is given up for them: it is large.
    """
    if leg.in_room is None:
        return
    y_thigh, y_shank = (_body(about_up(-turn_rad, vectors)) for vectors in leg.in_room)
    leg.in_room = None
    known = np.isfinite(leg.columns["knee_flexion"])
    if pelvis is not None:
        y_thigh, y_shank = _in_pelvis(y_thigh, pelvis), _in_pelvis(y_shank, pelvis)
        known = known & pelvis.known
    flexion, adduction, rotation = hip_angles(y_thigh, y_shank, side)
    columns = {
        "hip_flexion": flexion,
        "hip_adduction": adduction,
        "hip_rotation": rotation,
        "hip_horizontal_abduction": horizontal_abduction(y_thigh, side),
    }
    for name, values in columns.items():
        leg.columns[name] = np.where(known, values, np.nan)


def _where_known(values: Floats, *segments: SegmentAxes) -> Floats:
    known = np.logical_and.reduce([segment.known for segment in segments])
    return np.where(known, values, np.nan)


def _outward(vectors: Floats, side: Side) -> Floats:
    """Heading of earth vectors, straight ahead 0, outward positive [rad]."""
    left = np.arctan2(vectors[:, 1], vectors[:, 0])
    return -left if side == "right" else left


def _wrapped(angle: Floats) -> Floats:
    return (angle + np.pi) % (2 * np.pi) - np.pi


def _knee(
    out: LegAngles,
    thigh: SegmentAxes,
    shank: SegmentAxes,
    foot: SegmentAxes | None,
    side: Side,
    grid: Grid,
    still: Sequence[Mask],
    on_pedal: Sequence[OnPedal],
) -> None:
    stretches = joint_stretches(thigh, shank)
    tie = heading_tie(thigh, shank, grid)
    to_knee, to_ankle = -thigh.y, about_up(-tie, -shank.y)
    clip_heading = _outward(to_knee, side)
    twist = _wrapped(_outward(to_ankle, side) - clip_heading)
    known = thigh.known & shank.known
    lean = np.arccos(np.clip(shank.y[:, 2], -1.0, 1.0))
    out.lean_rad = slow(lean, known.astype(np.float64), ANCHOR_S, grid.rate_hz)
    azimuth, corrected_twist = _azimuth(
        out, clip_heading, twist, to_knee, to_ankle, foot, side, stretches, grid, still, on_pedal
    )
    turn = azimuth - clip_heading
    sign = -1.0 if side == "right" else 1.0
    y_thigh = about_up(sign * turn, thigh.y)
    y_shank = -about_up(sign * (turn + corrected_twist - twist), to_ankle)
    out.columns["knee_flexion"] = np.where(known, knee_flexion(y_thigh, y_shank), np.nan)
    out.in_room = y_thigh, y_shank


def _body(vectors: Floats) -> Floats:
    return np.stack([vectors[:, 0], vectors[:, 2], -vectors[:, 1]]).T  # EARTH_TO_BODY by components


def _in_pelvis(vectors: Floats, pelvis: SegmentAxes) -> Floats:
    """Body-frame vectors in a pelvis that is tilted but faces straight ahead."""
    heading = np.arctan2(pelvis.z[:, 1], pelvis.z[:, 0])
    y, z = (_body(about_up(-np.pi / 2 - heading, v)) for v in (pelvis.y, pelvis.z))
    x = cross(y, z)
    return np.stack([np.einsum("ij,ij->i", vectors, axis) for axis in (x, y, z)]).T


def _azimuth(
    out: LegAngles,
    clip_heading: Floats,
    twist: Floats,
    to_knee: Floats,
    to_ankle: Floats,
    foot: SegmentAxes | None,
    side: Side,
    stretches: np.ndarray,
    grid: Grid,
    still: Sequence[Mask],
    on_pedal: Sequence[OnPedal],
) -> tuple[Floats, Floats]:
    """Thigh azimuth [rad] and the twist of the shank against it [rad], both outward positive."""
    correction = _from_still_poses(out, clip_heading, stretches, grid, still)
    corrected_twist = twist.copy()
    thigh_h, shank_h = (np.hypot(v[:, 0], v[:, 1]) for v in (to_knee, to_ankle))
    for index, span in enumerate(on_pedal):
        here = span.mask & (stretches >= 0)
        if span.tape is None or not here.any():
            continue
        tape, pitch, turn = _on_board(span, span.tape, foot, side, stretches, grid)
        by_tape, better_twist, misfit = triangle_azimuth(
            thigh_h * span.tape.thigh_m, shank_h * span.tape.shank_m, twist, tape, pitch, turn
        )
        out.ahead_m[index] = np.where(here, misfit, np.nan)
        away, extra = by_tape - clip_heading, better_twist - twist
        soon = here & (out.from_still_s < SOON_S)
        if soon.any():
            off = np.exp(1j * (away[soon] - correction[soon]))
            out.off_deg[index] = float(np.degrees(np.angle(off.mean())))
        drift = slow_heading(np.cos(away), np.sin(away), stretches, grid, ANCHOR_S, here)
        untwist = slow_heading(np.cos(extra), np.sin(extra), stretches, grid, ANCHOR_S, here)
        correction = np.where(here, drift, correction)
        corrected_twist = np.where(here, twist + untwist, corrected_twist)
        out.by_tape |= here
        if span.may_turn and foot is not None:
            out.turn_followed |= here & foot.known
    return clip_heading + correction, corrected_twist


def _on_board(
    span: OnPedal, tape: Tape, foot: SegmentAxes | None, side: Side, stretches: np.ndarray, grid: Grid
) -> tuple[Tape, Floats | None, Floats | float]:
    """The tape with the foot's own pitch at rest on the board, where it rested there; the foot's pitch; its turn."""
    resting = span.resting & (stretches >= 0)
    turn: Floats | float = 0.0
    if foot is None:
        return tape, None, turn
    if span.may_turn:
        turn = ball_turn(foot, resting & foot.known, span.mask & ~span.resting & foot.known, stretches, grid)
        turn = -turn if side == "right" else turn
    pitch = foot.pitch
    if not np.isfinite(pitch[resting]).any():
        return tape, None, turn
    rest = float(np.nanmedian(pitch[resting]))
    return replace(tape, rest_pitch_rad=rest), np.where(np.isfinite(pitch), pitch, rest), turn


def _from_still_poses(
    out: LegAngles, clip_heading: Floats, stretches: np.ndarray, grid: Grid, still: Sequence[Mask]
) -> Floats:
    """Heading correction that makes the thigh point straight ahead in each still pose [rad].

    Between two poses it changes evenly; where there was playing between them it changes over the playing only, whose
    slow splay of the knee may pass for gyroscope bias: that drift must not reach back into the range check.
    NaN in stretches without a still pose. Notes the time to the nearest one in `out.from_still_s`; between two that
    bound the drift, the product of both times over their sum (a random walk that is known at both ends).
    """
    correction = np.full(grid.n, np.nan)
    out.from_still_s = np.full(grid.n, np.inf)
    index = np.arange(grid.n)
    for part in runs(stretches):
        at, values = [], []
        for mask in still:
            use = np.flatnonzero(mask[part]) + part.start
            if use.size:
                at.append(float(use.mean()))
                values.append(float(np.angle(np.exp(-1j * clip_heading[use]).mean())))
        if at:
            drifting = np.ones(part.stop - part.start, dtype=bool)
            poses = [round(pose) - part.start for pose in at]
            away = np.min([np.abs(index[part] - pose) for pose in at], axis=0).astype(np.float64)
            for before, after in pairwise(poses):
                if out.on_pedal[part][before:after].any():
                    drifting[before:after] = out.on_pedal[part][before:after]
                else:
                    since = np.arange(after - before)
                    away[before:after] = since * (after - before - since) / (after - before)
            spent = np.cumsum(drifting).astype(np.float64)
            correction[part] = np.interp(spent, spent[poses], np.unwrap(values))
            out.from_still_s[part] = away / grid.rate_hz
    return correction
