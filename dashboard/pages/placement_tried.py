"""What the Placement page shows for the sliders' values: drawings, map and readings. Pure: no page, no logbook."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from dash import html

from ...analysis.fit import Fit
from ...analysis.fitting import Fitting
from ...analysis.placement import Yardstick, placement_map, rooms
from ...analysis.placement_doubt import rooms_plus_minus_deg
from ...analysis.placement_edges import borders
from ...analysis.placement_table import turn_words
from ...logger.models import Side
from ..figures.placement_map import map_figure
from ..figures.seated import side_view, top_view
from ..figures.svg import as_address
from ..figures.theme import level_of
from ..wording import MOTION_WORDS, NBSP, degrees, motion_title, number, sentence
from .shell import table

STEP_CM, HALF_CM = 1.0, 12.0
"""The map's positions: this far apart, and this far to either side of where the pedals stand [cm]."""
SLIDERS: dict[str, tuple[float, float]] = {
    "throne_height_cm": (8.0, 0.5),
    "reach_cm": (12.0, 0.5),
    "spacing_cm": (12.0, 0.5),
    "footboard_pitch_deg": (10.0, 1.0),
    "foot_splay_deg": (20.0, 1.0),
}
"""{knob: (how far to either side, step)}."""
IN_THE_MAP = ("reach_cm", "spacing_cm")

Rooms = dict[Side, dict[str, float]]


@dataclass(frozen=True)
class Tried:
    """What the sliders show: two drawings as addresses, the map, and the readings in words."""

    side: str
    top: str
    figure: Any
    reading: list[Any]
    table: Any


def slider_values(fit: Fit, feet: str = "both") -> dict[str, float]:
    """Where the knobs stand, in their own units. feet : both, right or left; of two feet the mean."""
    legs = [leg for side, leg in fit.legs.items() if feet in ("both", side)]
    return {
        "throne_height_cm": 100.0 * fit.seat.height,
        "reach_cm": 100.0 * float(np.mean([leg.reach for leg in legs])),
        "spacing_cm": 100.0 * fit.spacing,
        "footboard_pitch_deg": float(np.degrees(np.mean([leg.pedal.pitch for leg in legs]))),
        "foot_splay_deg": float(np.degrees(np.mean([leg.pedal.splay for leg in legs]))),
    }


def tried(fitting: Fitting, values: Mapping[str, float], feet: str) -> Tried:
    """Everything that is redrawn when a slider moves. feet : both, right or left, whose pedal moves. Pure."""
    fit, yard = fitting.fit, fitting.yardstick
    stands = slider_values(fit, feet)
    whose: tuple[Side, ...] = tuple([side for side in fit.legs if feet in ("both", side)])
    moved = fit
    for knob, value in values.items():
        by = value - stands[knob]
        if abs(by) > 0.051:  # a slider holds its value rounded
            moved = moved.moved(knob, by, whose)
    sides: list[Side] = [side for side in fit.legs if feet in ("both", side) and yard.joints(side)]
    shown: Side = sides[0] if sides else next(iter(fit.legs))
    now: Rooms = {side: rooms(fit, yard, side) for side in sides}
    here: Rooms = {side: rooms(moved, yard, side) for side in sides}
    told, listed = _reading(now, here, yard, moved, shown)
    return Tried(
        side=as_address(side_view(moved, shown, _joint_words(here.get(shown, {})))),
        top=as_address(top_view(moved, {side: _level(here[side], yard) for side in sides})),
        figure=_map(moved, yard, sides, stands, values) if sides else None,
        reading=told,
        table=listed,
    )


def _map(fit: Fit, yard: Yardstick, sides: list[Side], stands: Mapping[str, float], values: Mapping[str, float]) -> Any:
    around = np.arange(-HALF_CM, HALF_CM + 0.1, STEP_CM)
    reach, spacing = np.round(stands["reach_cm"]) + around, np.round(stands["spacing_cm"]) + around
    found = placement_map(fit, yard, reach_cm=reach, spacing_cm=spacing)
    here = {knob: values.get(knob, stands[knob]) for knob in ("spacing_cm", "reach_cm")}
    now = (stands["spacing_cm"], stands["reach_cm"])
    tried = (here["spacing_cm"], here["reach_cm"])
    return map_figure(found, sides, borders(found, fit, yard, sides), now, tried)


def _level(room: Mapping[str, float], yard: Yardstick) -> int:
    """The deepest step of the scale that any joint is in."""
    known = [(value, yard.zones[motion]) for motion, value in room.items() if np.isfinite(value)]
    return max((level_of(value, zone) for value, zone in known), default=0)


def _joint_words(room: Mapping[str, float]) -> dict[str, str]:
    """What to write at hip and ankle of the side drawing: the tighter motion and its room, `knee outward: 20° left`."""
    said = {}
    for joint in ("hip", "ankle"):
        known = {motion: value for motion, value in room.items() if motion.startswith(joint) and np.isfinite(value)}
        if known:
            tighter = min(known, key=lambda motion: known[motion])
            said[joint] = f"{MOTION_WORDS[tighter][1]}: {degrees(known[tighter], 0)} left"
    return said


def _reading(now: Rooms, here: Rooms, yard: Yardstick, fit: Fit, shown: Side) -> tuple[list[Any], Any]:
    rows, tightest = [], None
    for side, motions in here.items():
        for motion, room in motions.items():
            spare = room - yard.zones[motion]
            if np.isfinite(spare) and (tightest is None or spare < tightest[0]):
                tightest = (spare, side, motion, room)
            change = room - now[side][motion]
            gain = "no change" if abs(change) < 0.05 else ("+" if change > 0 else "") + degrees(change)
            rows.append([motion_title(side, motion), degrees(now[side][motion]), degrees(room), gain])
    if tightest is None:
        told = html.P("Not known here: a leg does not reach its pedal, or no end of range is known.")
    else:
        spare, side, motion, room = tightest
        where = "clear of its end zone" if spare >= 0 else "in its end zone" if room >= 0 else "past its end"
        off = rooms_plus_minus_deg(fit, yard, side)[motion]
        left = (
            f"{number(room)}{NBSP}±{NBSP}{degrees(off)} left (95{NBSP}%)"
            if np.isfinite(off)
            else f"{degrees(room)} left"
        )
        told = html.P([html.Strong(motion_title(side, motion)), f" is tightest: {left}, {where}."])
    rest = fit.poses(shown)["rest"]
    slope, trunk, knee = (float(np.degrees(v)) for v in (rest.thigh_slope, rest.torso_thigh, rest.knee_flexion))
    way = "up" if slope > 0 else "down"
    posture = (
        f"{shown.capitalize()} leg at rest: thigh {degrees(abs(slope), 0)} {way} to the knee, "
        f"trunk to thigh {degrees(trunk, 0)}, knee bent {degrees(knee, 0)}."
        if np.isfinite(knee)
        else ""
    )
    turns = [f"{sentence(side)} {said}." for side in here if (said := _turn_words(fit, side))]
    head = ["Joint", "Room now", "Room here", "Change"]
    words = "As the model expects it; measure to know."
    return [told, *map(html.P, turns), html.P(posture, className="how")], table(words, head, rows)


def _turn_words(fit: Fit, side: Side) -> str | None:
    """`knee turned out 8° to clear the snare drum`, `leg touches the snare drum ...`; None where nothing is touched."""
    found = fit.clearing(side)
    thing, turn = found.things[int(found.nearest)], float(np.degrees(found.turn))
    if not np.isfinite(turn):
        return f"leg touches {thing} however its knee is turned"
    return turn_words(turn, thing, "°") if turn else None


def drawn_over(values: Mapping[str, float], feet: str) -> list[Any]:
    """What the map depends on: all but the two that it is drawn over."""
    return [feet, *(value for knob, value in values.items() if knob not in IN_THE_MAP)]
