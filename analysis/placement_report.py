"""A fitting as plain data: what `footroom placement --json` prints and screens read. Strict JSON: null, never NaN."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import numpy as np

from ..logger.models import Side
from .fit import KNOBS, Fit
from .fitting import Fitting
from .measured_fit import Measured, Scored
from .motions import words
from .next_step import Expected, NoSuggestion, Suggestion, suggest
from .placement import PlacementMap, leg_map, placement_map, rooms
from .placement_doubt import rooms_plus_minus_deg
from .placement_edges import Edge, Stretch, reach_stretch, sensitivity, spacing_stretch
from .seated_pose import degrees

CAUTION = (
    "For fit, teaching and research: not a medical device, no diagnosis, no injury prediction. Not a prescription: "
    "within the clear region the person chooses. One small step, a short first trial, back on discomfort, then measure "
    "again."
)
MAP_STEP_CM = 2.0
MAP_HALF_CM = 10.0


def placement_report(fitting: Fitting) -> dict[str, Any]:
    """Rooms, limits, edges, sensitivity, what was learned and the next step, for one set-up."""
    fit, yard = fitting.fit, fitting.yardstick
    sides: list[Side] = [side for side in fit.legs if yard.joints(side)]
    can_map = len(sides) == len(fit.legs)
    answer = suggest(fit, yard, fitting.state)
    grid = _grid(fitting) if can_map else None
    turns = {side: _turn(fit, side) for side in fit.legs}
    return {
        "participant": fitting.person.id,
        "setup": fitting.setup.name,
        "throne_height_cm": fitting.setup.seat_height_cm,
        "throne_settled": fitting.state.throne_settled,
        "way": fit.stroke.way,
        "stands": {
            "spacing_cm": rounded(100.0 * fit.spacing),
            "reach_cm": {side: rounded(100.0 * leg.reach) for side, leg in fit.legs.items()},
        },
        "predicted": {side: _predicted(fitting, side) for side in fit.legs},
        "room_deg": {side: {m: rounded(v) for m, v in rooms(fit, yard, side).items()} for side in sides},
        "room_plus_minus_deg": {
            side: {m: rounded(v) for m, v in rooms_plus_minus_deg(fit, yard, side).items()} for side in sides
        },
        "measured_room_deg": _by_side({joint: rounded(v) for joint, v in fitting.state.measured.items()}),
        "ends": _by_side({j: _end(fitting, j) for j in fitting.ends}),
        "swivel_to_clear_deg": {side: turn for side, (turn, _) in turns.items()},
        "swivel_to_clear": {side: thing for side, (_, thing) in turns.items()},
        "hip_when_swivelled": {side: _hip_when_swivelled(fitting, side) for side in sides if turns[side][0]},
        "reach_cm": {side: stretch_as_json(reach_stretch(fit, yard, side)) for side in sides},
        "spacing_cm": stretch_as_json(spacing_stretch(fit, yard)) if can_map else None,
        "slide_cm": _slide(fitting),
        "without_things": _without_things(fitting, sides, can_map=can_map),
        "sensitivity": {
            knob: {
                "unit": f"deg per {KNOBS[knob].unit}",
                **{s: {m: rounded(v) for m, v in by.items()} for s, by in sided.items()},
            }
            for knob, sided in sensitivity(fit, yard).items()
        },
        "map": None if grid is None else map_as_json(grid),
        "learned": _learned(fitting),
        "suggestion": suggestion_as_json(answer) if isinstance(answer, Suggestion) else None,
        "why_no_suggestion": answer.reason if isinstance(answer, NoSuggestion) else None,
        "notes": list(fitting.notes),
        "caution": CAUTION,
    }


def _without_things(fitting: Fitting, sides: list[Side], *, can_map: bool) -> dict[str, Any] | None:
    """The stretches the joints alone would allow, where drums or stands are known; None where there are none."""
    if not fitting.fit.volumes:
        return None
    fit, yard = replace(fitting.fit, volumes=()), fitting.yardstick
    return {
        "reach_cm": {side: stretch_as_json(reach_stretch(fit, yard, side)) for side in sides},
        "spacing_cm": stretch_as_json(spacing_stretch(fit, yard)) if can_map else None,
    }


def _slide(fitting: Fitting) -> dict[str, Any] | None:
    """Ball to ball as the last slide gave it, beside which the spacing is chosen."""
    if fitting.slide is None:
        return None
    names = ("narrowest_cm", "widest_cm", "plus_minus_cm")
    return {"session": fitting.slide["session"], **{name: rounded(fitting.slide[name]) for name in names}}


def _turn(fit: Fit, side: Side) -> tuple[float | None, str | None]:
    """(least turn of the knee that clears what stands there [deg], None where none does; what that is)."""
    found = fit.clearing(side)
    turn = math.degrees(float(found.turn)) if fit.volumes else 0.0
    return rounded(turn), found.things[int(found.nearest)] if turn else None


def _hip_when_swivelled(fitting: Fitting, side: Side) -> dict[str, Any] | None:
    """What a knee turned to clear a drum leaves the tightest hip motion; None where no hip end is known.

    clear : whether the turn is within the hip's clear range; else the drum, not the hip, is the limit.
    """
    fit, yard = fitting.fit, fitting.yardstick
    here = rooms(fit, yard, side)
    hips = {motion: room for motion, room in here.items() if motion.startswith("hip")}
    if not hips:
        return None
    motion = min(hips, key=lambda one: hips[one] - yard.zones[one])
    at = (np.full((1, 1), 100.0 * value) for value in (fit.legs[side].reach, fit.spacing))
    clear = leg_map(fit, yard, side, *at).leeway[0, 0] >= 0.0
    return {"motion": motion, "room_deg": rounded(hips[motion]), "clear": bool(clear)}


def _grid(fitting: Fitting) -> PlacementMap:
    around = np.arange(-MAP_HALF_CM, MAP_HALF_CM + 0.1, MAP_STEP_CM)
    reach = 100.0 * float(np.mean([leg.reach for leg in fitting.fit.legs.values()]))
    return placement_map(
        fitting.fit, fitting.yardstick, reach_cm=reach + around, spacing_cm=100.0 * fitting.fit.spacing + around
    )


def map_as_json(found: PlacementMap) -> dict[str, Any]:
    """Rows are reaches, columns spacings: room [deg], what limits, clear or not, how far the knee is turned [deg]."""
    out: dict[str, Any] = {
        "reach_cm": [rounded(v) for v in found.reach_cm],
        "spacing_cm": [rounded(v) for v in found.spacing_cm],
        "clear": found.clear.tolist(),
    }
    rows, columns = range(len(found.reach_cm)), range(len(found.spacing_cm))
    for side, leg in found.legs.items():
        out[side] = {
            "spare_room_deg": [[rounded(leg.spare[i, j]) for j in columns] for i in rows],
            "smallest_room_deg": [[rounded(leg.smallest[i, j]) for j in columns] for i in rows],
            "limit": [[leg.what_limits(i, j) for j in columns] for i in rows],
            "clear": leg.clear.tolist(),
            "knee_turned_deg": [[rounded(leg.turn[i, j]) for j in columns] for i in rows],
        }
    return out


def stretch_as_json(found: Stretch) -> dict[str, Any]:
    """Ends of a clear stretch."""
    return {
        "now_cm": rounded(found.now_cm),
        "from": _edge(found.low),
        "to": _edge(found.high),
        "now_is_clear": found.holds_now,
        "reason": found.reason,
    }


def _edge(edge: Edge | None) -> dict[str, Any] | None:
    if edge is None:
        return None
    return {
        "cm": rounded(edge.cm),
        "plus_minus_cm": rounded(edge.plus_minus_cm),
        "looked_cm": rounded(edge.looked_cm),
        "limit": edge.limit,
        "side": edge.side,
        "turned_deg": rounded(edge.turned_deg),
        "turned_for": edge.turned_for,
    }


def suggestion_as_json(found: Suggestion) -> dict[str, Any]:
    """One step with everything it is expected to do."""
    return {
        "knob": found.knob,
        "by": found.by,
        "unit": found.unit,
        "sides": list(found.sides),
        "chance": rounded(found.chance, 2),
        "sentence": suggestion_sentence(found),
        "helps": _expected(found.helps),
        "others": [_expected(one) for one in found.others],
    }


def suggestion_sentence(found: Suggestion) -> str:
    """The step in one plain sentence, with what it costs and what to do afterwards."""
    knob = KNOBS[found.knob]
    whose = "" if not knob.per_foot or len(found.sides) > 1 else f" of the {next(iter(found.sides))} foot"
    way = knob.ups if found.by > 0 else knob.downs
    low, high = found.helps.interval_deg
    costs = [one for one in found.others if one.change_deg < -1.0]
    cost = ""
    if costs:
        worst = costs[0]
        cost = (
            f" It takes about {-worst.change_deg:.0f} degrees from {words(worst.side, worst.motion)} "
            f"({round(worst.room_after_deg)} left)."
        )
    return (
        f"Try the {knob.words}{whose} {abs(found.by):g} {found.unit} {way}: "
        f"{words(found.helps.side, found.helps.motion)} should gain about {found.helps.change_deg:.0f} degrees "
        f"({round(low):+d} to {round(high):+d}, 90 %), from {round(found.helps.room_now_deg)} to "
        f"{round(found.helps.room_after_deg)}.{cost} Then measure again."
    )


def _expected(one: Expected) -> dict[str, Any]:
    return {
        "side": one.side,
        "motion": one.motion,
        "room_now_deg": rounded(one.room_now_deg),
        "room_after_deg": rounded(one.room_after_deg),
        "change_deg": rounded(one.change_deg),
        "interval_deg": [rounded(v) for v in one.interval_deg],
    }


def _predicted(fitting: Fitting, side: Side) -> dict[str, Any]:
    """Joint angles of the model at rest and at the beater's contact [deg]."""
    return {
        name: {angle: rounded(float(value)) for angle, value in degrees(pose).items()}
        for name, pose in fitting.fit.poses(side).items()
    }


def _end(fitting: Fitting, joint: tuple[Side, str]) -> dict[str, Any]:
    end = fitting.ends[joint]
    return {
        "deg": rounded(end.deg),
        "source": end.source,
        "recorded_at": None if end.when is None else end.when.isoformat(),
        "other_height": end.other_height,
        "zone_deg": fitting.yardstick.zones[joint[1]],
    }


def _learned(fitting: Fitting) -> dict[str, Any]:
    score = fitting.score
    return {
        "sessions": len({one.session for one in fitting.measured}),
        "setups": [_measured(one) for one in fitting.measured],
        "held": dict(fitting.learned.holds),
        "corrections": _by_side(
            {
                joint: {
                    "offset_deg": rounded(c.offset_deg),
                    "gain": rounded(c.gain, 3),
                    "observations": c.observations,
                    "sd_deg": rounded(float(c.sd_deg(c.reference_deg))),
                }
                for joint, c in fitting.learned.corrections.items()
            }
        ),
        "score": {
            "predictions": len(score.predictions),
            "rmse_deg": rounded(score.rmse_deg),
            "model_alone_rmse_deg": rounded(score.model_rmse_deg),
            "share_in_90_interval": rounded(score.share_held, 2),
            "of": [_scored(fitting, one) for one in fitting.scored],
        },
    }


def _scored(fitting: Fitting, one: Scored) -> dict[str, Any]:
    """A prediction as room, where the end is known, beside what was measured."""
    end = fitting.ends.get(one.joint)
    made = one.prediction
    low, high = made.interval_deg
    at = None if end is None else end.deg
    return {
        "session": made.session,
        "setup": one.setup,
        "side": one.joint[0],
        "motion": one.joint[1],
        "predicted_room_deg": None if at is None else rounded(at - made.predicted_deg),
        "measured_room_deg": None if at is None else rounded(at - made.measured_deg),
        "interval_room_deg": None if at is None else [rounded(at - high), rounded(at - low)],
        "off_by_deg": rounded(made.predicted_deg - made.measured_deg),
        "in_interval": made.held,
    }


def _measured(one: Measured) -> dict[str, str]:
    return {"session": one.session, "setup": one.setup}


def _by_side(values: Mapping[tuple[Side, str], Any]) -> dict[str, dict[str, Any]]:
    found: dict[str, dict[str, Any]] = {}
    for (side, motion), value in values.items():
        found.setdefault(side, {})[motion] = value
    return found


def rounded(value: float | None, digits: int = 1) -> float | None:
    """Rounded; None where it is not known."""
    if value is None or not np.isfinite(value):
        return None
    return round(float(value), digits) + 0.0
