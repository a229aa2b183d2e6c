"""The placement map: spare room over reach and spacing, the clear region with how sure its border is, what limits."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from scipy import ndimage

from ...analysis.placement import OUT_OF_REACH, PlacementMap
from ...analysis.placement_table import turn_words
from ...logger.models import Side
from ..wording import degrees, motion_title
from .theme import ACCENT, INK, SEQUENTIAL, SOFT_INK, axis, axis_title, plain

LEVELS_DEG = (-5.0, 0.0, 5.0)
"""Steps of the scale: spare room, that is room less the width of the end zone [deg]."""
SCALE = SEQUENTIAL[::-1]
NAMED_SHARE = 0.05
"""What limits less of the map than this is not written into it."""
MARK_TRIED = 1
"""Index of the trace that follows the sliders."""
TOUCHED = "rgba(120, 110, 95, 0.45)"
TOUCHED_WORDS = "a leg touches what stands there, however its knee turns within the hip's clear range"
HEIGHT, TOP, BOTTOM = 400, 8, 44
"""Of the map, and its margins [px]."""
LINES_PX = 40
"""Two lines of a name in their box [px]."""
Array = np.ndarray


def tightest(found: PlacementMap, sides: Sequence[Side]) -> tuple[Array, Array, Array]:
    """(spare room [deg], leeway, index of the side with least), each (reaches, spacings); NaN out of reach."""
    spare = np.stack([found.legs[side].spare for side in sides])
    leeway = np.min(np.stack([found.legs[side].leeway for side in sides]), axis=0)
    least = np.min(spare, axis=0)  # NaN where any leg does not reach
    whose = np.argmin(np.where(np.isfinite(spare), spare, np.inf), axis=0)
    return least, leeway, whose


def limits(found: PlacementMap, sides: Sequence[Side]) -> tuple[Array, Array]:
    """What limits at every position, (reaches, spacings) of words: the tightest joint, and what a leg touches there.

    `Right ankle, toes up` and `the snare drum (right leg)`; the second is empty where nothing is touched.
    """
    spare, _, whose = tightest(found, sides)
    joints = np.full(spare.shape, OUT_OF_REACH, dtype=object)
    touched = np.full(spare.shape, "", dtype=object)
    for row, column in np.argwhere(np.isfinite(spare)):
        side = sides[int(whose[row, column])]
        leg = found.legs[side]
        joints[row, column] = limit_words(side, leg.limits[int(leg.limit[row, column])])
        for other in sides:
            leg = found.legs[other]
            if leg.leeway[row, column] < 0.0:
                touched[row, column] = limit_words(other, leg.things[int(leg.nearest[row, column])])
    return joints, touched


def turned(found: PlacementMap, sides: Sequence[Side]) -> Array:
    """Whose knee is turned how far at every position, and for what: `right knee turned out 8° to clear the snare`."""
    told = np.full(found.clear.shape, "", dtype=object)
    for side in sides:
        leg = found.legs[side]
        for row, column in np.argwhere((leg.turn != 0.0) & np.isfinite(leg.spare)):
            said = turn_words(float(leg.turn[row, column]), str(leg.turned_for(row, column)), "°")
            told[row, column] += f"<br>{side} {said}"
    return told


def limit_words(side: str | None, limit: str | None) -> str:
    """`Right ankle, toes up`, `the snare drum (right leg)`, `out of reach`."""
    if limit is None or limit == OUT_OF_REACH:
        return OUT_OF_REACH
    if "_" in limit:
        return motion_title(side or "both", limit)
    return f"{limit} ({side} leg)"


def map_figure(
    found: PlacementMap,
    sides: Sequence[Side],
    borders: Sequence[Array],
    now: tuple[float, float],
    tried: tuple[float, float] | None = None,
) -> dict[str, Any]:
    """Spare room as filled steps, the clear region outlined, its border's 95 % dashed, names where each joint limits.

    The first two traces are the marks (`MARK_TRIED` is the one that moves), drawn above the others all the same.

    sides : whose room; of several the least. borders : what is positive in the clear region, and at the two ends of its
    95 % (`placement_edges.borders`).
    now, tried : (spacing, reach) where the pedals stand and where the sliders are [cm].
    """
    spare, leeway, _ = tightest(found, sides)
    joints, things = limits(found, sides)
    turns = turned(found, sides)
    x, y = found.spacing_cm.tolist(), found.reach_cm.tolist()
    data = [
        _mark(now, "now", "circle", "white"),
        tried_mark(now, tried or now),
        _fill(x, y, spare, np.where(things == "", joints, things) + turns),
    ]
    data += _lines(x, y, borders)
    touched = leeway[np.isfinite(leeway)] < 0.0
    everywhere = bool(touched.size and touched.all())
    named = joints if everywhere else np.where(things == "", joints, "")
    if touched.any() and not everywhere:
        data.append(_touched(x, y, leeway))
    layout = {
        "margin": {"l": 46, "r": 8, "t": TOP, "b": BOTTOM},
        "xaxis": axis(title=axis_title("spacing, ball to ball [cm]"), range=[x[0], x[-1]], fixedrange=True, dtick=4),
        "yaxis": axis(title=axis_title("reach, hip to ankle [cm]"), range=[y[0], y[-1]], fixedrange=True, dtick=4),
        "annotations": placed_apart(
            [*_names(x, y, named, now), *_thing_names(x, y, things, now, everywhere=everywhere)], x, y
        ),
        "uirevision": "map",
    }
    return plain(data, layout, HEIGHT)


def tried_mark(now: tuple[float, float], tried: tuple[float, float]) -> dict[str, Any]:
    """Where the sliders are, (spacing, reach) [cm]; not shown while that is where the pedals stand."""
    away = max(abs(tried[0] - now[0]), abs(tried[1] - now[1])) > 0.05
    return {**_mark(tried, "tried", "diamond", ACCENT), "visible": away}


def _fill(x: list[float], y: list[float], spare: Array, named: Array) -> dict[str, Any]:
    """Filled steps; deepest past the end, lightest with room to spare."""
    half = (LEVELS_DEG[1] - LEVELS_DEG[0]) / 2.0
    low, high = LEVELS_DEG[0] - half, LEVELS_DEG[-1] + half
    colours = [[index / (len(SCALE) - 1), colour] for index, colour in enumerate(SCALE)]
    words = [[str(named[i, j]) for j in range(len(x))] for i in range(len(y))]
    return {
        "type": "contour",
        "x": x,
        "y": y,
        "z": [[None if not np.isfinite(v) else round(float(v), 2) for v in row] for row in spare],
        "text": words,
        "contours": {"start": LEVELS_DEG[0], "end": LEVELS_DEG[-1], "size": 5.0, "coloring": "fill"},
        "line": {"width": 0},
        "colorscale": colours,
        "zmin": low,
        "zmax": high,
        "showscale": False,
        "connectgaps": False,
        "hovertemplate": "spacing %{x:.0f}, reach %{y:.0f} cm<br>%{z:.0f}° before the end zone<br>"
        "%{text}<extra></extra>",
    }


def _lines(x: list[float], y: list[float], borders: Sequence[Array]) -> list[dict[str, Any]]:
    """The border of the clear region, and its 95 % inward and outward."""
    lines = []
    for z, dash, width in zip(borders, ("solid", "dash", "dash"), (2.5, 1.3, 1.3), strict=True):
        if not np.any(z > 0.0) or not np.any(z < 0.0):
            continue
        lines.append(
            {
                "type": "contour",
                "x": x,
                "y": y,
                "z": [[None if not np.isfinite(v) else round(float(v), 2) for v in row] for row in z],
                "contours": {"start": 0.0, "end": 0.0, "size": 1.0, "coloring": "none"},
                "line": {"color": INK, "width": width, "dash": dash},
                "showscale": False,
                "hoverinfo": "skip",
            }
        )
    return lines


def _touched(x: list[float], y: list[float], leeway: Array) -> dict[str, Any]:
    """Where a drum, a stand or the other leg is the limit: plotly.js shades what does not keep a constraint."""
    return {
        "type": "contour",
        "x": x,
        "y": y,
        "z": [[None if not np.isfinite(v) else round(float(min(v, 50.0)), 2) for v in row] for row in leeway],
        "contours": {"type": "constraint", "operation": ">=", "value": 0.0},
        "fillcolor": TOUCHED,
        "line": {"color": INK, "width": 1.3, "dash": "dot"},
        "showscale": False,
        "hoverinfo": "skip",
    }


def _mark(place: tuple[float, float], words: str, symbol: str, colour: str) -> dict[str, Any]:
    return {
        "type": "scatter",
        "mode": "markers+text",
        "x": [place[0]],
        "y": [place[1]],
        "text": [words],
        "textposition": "top right",
        "textfont": {"color": INK, "size": 13, "weight": 600},
        "marker": {"symbol": symbol, "size": 12, "color": colour, "line": {"color": INK, "width": 2}},
        "hovertemplate": f"{words}: spacing %{{x:.1f}}, reach %{{y:.1f}} cm<extra></extra>",
    }


def _thing_names(
    x: list[float], y: list[float], things: Array, now: tuple[float, float], *, everywhere: bool
) -> list[dict[str, Any]]:
    """What is touched: written where it is, or once at the top when there is no place without."""
    if not everywhere:
        return _names(x, y, things, now)
    known = [words for words in things.ravel().tolist() if words]
    words = f"everywhere touching {max(set(known), key=known.count)}"
    place = {"x": 0.5, "xref": "paper", "y": 1.0, "yref": "paper", "yanchor": "top", "showarrow": False}
    return [{**place, **_BOX, "text": words, "font": {"size": 12, "color": INK}}]


_BOX = {"bgcolor": "rgba(255, 253, 249, 0.78)", "borderpad": 2}


def _names(x: list[float], y: list[float], named: Array, now: tuple[float, float]) -> list[dict[str, Any]]:
    """What limits, written into the largest piece of each region, at the place deepest inside it."""
    out = []
    for words in sorted(set(named.ravel().tolist()) - {""}):
        here = named == words
        pieces, count = ndimage.label(here)
        if not count or here.mean() < NAMED_SHARE:
            continue
        largest = 1 + int(np.argmax(ndimage.sum_labels(here, pieces, range(1, count + 1))))
        inside = ndimage.distance_transform_edt(np.pad(pieces == largest, 1))[1:-1, 1:-1]
        row, column = np.unravel_index(int(np.argmax(inside)), inside.shape)
        text = "<br>".join(words.split(", ")) if len(words) > 16 else words
        place = {"x": x[int(column)], "y": y[int(row)], "showarrow": False}
        near = abs(place["x"] - now[0]) < 5.0 and abs(place["y"] - now[1]) < 2.5
        out.append(
            {**place, **_BOX, "text": text, "yshift": -28 if near else 0, "font": {"size": 12, "color": SOFT_INK}}
        )
    return out


def placed_apart(names: list[dict[str, Any]], x: list[float], y: list[float]) -> list[dict[str, Any]]:
    """Names that would cover one before them, moved below it."""
    px_per_cm = (HEIGHT - TOP - BOTTOM) / (y[-1] - y[0])
    placed: list[tuple[float, float]] = []
    for name in names:
        if "xref" in name:
            continue
        lower = placed_px = -px_per_cm * name["y"] - name["yshift"]
        while any(abs(name["x"] - a) < 0.45 * (x[-1] - x[0]) and abs(lower - b) < LINES_PX for a, b in placed):
            lower += LINES_PX / 4.0
        name["yshift"] -= lower - placed_px
        placed.append((name["x"], lower))
    return names


def scale_words() -> list[tuple[str, str]]:
    """The steps of the scale, from least room to most: (colour, words)."""
    low, high = degrees(-LEVELS_DEG[0], 0), degrees(LEVELS_DEG[-1], 0)
    names = (
        f"more than {low} into the end zone",
        "in the end zone",
        f"up to {high} before the end zone",
        f"more than {high} before it",
    )
    return list(zip(SCALE, names, strict=True))
