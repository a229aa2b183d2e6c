"""What a foot did in one set-up that belongs to no single motion: strokes, rest and lift on the pedal, knee, tiring."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ..logger.models import SIDES, Phase, Session, Side
from .active_range import measure_active_end
from .calibration import phases_of
from .evenness import interval_figures, steady_intervals, timing_against
from .exposure import NotKnown, merge_spans
from .fatigue import all_trends, block_medians, stroke_signs
from .heel_style import by_pitch, heel_style, style_shares
from .knee_place import knee_offset_cm, shank_side_tilt, side_tilt_half_width
from .offset_band import range_change_half_width
from .on_pedal import lift_test, room_at_rest
from .session_angles import SessionAngles
from .session_band import end_shift, motion_band
from .strokes import FAST_PER_S, Strokes, find_strokes
from .timebase import Floats

Ends = dict[str, dict[str, Any]]


def playing_figures(
    session: Session, angles: SessionAngles, ends: Ends, block_s: float, shifts: Mapping[str, float]
) -> dict[str, Any]:
    """{set-up: {side: figures}} for every worn side with a known ankle angle; `not_known` says why a figure is None.

    shifts : {clip: deg} of the end checks.
    """
    out: dict[str, Any] = {}
    for setup in session.setups:
        sides = {}
        for side in SIDES:
            ankle = angles.columns.get(f"{side}_ankle_dorsiflexion")
            phases = [
                p
                for p in phases_of(session, "playing")
                if session.setup_of(p).name == setup.name and p.side in (None, side)
            ]
            if ankle is not None and phases and side not in angles.assumed_ankle:
                sides[side] = _of_side(
                    session, angles, ends.get(side, {}), setup.name, side, ankle, phases, block_s, shifts
                )
        out[setup.name] = sides
    return out


def told_techniques(playing: Mapping[str, Any], by_pitch_alone: Mapping[str, Mapping[Side, str]]) -> dict[str, Any]:
    """{set-up: {side: word}}: as `playing_figures` tells it, by the pitch alone for a foot without strokes."""
    out: dict[str, Any] = {}
    for setup, sides in by_pitch_alone.items():
        found = {side: (playing.get(setup, {}).get(side) or {}).get("heel") for side in sides}
        out[setup] = {side: (found[side] or {}).get("technique", word) for side, word in sides.items()}
    return out


def _of_side(
    session: Session,
    angles: SessionAngles,
    ends: dict[str, Any],
    setup: str,
    side: Side,
    ankle: Floats,
    phases: list[Phase],
    block_s: float,
    shifts: Mapping[str, float],
) -> dict[str, Any]:
    grid = angles.grid
    unknown: dict[str, str] = {}
    spans = merge_spans([(p.start_s, p.end_s) for p in phases])
    # Only from the first to the last playing of this set-up: a session of many set-ups costs no more than one of one.
    here = grid.slice(spans[0][0], spans[-1][1])
    start_s = grid.start_s + here.start / grid.rate_hz
    playing = np.where(grid.mask(spans)[here], ankle[here], np.nan)
    hip = angles.columns.get(f"{side}_hip_flexion")
    strokes = find_strokes(playing, grid.rate_hz, start_s)
    rest = _rest(session, angles, ends, setup, side, ankle, shifts, unknown)
    rest_deg = None if rest is None else rest["angle_deg"]
    style = heel_style(strokes, playing, None if hip is None else hip[here], rest_deg, grid.rate_hz)
    style = by_pitch(style, strokes.time_s, angles.heel_drops.get(setup, {}).get(side))
    figures: dict[str, Any] = {
        "strokes": _stroke_figures(strokes, np.count_nonzero(np.isfinite(playing)) / grid.rate_hz, unknown),
        "heel": style_shares(style),
        "by_exercise": [_of_phase(strokes, p) for p in phases],
        "room_at_rest": rest,
        "lift_test": _lift(session, angles, setup, side, ankle, rest_deg, unknown),
        "knee": _knee(session, angles, side, spans, unknown),
    }
    blocks, groups = _blocks(phases, block_s)
    signs = stroke_signs(strokes, playing, grid.rate_hz, blocks)
    signs["posture_deg"] = (
        np.full(len(blocks), np.nan) if hip is None else block_medians(hip, [grid.slice(*b) for b in blocks])
    )
    trends, why = all_trends(signs, np.array([(a + b) / 2 for a, b in blocks]), groups)
    figures["trends"] = {name: trends.get(name) for name in signs}
    change = _range_change(session, angles, ends, side, ankle, shifts, unknown)
    figures["range_change_deg"], figures["band_range_change_deg"] = change or (None, None)
    figures["not_known"] = unknown | {f"trend of {name}": reason for name, reason in why.items()}
    return figures


def _stroke_figures(strokes: Strokes, known_s: float, unknown: dict[str, str]) -> dict[str, Any] | None:
    if not known_s > 0 or not strokes.count:
        unknown["strokes"] = "no stroke was found" if known_s > 0 else "the ankle angle is not known while playing"
        return None
    steady, stretch = steady_intervals(strokes.time_s, strokes.run)
    even = interval_figures(steady, stretch)
    if even is None:
        unknown["evenness"] = "fewer than eight strokes followed each other evenly"
    rate = 1.0 / float(np.median(steady)) if steady.size else None
    fast = 1.0 / float(np.percentile(steady, 5)) if steady.size else None
    return {
        "count": strokes.count,
        "per_minute": 60.0 * strokes.count / known_s,
        "rate_per_s": rate,
        "fast_rate_per_s": fast,
        "fast_is_unusual": bool(steady.size and np.percentile(steady, 10) < 1.0 / FAST_PER_S),
        "excursion_deg": {str(p): float(np.percentile(strokes.excursion_deg, p)) for p in (10, 50, 90)},
        "second_turns": strokes.doubled,
        "alternating_share": strokes.alternating_share,
        "evenness": even,
    }


def _of_phase(strokes: Strokes, phase: Phase) -> dict[str, Any]:
    """Strokes of one playing phase, with its exercise and tempo."""
    first, last = np.searchsorted(strokes.time_s, (phase.start_s, phase.end_s)).tolist()
    time_s = strokes.time_s[first:last]
    steady, stretch = steady_intervals(time_s, strokes.run[first:last])
    return {
        "exercise": phase.exercise,
        "tempo_bpm": phase.tempo_bpm,
        "start_s": phase.start_s,
        "strokes": int(time_s.size),
        "rate_per_s": 1.0 / float(np.median(steady)) if steady.size else None,
        "median_excursion_deg": float(np.median(strokes.excursion_deg[first:last])) if time_s.size else None,
        "evenness": interval_figures(steady, stretch),
        "timing": None if phase.tempo_bpm is None else timing_against(time_s, phase.tempo_bpm),
    }


def _phases(session: Session, name: str, setup: str, side: Side) -> list[tuple[float, float]]:
    """Spans of a phase that hold for a side and name this set-up, or the only one."""
    return [
        (p.start_s, p.end_s)
        for p in phases_of(session, name, side)
        if p.setup == setup or (p.setup is None and len(session.setups) == 1)
    ]


def _rest(
    session: Session,
    angles: SessionAngles,
    ends: dict[str, Any],
    setup: str,
    side: Side,
    ankle: Floats,
    shifts: Mapping[str, float],
    unknown: dict[str, str],
) -> dict[str, Any] | None:
    spans = _phases(session, "rest_on_pedal", setup, side)
    end = ends.get("ankle_dorsiflexion")
    if not spans or end is None:
        unknown["room_at_rest"] = "no rest on the pedal was recorded" if not spans else "the end of range is not known"
        return None
    band = motion_band(angles, side, "ankle_dorsiflexion", end, shifts, spans)
    found = room_at_rest(ankle[angles.grid.mask(spans)], angles.grid.rate_hz, end.value_deg, band.half_width_deg)
    if isinstance(found, NotKnown):
        unknown["room_at_rest"] = found.reason
        return None
    return found


def _lift(
    session: Session,
    angles: SessionAngles,
    setup: str,
    side: Side,
    ankle: Floats,
    rest_deg: float | None,
    unknown: dict[str, str],
) -> dict[str, Any] | None:
    spans = _phases(session, "lift_test", setup, side)
    if not spans:
        unknown["lift_test"] = "no lift test was recorded"
        return None
    found = lift_test(angles.grid.time_s, ankle, spans, rest_deg)
    if isinstance(found, NotKnown):
        unknown["lift_test"] = found.reason
        return None
    return found


def _knee(
    session: Session, angles: SessionAngles, side: Side, spans: list[tuple[float, float]], unknown: dict[str, str]
) -> dict[str, Any] | None:
    names = [f"{side}_{name}" for name in ("hip_flexion", "hip_adduction", "hip_rotation", "knee_flexion")]
    if any(name not in angles.columns for name in names):
        unknown["knee"] = "it needs the angles of hip and knee"
        return None
    step = max(1, round(angles.grid.rate_hz / 25.0))  # where a knee is does not change faster
    here = [angles.grid.slice(*span) for span in spans]
    joints = [np.concatenate([angles.columns[name][part][::step] for part in here]) for name in names]
    sure = (
        np.concatenate([angles.uncertainty[name][part][::step] for part in here])
        for name in (f"{side}_ankle_dorsiflexion", f"{side}_hip_adduction")
    )
    tilt, half_width = shank_side_tilt(*joints), side_tilt_half_width(joints, *sure)
    known = np.isfinite(tilt) & np.isfinite(half_width)
    if not known.any():
        unknown["knee"] = "its angles are not known while playing"
        return None
    percentiles, half = np.percentile(tilt[known], (10, 50, 90)), float(np.median(half_width[known]))
    length = session.participant.shank_length_cm
    if length is None:
        unknown["knee_offset_cm"] = "the length of the shank was not given"
    offset = None if length is None else knee_offset_cm(percentiles, length).tolist()
    keys = ("10", "50", "90")
    return {
        "side_tilt_deg": dict(zip(keys, percentiles.tolist(), strict=True)),
        "side_tilt_half_width_deg": half,
        "knee_offset_cm": None if offset is None else dict(zip(keys, offset, strict=True)),
        "knee_offset_half_width_cm": None if length is None else float(knee_offset_cm(np.array(half), length)),
    }


def _range_change(
    session: Session,
    angles: SessionAngles,
    ends: dict[str, Any],
    side: Side,
    ankle: Floats,
    shifts: Mapping[str, float],
    unknown: dict[str, str],
) -> tuple[float, list[float]] | None:
    """Dorsiflexion end measured after playing minus before, and where that may really lie [deg]."""
    spans = [(p.start_s, p.end_s) for p in phases_of(session, "end_range", side)]
    before = ends.get("ankle_dorsiflexion")
    if not spans or before is None or before.source != "this session":
        unknown["range_change_deg"] = "it needs a range check before and lifts after playing, in this session"
        return None
    if not np.isfinite(ankle[angles.grid.mask(spans)]).any():
        unknown["range_change_deg"] = "the ankle angle is not known in the range check at the end"
        return None
    after = measure_active_end(angles.grid.time_s, ankle, spans).end
    if after is None:
        unknown["range_change_deg"] = "no lift was found in the range check at the end"
        return None
    change = after.value_deg - before.value_deg
    errors = (before.standard_error_deg, after.standard_error_deg)
    half = range_change_half_width(errors, end_shift("ankle_dorsiflexion", side, shifts))
    return change, [change - half, change + half]


def _blocks(
    phases: list[Phase], block_s: float
) -> tuple[list[tuple[float, float]], list[tuple[str | None, float | None]]]:
    """Whole blocks within each phase; a phase shorter than half a block has none."""
    blocks: list[tuple[float, float]] = []
    groups: list[tuple[str | None, float | None]] = []
    for phase in sorted(phases, key=lambda p: p.start_s):
        count = int((phase.end_s - phase.start_s) / block_s + 0.5)
        cuts = np.linspace(phase.start_s, phase.end_s, count + 1).tolist()
        blocks += list(zip(cuts[:-1], cuts[1:], strict=True)) if count else []
        groups += [(phase.exercise, phase.tempo_bpm)] * count
    return blocks, groups
