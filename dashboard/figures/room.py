"""How room is spread over playing time, and its median with a band, one row per set-up."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go

from ..wording import NBSP, degree_span, degrees, number, percent, percent_span
from .theme import ACCENT, INK, SEQUENTIAL, SOFT_INK, axis, axis_title, drawn, level_of

ROW_PX = 112
BAR_HEIGHT = 0.42  # of a row
BELOW = 0.13  # the band's line, below the bars


def rebinned(edges_deg: Sequence[float], shares: Sequence[float], width_deg: float) -> tuple[np.ndarray, np.ndarray]:
    """The histogram in bins of `width_deg` [deg] that start at whole multiples of it.

    Returns the lower edges (m,) [deg] and shares (m,); a bin goes where its middle lies. Nothing is lost:
    the shares keep their sum.
    """
    edges = np.asarray(edges_deg, dtype=float)
    values = np.asarray(shares, dtype=float)
    if values.size == 0:
        return np.empty(0), np.empty(0)
    place = np.floor((edges[:-1] + edges[1:]) / 2 / width_deg + 1e-9).astype(int)
    first = int(place.min())
    total = np.bincount(place - first, weights=values)
    return (first + np.arange(total.size)) * width_deg, total


def room_figure(setups: Sequence[Mapping[str, Any]], zone_deg: float | None) -> go.Figure:
    """Rows of room [deg]: a histogram of playing time, the median as a dot on its 95 % band, sessions as rings.

    setups : per set-up `name`, `median_room_deg`, `band_room_deg` (low, high), `session_rooms_deg`, `edges_deg`,
        `shares` (histogram of room, shares of playing time 0-1; may be empty).
    zone_deg : width of the end zone [deg]; None where there is none.
    """
    binned = [rebinned(one["edges_deg"], one["shares"], 1.0) for one in setups]
    tallest = max((float(shares.max()) for _, shares in binned if shares.size), default=0.0) or 1.0
    low, high = _span(setups, binned, zone_deg or 0.0)
    count = len(setups)
    data: list[dict[str, Any]] = []
    annotations: list[dict[str, Any]] = []
    for position, (one, (edges, shares)) in enumerate(zip(setups, binned, strict=True)):
        base = float(count - 1 - position)
        if shares.size:
            shown = (edges >= low - 1e-9) & (edges < high) & (shares > 0)
            data.append(_bars(one["name"], edges[shown], shares[shown], BAR_HEIGHT / tallest, base, zone_deg or 0.0))
        data += _interval(one["band_room_deg"], one["median_room_deg"], one["session_rooms_deg"], base - BELOW, "°")
        value = f"median {degrees(one['median_room_deg'])}"
        annotations.append(_label(one["name"], value, degree_span(one["band_room_deg"]), base + 0.6))
    bottom, top = -0.3, count - 0.26
    shapes: list[dict[str, Any]] = [
        {"type": "line", "x0": 0, "x1": 0, "y0": bottom, "y1": top, "line": {"color": INK, "width": 1.5}}
    ]
    if zone_deg:
        shape = {"type": "rect", "x0": 0, "x1": zone_deg, "y0": bottom, "y1": top, "layer": "below", "opacity": 0.45}
        shapes.append({**shape, "fillcolor": SEQUENTIAL[0], "line": {"width": 0}})
    ends = f"end zone: less than {degrees(zone_deg, 0)} left" if zone_deg else "the legs touch"
    place = {"x": 0, "xanchor": "left", "y": 1, "yref": "paper", "yanchor": "bottom", "showarrow": False}
    annotations.append({**place, "text": ends, "font": {"size": 12, "color": SOFT_INK}})
    title = axis_title("room: degrees left before the end")
    ticks = {"ticksuffix": "°", "ticks": "outside", "ticklen": 4, "dtick": 5 if high - low < 60 else 10}
    layout = {
        "margin": {"l": 6, "r": 6, "t": 26, "b": 40},
        "barmode": "overlay",
        "bargap": 0,
        "xaxis": axis(range=[low, high], title=title, fixedrange=True, showgrid=False, **ticks),
        "yaxis": axis(visible=False, range=[bottom, top], fixedrange=True),
        "shapes": shapes,
        "annotations": annotations,
    }
    return drawn(data, layout, 62 + ROW_PX * count)


def share_figure(setups: Sequence[Mapping[str, Any]]) -> go.Figure:
    """Rows of the share of playing time near the end [%]: a dot on its 95 % band, sessions as rings.

    setups : per set-up `name`, `share_near_end` (0-1), `band_near_end` (low, high), `session_shares`.
    """
    count = len(setups)
    largest = 0.0
    data: list[dict[str, Any]] = []
    annotations: list[dict[str, Any]] = []
    for position, one in enumerate(setups):
        if one["share_near_end"] is None:
            continue
        base = float(count - 1 - position)
        band = [100 * float(value) for value in one["band_near_end"]]
        sessions = [100 * float(value) for value in one["session_shares"]]
        data += _interval(band, 100 * one["share_near_end"], sessions, base, f"{NBSP}%")
        value = percent(one["share_near_end"])
        annotations.append(_label(one["name"], value, percent_span(one["band_near_end"]), base + 0.44))
        largest = max(largest, band[1], *sessions)
    top = min(100.0, 10.0 * math.ceil((largest + 1) / 10))
    title = axis_title("share of playing time in the end zone")
    ticks = {"ticksuffix": f"{NBSP}%", "ticks": "outside", "ticklen": 4, "nticks": 6}
    layout = {
        "margin": {"l": 6, "r": 6, "t": 4, "b": 40},
        "xaxis": axis(range=[-0.02 * top, top * 1.02], title=title, fixedrange=True, showgrid=False, **ticks),
        "yaxis": axis(visible=False, range=[-0.4, count - 0.32], fixedrange=True),
        "annotations": annotations,
    }
    return drawn(data, layout, 56 + 58 * count)


def _bars(
    name: str, edges: np.ndarray, shares: np.ndarray, scale: float, base: float, zone_deg: float
) -> dict[str, Any]:
    words = [
        f"{number(edge, 0)} to {number(edge + 1, 0)}° left: {percent(share)} of playing time"
        for edge, share in zip(edges, shares, strict=True)
    ]
    colours = [SEQUENTIAL[level_of(edge, zone_deg)] for edge in edges]
    return {
        "type": "bar",
        "name": name,
        "x": (edges + 0.5).tolist(),
        "y": (shares * scale).tolist(),
        "base": base,
        "width": 0.92,
        "marker": {"color": colours, "line": {"width": 0}},
        "customdata": words,
        "hovertemplate": "%{customdata}<extra></extra>",
    }


def _span(
    setups: Sequence[Mapping[str, Any]], binned: Sequence[tuple[np.ndarray, np.ndarray]], zone_deg: float
) -> tuple[float, float]:
    """Range of the axis [deg]: 99 % of playing time, every band, the end and the end zone."""
    lows, highs = [-2.0], [2 * zone_deg]
    for one, (edges, shares) in zip(setups, binned, strict=True):
        lows += [one["band_room_deg"][0], *one["session_rooms_deg"]]
        highs += [one["band_room_deg"][1], *one["session_rooms_deg"]]
        if shares.size and shares.sum() > 0:
            reached = np.cumsum(shares) / shares.sum()
            lows.append(float(edges[np.searchsorted(reached, 0.005)]))
            highs.append(float(edges[min(np.searchsorted(reached, 0.995), edges.size - 1)]) + 1)
    return math.floor(min(lows)) - 0.5, math.ceil(max(highs)) + 0.5


def _interval(
    band: Sequence[float], middle: float, sessions: Sequence[float], y: float, unit: str
) -> list[dict[str, Any]]:
    """The band as a thick line, sessions as rings, the mean as a dot."""
    line = {"type": "scatter", "mode": "lines", "x": list(band), "y": [y, y], "hoverinfo": "skip", "opacity": 0.38}
    parts = [{**line, "line": {"color": ACCENT, "width": 5}}]
    if len(sessions) > 1:
        ring = {"symbol": "circle-open", "size": 8, "color": INK, "line": {"width": 1.2}}
        words = "one session: %{x:.1f}" + unit + "<extra></extra>"
        rings = {"type": "scatter", "mode": "markers", "x": list(sessions), "y": [y] * len(sessions)}
        parts.append({**rings, "marker": ring, "hovertemplate": words})
    dot = {"size": 13, "color": ACCENT, "line": {"color": "white", "width": 2}}
    mean = {"type": "scatter", "mode": "markers", "x": [middle], "y": [y], "marker": dot}
    return [*parts, {**mean, "hovertemplate": "%{x:.1f}" + unit + "<extra></extra>"}]


def _label(name: str, value: str, span: str, y: float) -> dict[str, Any]:
    text = f"<b>{escaped(name)}</b>  {value}  <span style='color:{SOFT_INK}'>({span})</span>"
    place = {"xref": "paper", "x": 1, "xanchor": "right", "y": y, "yanchor": "middle", "align": "right"}
    return {**place, "showarrow": False, "text": text, "font": {"size": 13}}


def escaped(text: str) -> str:
    """Text that a figure shows as it is, never as markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
