"""Active ends and exposure of a whole session: every side, motion and set-up that is known, and why the rest is not."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any

import numpy as np

from ..logger.models import SIDES, Phase, Session
from .active_range import ActiveEnd, RangeCheck, choose_active_end, measure_active_end, spread_end
from .calibration import phases_of
from .cycles import Cycles, count_cycles
from .exposure import NotKnown, joined, merge_spans, motion_exposure
from .motion_detail import Group, motion_detail
from .motions import BOTH, MOTION, SIDED_MOTIONS, angle_column, toward_end, words
from .quality import Quality
from .range_validity import knee_sentence, straight_knee_spans
from .repetitions import Span
from .session_angles import SessionAngles
from .session_band import angle_half_width, motion_band
from .settings import Parameters
from .timebase import Floats

WRONG_WAY_DEG = 8.0
"""A range phase that goes this far the other way, and twice as far as the right way, was another move [deg] (ours)."""

LEAST_S = 1.0
"""Less known playing than this gives no figure: it may not hold a single stroke (ours) [s]."""

Ends = dict[str, dict[str, ActiveEnd]]
"""{side or "both": {motion: end}}"""


def end_as_json(end: ActiveEnd) -> dict[str, Any]:
    """An active end as plain data, every repetition included."""
    return asdict(end)


def end_from_json(data: Mapping[str, Any]) -> ActiveEnd:
    """An active end as stored in exposure.json, without its single repetitions."""
    return ActiveEnd(
        value_deg=data["value_deg"],
        source=data["source"],
        sd_deg=data.get("sd_deg"),
        standard_error_deg=data.get("standard_error_deg"),
        contact=bool(data.get("contact", False)),
    )


def active_ends(session: Session, angles: SessionAngles, earlier: Ends, quality: Quality) -> Ends:
    """The active end of every motion whose angle is known, by precedence; reasons for the others go to `quality`."""
    ends: Ends = {}
    for side in SIDES:
        for motion in SIDED_MOTIONS:
            column = angles.columns.get(angle_column(motion, side))
            if column is None:
                continue
            check: RangeCheck | None = None
            phase = MOTION[motion].range_phase
            spans = [(p.start_s, p.end_s) for p in phases_of(session, phase, side)] if phase else []
            assumed = side in angles.assumed_ankle and motion.startswith("ankle")
            if spans and not assumed:
                trace = toward_end(motion, column)
                right_way = [span for span in spans if not _wrong_way(trace[angles.grid.slice(*span)])]
                if len(right_way) < len(spans):
                    quality.say(
                        f"{words(side, motion).capitalize()}: in the range phase the joint moved the other way, so it "
                        "was not used; check the phase's name and side, or repeat it."
                    )
                check = _checked(angles, side, motion, right_way, trace) if right_way else None
            end, reason = choose_active_end(
                motion,
                check=check,
                typed_deg=session.typed_range_deg.get(side, {}).get(motion),
                earlier=earlier.get(side, {}).get(motion),
            )
            if end is None:
                quality.withhold(words(side, motion), reason or "its end is not known")
                continue
            ends.setdefault(side, {})[motion] = end
            tell = quality.note if end.contact or end.source == "norm" else quality.say
            failed = check.messages if check is not None and check.end is None else ()
            for message in end.messages:
                say = quality.say if message in failed else tell
                say(f"{words(side, motion).capitalize()}: {message}.")
    if "hip_spread" in angles.columns:
        abduction = [ends.get(side, {}).get("hip_horizontal_abduction") for side in SIDES]
        spread = spread_end(*abduction)
        if spread is not None:
            ends[BOTH] = {"hip_spread": spread}
    return ends


def _checked(angles: SessionAngles, side: str, motion: str, spans: list[Span], trace_deg: Floats) -> RangeCheck:
    """The end from the range phases; repetitions with a straight knee do not count, and what the knee did is said."""
    time_s, knee = angles.grid.time_s, angles.columns.get(f"{side}_knee_flexion")
    if knee is None or not motion.startswith(("ankle", "hip_internal", "hip_external")):
        return measure_active_end(time_s, trace_deg, spans)
    invalid = straight_knee_spans(time_s, knee, spans) if motion.startswith("ankle") else []
    check = measure_active_end(time_s, trace_deg, spans, invalid=invalid)
    if check.end is not None and not any(repetition.invalid for repetition in check.end.repetitions):
        invalid = []
    said = knee_sentence(motion, knee, [angles.grid.slice(*span) for span in spans], invalid)
    if not said:
        return check
    end = None if check.end is None else replace(check.end, messages=(*check.end.messages, said))
    return RangeCheck(end, (*check.messages, said))


def _wrong_way(trace_deg: Floats) -> bool:
    """Whether a range phase moved mostly away from the end it is named for: (n,) trace, positive toward the end.

    Told by where it started: a phase whose beginning is not known is not called wrong.
    """
    known = trace_deg[np.isfinite(trace_deg)]
    begun = trace_deg[: max(len(trace_deg) // 50, 1)]
    begun = begun[np.isfinite(begun)]
    if len(known) < 2 or not begun.size:
        return False
    start = float(np.median(begun))
    low, high = (float(v) - start for v in np.percentile(known, (2, 98)))
    return -low > WRONG_WAY_DEG and -low > 2.0 * high


def name_what_is_absent(session: Session, angles: SessionAngles, ends: Ends, quality: Quality) -> None:
    """Name in `quality` every motion of a worn side that has no figures for want of its angle, with the reason."""
    worn = {side: {clip.segment for clip in session.clips if clip.side == side} for side in SIDES}
    for side in SIDES:
        for motion in SIDED_MOTIONS if worn[side] else ():
            if angle_column(motion, side) not in angles.columns:
                quality.withhold(words(side, motion), _why_absent(side, motion, worn[side], quality))
    spread = angle_column("hip_spread", BOTH)
    if worn["right"] and worn["left"] and spread not in angles.columns:
        quality.withhold(words(BOTH, "hip_spread"), "it needs the sideways angle of both hips")
    elif spread in angles.columns and BOTH not in ends:
        quality.withhold(words(BOTH, "hip_spread"), "it needs the abduction end of both hips")


def _why_absent(side: str, motion: str, worn: set[str], quality: Quality) -> str:
    """One clause: the clip that is not worn, else the first reason given for this leg's clips."""
    pair = ("foot", "shank") if motion.startswith("ankle") else ("shank", "thigh")
    missing = [segment for segment in pair if segment not in worn]
    if missing:
        return f"no {' and no '.join(missing)} clip is worn on the {side}"
    part = "hip" if motion.startswith("hip") else "ankle"
    mine = (f"{side} leg", f"{side} {part}", f"{side}_{part}", *(f"{side}_{segment}" for segment in pair))
    return next(
        (f"{e['what']}: {e['reason']}" for e in quality.withheld if e["what"].startswith(mine)),
        "a clip of this joint could not be placed on the leg",
    )


def session_exposure(
    session: Session,
    angles: SessionAngles,
    ends: Ends,
    parameters: Parameters,
    shifts: Mapping[str, float],
    quality: Quality,
) -> dict[str, Any]:
    """Exposure of every set-up, side and motion: {set-up: {side: {motion: figures}}}.

    shifts : {clip: deg} of the end checks.
    """
    time_s = angles.grid.time_s
    out: dict[str, Any] = {}
    for setup in session.setups:
        sides: dict[str, Any] = {}
        cycles: dict[str, Cycles] = {}
        for side, by_motion in ends.items():
            phases = _playing(session, setup.name, side)
            for motion, end in by_motion.items():
                column = angle_column(motion, side)
                trace = toward_end(motion, angles.columns[column])
                spans = [(p.start_s, p.end_s) for p in phases]
                if not spans:
                    continue
                sure = angle_half_width(angles, column, spans)
                band = motion_band(angles, side, motion, end, shifts, spans)
                figures = motion_exposure(
                    time_s,
                    trace,
                    spans,
                    end,
                    zone_deg=parameters.zone_deg[motion],
                    band=band,
                    block_s=parameters.block_s,
                    motion=words(side, motion),
                )
                if not isinstance(figures, NotKnown) and figures["known_s"] < LEAST_S:
                    figures = NotKnown(f"only {figures['known_s']:.2f} s of playing are known, too little for a figure")
                if isinstance(figures, NotKnown):
                    quality.withhold(f"{words(side, motion)} on {setup.name!r}", figures.reason)
                else:
                    playing = joined(trace, [angles.grid.slice(*span) for span in merge_spans(spans)])
                    if column not in cycles:
                        cycles[column] = count_cycles(playing)
                    groups = [_group_at(phases, (b["start_s"] + b["end_s"]) / 2) for b in figures["blocks"]]
                    figures |= motion_detail(
                        playing,
                        1.0 / angles.grid.rate_hz,
                        end,
                        band.half_width_deg,
                        cycles[column],
                        figures["blocks"],
                        groups,
                    )
                    figures["angle_half_width_deg"] = sure
                    figures["label"] = angles.labels.get(column)
                    sides.setdefault(side, {})[motion] = figures
        out[setup.name] = sides
    for side, by_motion in ends.items() if phases_of(session, "playing") else ():
        if not any(_playing(session, setup.name, side) for setup in session.setups):
            for motion in by_motion:
                quality.withhold(words(side, motion), "no playing phase holds for it; check the phases' `side`")
    return out


def _group_at(phases: list[Phase], time_s: float) -> Group:
    """Exercise and tempo of the playing at a time."""
    phase = next((p for p in phases if p.start_s <= time_s <= p.end_s), None)
    return (None, None) if phase is None else (phase.exercise, phase.tempo_bpm)


def _playing(session: Session, setup: str, side: str) -> list[Phase]:
    """Playing phases on one set-up that hold for a side (for both sides: those without a side)."""
    return [p for p in phases_of(session, "playing") if session.setup_of(p).name == setup and p.side in (None, side)]
