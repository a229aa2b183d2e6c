"""Where the clear region ends: nearest and farthest reach, narrowest and widest spacing, with +-; what each knob does.

The +- is 95 % and holds the person's end of range, what is not learned yet about how this person sits, segment lengths,
the tape and, where a knee has to turn, how near the drum really is. It is the spread of spare room at the edge, divided
by how steeply the spare room falls there.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..logger.models import Side
from .fit import KNOBS, Fit
from .keep_clear import OTHER_LEG
from .motions import words
from .placement import (
    MODELLED,
    OUT_OF_REACH,
    LegMap,
    PlacementMap,
    Yardstick,
    leg_map,
    placement_map,
    rooms,
)
from .placement_doubt import THING_SD_CM, Z95, prior_sd_deg, room_sd_deg, spare_sd_deg
from .seated_pose import Array

TAPE_SD_CM = 0.8
"""A distance taken with a tape on a set-up [cm] (ours, as `tape.TAPE_SD_M`)."""
LOOK_CM = 25.0
"""How far to either side an edge is looked for [cm]."""


@dataclass(frozen=True)
class Edge:
    """One end of the clear stretch. cm is None where it lies beyond what was looked at, up to `looked_cm`.

    plus_minus_cm : 95 % [cm]; None where this knob hardly moves what limits. limit : motion, drum or leg that ends it;
    side : whose. turned_deg, turned_for : how far that leg's knee is turned there, outward positive, and to clear what.
    """

    cm: float | None
    plus_minus_cm: float | None
    limit: str | None
    side: Side | None
    looked_cm: float | None = None
    turned_deg: float = 0.0
    turned_for: str | None = None


@dataclass(frozen=True)
class Stretch:
    """The clear stretch of one knob around (or nearest to) where it stands [cm]; None with a reason when there is none.

    now_cm : where it stands. holds_now : whether that is inside.
    """

    knob: str
    side: Side | None
    now_cm: float
    low: Edge | None
    high: Edge | None
    holds_now: bool
    reason: str | None


def reach_stretch(fit: Fit, yardstick: Yardstick, side: Side) -> Stretch:
    """Nearest and farthest reach of one foot at this spacing. Raises ValueError when no end of the side is known."""
    now = 100.0 * fit.legs[side].reach
    line = _line(now, 5.0)

    def maps(apart_m: float) -> dict[Side, LegMap]:
        spacing = np.full((1, 1), 100.0 * fit.spacing)
        return {side: leg_map(fit, yardstick, side, line[:, None], spacing, apart_m=apart_m)}

    return _stretch("reach_cm", side, now, line, maps, fit, yardstick)


def spacing_stretch(fit: Fit, yardstick: Yardstick) -> Stretch:
    """Narrowest and widest spacing at this reach, by both feet. Raises ValueError when a side's ends are unknown."""
    now = 100.0 * fit.spacing
    line = _line(now, 0.0)

    def maps(apart_m: float) -> dict[Side, LegMap]:
        return {
            side: leg_map(fit, yardstick, side, np.full((1, 1), 100.0 * leg.reach), line[:, None], apart_m=apart_m)
            for side, leg in fit.legs.items()
        }

    return _stretch("spacing_cm", None, now, line, maps, fit, yardstick)


def _line(now: float, least: float) -> Array:
    return np.arange(max(now - LOOK_CM, least), now + LOOK_CM + 0.05, 0.1)


Maps = Callable[[float], dict[Side, LegMap]]
"""Maps of a line by how far legs keep from what stands there [m]."""


def _stretch(
    knob: str, side: Side | None, now: float, line: Array, maps_at: Maps, fit: Fit, yardstick: Yardstick
) -> Stretch:
    maps = maps_at(0.0)
    clear = np.logical_and.reduce([found.clear[:, 0] for found in maps.values()])
    here = int(np.argmin(np.abs(line - now)))
    if not clear.any():
        limit, whose = _tightest(maps, here)
        if limit == OUT_OF_REACH:
            where = "a leg is out of reach"
        elif limit in MODELLED:
            where = f"{words(whose, limit)} stays in its end zone"
        elif limit == OTHER_LEG:
            where = "the legs are in each other's way"
        else:
            where = f"{limit} is in the way of the {whose} leg, however far its knee turns before the hip's end zone"
        return Stretch(knob, side, now, None, None, False, f"nowhere within {LOOK_CM:g} cm is clear: {where}")
    inside = np.flatnonzero(clear)
    start = int(inside[np.argmin(np.abs(inside - here))])
    first = last = start
    while first > 0 and clear[first - 1]:
        first -= 1
    while last < len(line) - 1 and clear[last + 1]:
        last += 1
    edges = [
        _edge(line, maps_at, maps, index, beyond, fit, yardstick)
        for index, beyond in ((first, first - 1), (last, last + 1))
    ]
    nearest = edges[0] if here < first else edges[1]
    if not clear[here] and nearest.plus_minus_cm is None:
        limit, whose = _tightest(maps, here)
        what = words(whose, limit) if limit in MODELLED else f"{limit} ({whose} leg)"
        return Stretch(knob, side, now, None, None, False, f"{what} is the limit here and hardly depends on this")
    return Stretch(knob, side, now, edges[0], edges[1], bool(clear[here]), None)


def _tightest(maps: dict[Side, LegMap], index: int) -> tuple[str, Side]:
    """What limits at one place of a line, and whose: the leg with the least spare room or clearance first."""

    def tight(side: Side) -> float:
        found = maps[side]
        return min(float(np.nan_to_num(found.spare[index, 0], nan=-1e9)), float(found.leeway[index, 0]))

    whose = min(maps, key=tight)
    return maps[whose].what_limits(index, 0), whose


def _edge(
    line: Array, maps_at: Maps, maps: dict[Side, LegMap], index: int, beyond: int, fit: Fit, yardstick: Yardstick
) -> Edge:
    if not 0 <= beyond < len(line):
        return Edge(None, None, None, None, looked_cm=float(line[index]))
    limit, whose = _tightest(maps, beyond)
    found = maps[whose]
    if limit == OUT_OF_REACH:
        return Edge(float(line[index]), Z95 * math.hypot(TAPE_SD_CM, 200.0 * fit.body.length_sd), limit, whose)
    motion = limit if limit in found.limits else _hip_at(found, yardstick, beyond)
    value = 100.0 * found.clearance if motion is None else found.room[motion] - yardstick.zones[motion]
    inner, outer = float(value[index, 0]), float(value[beyond, 0])
    step = float(line[beyond] - line[index])
    share = min(max(inner / (inner - outer), 0.0), 1.0) if inner > outer else 0.0
    edge = Edge(
        float(line[index]) + share * step,
        Z95 * THING_SD_CM,
        limit,
        whose,
        turned_deg=float(found.turn[index, 0]),
        turned_for=found.turned_for(index, 0),
    )
    if motion is None:
        return edge
    slope = max(abs((inner - outer) / step), 0.05)
    room = found.room[motion]
    spread = float(room_sd_deg(yardstick, (whose, motion), room[index, 0], prior_sd_deg(fit, whose)[motion]))
    thing_cm = 0.0
    if found.turn[beyond, 0]:  # how far the edge goes in where the drum is nearer
        nearer = maps_at(THING_SD_CM / 100.0)[whose]
        inward = np.arange(index, -1, -1) if beyond > index else np.arange(index, len(line))
        holds = (nearer.room[motion][inward, 0] >= yardstick.zones[motion]) & (nearer.clearance[inward, 0] >= 0.0)
        thing_cm = abs(float(line[inward[np.argmax(holds)]] - line[index])) if holds.any() else LOOK_CM
    half = Z95 * math.hypot(spread / slope, TAPE_SD_CM, thing_cm)
    return replace(edge, plus_minus_cm=half if half <= LOOK_CM else None)


def _hip_at(found: LegMap, yardstick: Yardstick, index: int) -> str | None:
    """The hip's motion that a knee turned to clear a drum takes into its end zone; None where no turn clears it."""
    left = {
        motion: float(found.room[motion][index, 0]) - yardstick.zones[motion]
        for motion in found.limits
        if motion.startswith("hip")
    }
    least = min(left, key=lambda motion: left[motion], default=None)
    return least if least is not None and found.turn[index, 0] and left[least] < 0.0 else None


def borders(found: PlacementMap, fit: Fit, yardstick: Yardstick, sides: Sequence[Side]) -> list[Array]:
    """What is positive in the clear region of some legs, (reaches, spacings): as expected, surely and possibly (95 %).

    The least of spare room [deg] and clearance [cm]; surely: with less room and every drum nearer.
    """
    out = []
    for shift in (0.0, Z95, -Z95):
        apart = shift * THING_SD_CM / 100.0
        place = {"reach_cm": found.reach_cm, "spacing_cm": found.spacing_cm}
        shifted = placement_map(fit, yardstick, apart_m=apart, **place) if shift else found
        depths = []
        for side in sides:
            leg = shifted.legs[side]
            sd = spare_sd_deg(leg, fit, yardstick, side) if shift else 0.0
            depths += [leg.spare - shift * sd, np.where(leg.turn, np.inf, 100.0 * leg.clearance)]
        out.append(np.minimum.reduce(depths))
    return out


def sensitivity(fit: Fit, yardstick: Yardstick) -> dict[str, dict[Side, dict[str, float]]]:
    """Change of room for one unit more of each knob, both feet at once: {knob: {side: {motion: deg per unit}}}."""
    out: dict[str, dict[Side, dict[str, float]]] = {}
    for knob in KNOBS:
        up, down = fit.moved(knob, 0.5), fit.moved(knob, -0.5)
        out[knob] = {}
        for side in fit.legs:
            more, less = rooms(up, yardstick, side), rooms(down, yardstick, side)
            out[knob][side] = {motion: more[motion] - less[motion] for motion in more}
    return out
