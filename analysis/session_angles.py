"""Joint angles of a whole session: every worn leg, the pelvis' tilt, the spread of two legs, and what is withheld."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Set
from dataclasses import dataclass, field

import numpy as np

from ..logger.models import SIDES, Session, Side
from .alignment import SENSOR_AXES, Alignment, Axis, frame_from, unit
from .calibration import align_leg, phases_of, still_poses
from .leg import LegAngles, OnPedal, WornLeg, add_hip, leg_angles
from .orientation import Track, up_in_sensor
from .pelvis_turn import turn_of_pelvis
from .quality import Quality
from .segments import SegmentAxes, segment_axes
from .tape import tape_of
from .tape_check import refuse_tape
from .technique import HeelDrops, Technique, heel_drops, technique_of
from .timebase import Floats, Grid, Mask
from .uncertainty import POSE_SD_DEG, WITHHELD_FROM_DEG, Uncertainty, leg_uncertainty
from .wearing import swapped_clips

PEDAL_PHASES = ("rest_on_pedal", "playing", "lift_test")
LENGTHS_ESTIMATED = "with lengths from stature: measure thigh and shank with a tape"
WITHOUT_TAPE = "without tape measures: give reach_cm and spacing_cm"
TAKEN_AS_SQUARE = "pelvis taken as square"
TURN_ESTIMATED = "turn of the pelvis estimated from the legs"
LEG_COLUMNS = (
    "ankle_dorsiflexion",
    "knee_flexion",
    "hip_flexion",
    "hip_adduction",
    "hip_rotation",
    "hip_horizontal_abduction",
)

STRANGERS_SPOIL = (
    (("shank", "foot"), ("ankle_dorsiflexion",), "What rests on shank and thigh is kept."),
    (
        ("thigh", "shank"),
        ("knee_flexion", "hip_rotation", "hip_horizontal_abduction", "hip_adduction"),
        "The ankle and the thigh's slope are kept.",
    ),
)
"""Neighbours, the angles that need both on one clock and one person, and what is left without them."""


@dataclass
class SessionAngles:
    """Angles of a session on the common grid.

    columns : {"right_ankle_dorsiflexion": (n,) deg, ..., "hip_spread": (n,) deg}; NaN where unknown.
    uncertainty : 95 % half-width of each column, {column: (n,) deg}.
    by_tape : {side: (n,)} where hip azimuth rests on tape measures.   assumed_ankle : sides whose ankle angle rests on
    the footboard pitch.   labels : {column: how it is meant}, where it is not the plain joint angle.
    heel_drops : {set-up: {side: how far the sole stays from its pitch at rest}}, for feet that wear a clip.
    """

    grid: Grid
    columns: dict[str, Floats]
    uncertainty: dict[str, Floats]
    by_tape: dict[Side, Mask]
    assumed_ankle: set[Side]
    labels: dict[str, str]
    heel_drops: dict[str, dict[Side, HeelDrops]] = field(default_factory=dict)

    @property
    def techniques(self) -> dict[str, dict[Side, Technique]]:
        """{set-up: {side: "heel-down", "heel-up" or "unknown"}}, by the sole's pitch alone."""
        return {
            setup: {side: technique_of(found.drop_deg) for side, found in sides.items()}
            for setup, sides in self.heel_drops.items()
        }


def session_angles(
    session: Session,
    tracks: Mapping[str, Track],
    grid: Grid,
    quality: Quality,
    strangers: Collection[Set[str]] = (),
) -> SessionAngles:
    """All joint angles of a session.

    tracks : orientation of each clip on the grid, {clip name: Track}.   quality : findings are added to it.
    strangers : pairs of neighbouring clips that did not move as one where they must: angles between them are withheld.
    """
    out = SessionAngles(grid, {}, {}, {}, set(), {})
    pelvis = _pelvis(session, tracks, grid, quality)
    worn: dict[Side, WornLeg] = {}
    for side in SIDES:
        found = _leg(out, session, side, tracks, grid, quality)
        if found is not None:
            worn[side] = found
    strange = [side for side in worn if {f"{side}_thigh", f"{side}_shank"} in strangers]
    turn_rad, turn_sd_deg = turn_of_pelvis({s: worn[s] for s in worn if s not in strange}, grid)
    spread_parts: dict[Side, tuple[Floats, Floats]] = {}
    for side, found in worn.items():
        leg = found.leg
        add_hip(leg, side, turn_rad, pelvis)
        _withhold_between_strangers(leg, side, strangers, quality)
        knocked = {segment: tracks[f"{side}_{segment}"].knocked for segment in found.alignments}
        down = _heel_down(out, found.on_pedal, session, side, grid)
        measured, assumed = _all_measured(found.on_pedal), side in out.assumed_ankle
        sure = leg_uncertainty(leg, found.alignments, knocked, measured, assumed, down, turn_sd_deg)
        if "hip_horizontal_abduction" in leg.columns:
            spread_parts[side] = (leg.columns["hip_horizontal_abduction"], sure.azimuth_alone)
            _withhold_unsure_azimuth(leg, sure, session, side, grid, quality)
        out.by_tape[side] = leg.by_tape
        for name in LEG_COLUMNS:
            if name in leg.columns:
                out.columns[f"{side}_{name}"] = leg.columns[name]
                out.uncertainty[f"{side}_{name}"] = sure.columns[name]
    if len(spread_parts) == 2:
        _spread(out, spread_parts["right"], spread_parts["left"])
    _label(out, pelvis is not None, bool(np.isfinite(turn_sd_deg).any()), quality)
    return out


def _leg(
    out: SessionAngles, session: Session, side: Side, tracks: Mapping[str, Track], grid: Grid, quality: Quality
) -> WornLeg | None:
    """One leg against the room; None where it wears nothing, or nothing that can be aligned."""
    worn = {clip.segment for clip in session.clips if clip.side == side}
    poses = still_poses(session, side, tracks, grid, quality) if worn else None
    if poses is None or swapped_clips(session, side, tracks, grid, quality):
        return None
    alignments = align_leg(session, side, tracks, grid, poses, quality)
    axes = {
        segment: segment_axes(tracks[f"{side}_{segment}"], alignment, poses.last)
        for segment, alignment in alignments.items()
    }
    on_pedal = _on_pedal(session, side, grid, quality, with_thigh="thigh" in axes)
    if "foot" in axes:
        _tell_techniques(out, axes["foot"], session, side, grid, on_pedal)
    ahead = [grid.mask([span]) for span in poses.facing_ahead]
    leg = leg_angles(axes, side, grid, ahead, on_pedal)
    if refuse_tape(leg, on_pedal, session, side, quality):
        leg = leg_angles(axes, side, grid, ahead, on_pedal)
    if "foot" not in worn and "shank" in axes:
        _assumed_ankle(out, leg, axes["shank"], session, side, grid, quality)
    return WornLeg(leg, alignments, on_pedal)


def _label(out: SessionAngles, has_pelvis: bool, turn_followed: bool, quality: Quality) -> None:
    """Say of columns that rest on an assumption what they are."""
    for side in SIDES:
        if side in out.assumed_ankle:
            out.labels[f"{side}_ankle_dorsiflexion"] = "assumed from the footboard pitch"
        if f"{side}_hip_flexion" in out.columns:
            if not has_pelvis:
                out.labels[f"{side}_hip_flexion"] = "thigh-to-vertical"
            for name in ("hip_horizontal_abduction", "hip_adduction"):
                out.labels[f"{side}_{name}"] = TURN_ESTIMATED if turn_followed else TAKEN_AS_SQUARE
    if "thigh-to-vertical" in out.labels.values():
        quality.note("Hip flexion is thigh-to-vertical: no pelvis clip was worn, the trunk is taken as upright.")
    if TAKEN_AS_SQUARE in out.labels.values():
        quality.note("A single leg's sideways angle has the pelvis taken as square to the pedals.")
    if TURN_ESTIMATED in out.labels.values():
        quality.note("How far the pelvis turns on the throne is estimated from how far each hip is from its pedal.")


def _pelvis(session: Session, tracks: Mapping[str, Track], grid: Grid, quality: Quality) -> SegmentAxes | None:
    clip = session.clip("pelvis")
    if clip is None:
        return None
    track = tracks["pelvis"]
    still = grid.mask([(p.start_s, p.end_s) for p in phases_of(session, "still")]) & track.known
    if not still.any():
        quality.withhold("pelvis", "the clip was silent during the still pose, or there was none")
        return None
    if clip.right_axis is None:
        quality.withhold("pelvis", "give right_axis for the pelvis clip in import.toml: no move shows where it faces")
        return None
    axis = Axis(SENSOR_AXES[clip.right_axis], 1.0, 5.0, "right_axis hint")
    up = unit(up_in_sensor(track.quat[still]).mean(axis=0))
    try:
        frame = frame_from(up, axis.direction)
    except ValueError:
        quality.withhold("pelvis", f"right_axis = {clip.right_axis!r} points up or down in the still pose")
        return None
    quality.axes["pelvis"] = {
        "method": axis.method,
        "share_explained": None,
        "error_deg": axis.error_deg,
        "long_axis": "gravity",
    }
    return segment_axes(track, Alignment(frame, axis, "gravity in the still pose", POSE_SD_DEG["pelvis"]), still)


def _spans_on(session: Session, setup: str, side: Side, *names: str) -> list[tuple[float, float]]:
    """Spans [s] of the phases with these names that one side had on one set-up."""
    found = [phase for name in names for phase in phases_of(session, name, side)]
    return [(phase.start_s, phase.end_s) for phase in found if session.setup_of(phase).name == setup]


def _on_pedal(session: Session, side: Side, grid: Grid, quality: Quality, with_thigh: bool) -> list[OnPedal]:
    """Per set-up: when this side's foot is on the pedal, and the tape measures."""
    entries = []
    for setup in session.setups:
        spans = _spans_on(session, setup.name, side, *PEDAL_PHASES)
        tape, reason = tape_of(session.participant, setup, side)
        if tape is None and with_thigh:
            quality.say(f"Without tape ({reason}) a thigh's sideways angle is only known against the last still pose.")
        resting = _spans_on(session, setup.name, side, "rest_on_pedal")
        entries.append(OnPedal(grid.mask(spans), tape, grid.mask(resting)))
    return entries


def _withhold_between_strangers(leg: LegAngles, side: Side, strangers: Collection[Set[str]], quality: Quality) -> None:
    """Take out the angles between two clips that do not belong together (two clocks, two people, a wrong phase)."""
    for pair, columns, kept in STRANGERS_SPOIL:
        if {f"{side}_{segment}" for segment in pair} not in strangers:
            continue
        for column in columns:
            leg.columns.pop(column, None)
        upper, lower = pair
        quality.withhold(
            f"{side} leg, angles between {upper} and {lower}",
            f"{side}_{upper} and {side}_{lower} did not move alike in the calibration move that turns both as one: are"
            f" their clocks apart, the phases misplaced, or the clips on two people? Check, import again. {kept}",
        )


def _tell_techniques(
    out: SessionAngles, foot: SegmentAxes, session: Session, side: Side, grid: Grid, on_pedal: list[OnPedal]
) -> None:
    """Heel-down or heel-up, per set-up."""
    pitch = np.degrees(foot.pitch)
    for setup, span in zip(session.setups, on_pedal, strict=True):
        rest, playing = (_spans_on(session, setup.name, side, name) for name in ("rest_on_pedal", "playing"))
        if playing:
            found = out.heel_drops.setdefault(setup.name, {})[side] = heel_drops(pitch, rest, playing, grid)
            span.may_turn = technique_of(found.drop_deg) != "heel-down"


def _heel_down(out: SessionAngles, on_pedal: list[OnPedal], session: Session, side: Side, grid: Grid) -> Mask:
    """(n,) where the foot is on a pedal that it is known to play heel-down."""
    down = np.zeros(grid.n, dtype=bool)
    for setup, span in zip(session.setups, on_pedal, strict=True):
        if out.techniques.get(setup.name, {}).get(side) == "heel-down":
            down |= span.mask
    return down


def _withhold_unsure_azimuth(
    leg: LegAngles, sure: Uncertainty, session: Session, side: Side, grid: Grid, quality: Quality
) -> None:
    """A single leg's sideways angles end where they are less sure than `WITHHELD_FROM_DEG`."""
    playing = grid.mask([(p.start_s, p.end_s) for p in phases_of(session, "playing", side)])
    for name in ("hip_horizontal_abduction", "hip_adduction"):
        unsure = sure.columns[name] > WITHHELD_FROM_DEG
        lost = unsure & playing & np.isfinite(leg.columns[name])
        leg.columns[name] = np.where(unsure, np.nan, leg.columns[name])
        if lost.any():
            why = LENGTHS_ESTIMATED if leg.by_tape[lost].all() else WITHOUT_TAPE
            what = f"{side} {name.replace('_', ' ')} for {lost.sum() / grid.rate_hz:.0f} s of playing"
            again = "or repeat the still pose right before playing"
            quality.withhold(what, f"it is less sure than +-{WITHHELD_FROM_DEG:.0f} deg {why}, {again}")


def _all_measured(on_pedal: list[OnPedal]) -> bool:
    return all(span.tape.measured for span in on_pedal if span.tape is not None)


def _spread(out: SessionAngles, right: tuple[Floats, Floats], left: tuple[Floats, Floats]) -> None:
    """Hip spread of two legs, which the pelvis' turning leaves alone; unknown where it is too unsure."""
    sure = np.hypot(right[1], left[1])
    out.columns["hip_spread"] = np.where(sure > WITHHELD_FROM_DEG, np.nan, right[0] + left[0])
    out.uncertainty["hip_spread"] = sure


def _assumed_ankle(
    out: SessionAngles, leg: LegAngles, shank: SegmentAxes, session: Session, side: Side, grid: Grid, quality: Quality
) -> None:
    """Ankle angle without a foot clip: footboard pitch plus forward lean of the shank, foot flat on the board."""
    forward = shank.x.copy()
    forward[:, 2] = 0.0
    forward = unit(forward)
    lean = np.degrees(np.arctan2(np.einsum("ij,ij->i", shank.y, forward), shank.y[:, 2]))
    ankle = np.full(grid.n, np.nan)
    for setup in session.setups:
        pitch_deg = setup.of_foot(side, "footboard_pitch_deg")
        if pitch_deg is None:
            quality.withhold(
                f"{side} ankle dorsiflexion on {setup.name!r}",
                "no foot clip is worn and footboard_pitch_deg is not given",
            )
            continue
        for start, end in _spans_on(session, setup.name, side, "rest_on_pedal", "playing"):
            part = grid.slice(start, end)
            ankle[part] = pitch_deg + lean[part]
    if np.isfinite(ankle).any():
        leg.columns["ankle_dorsiflexion"] = np.where(shank.known, ankle, np.nan)
        out.assumed_ankle.add(side)
        quality.say(
            f"{side} ankle: no foot clip; assumed from the footboard pitch and the shank, foot flat on the board."
        )
