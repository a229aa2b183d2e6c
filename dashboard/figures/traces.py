"""Angles over a session, thinned to what a screen can show, with end zones, phases and set-ups marked."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray

from ..wording import clock, degrees
from .room import escaped
from .theme import ACCENT, INK, SEQUENTIAL, axis, axis_title, drawn

Floats = NDArray[np.floating[Any]]
POINTS = 1500
SHORTEST_GAP_S = 0.1
PANEL_PX = 225
STRIP_PX = 26
TOP_PX, BOTTOM_PX = 8, 46
TICK_STEPS_S = (0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600)


@dataclass(frozen=True)
class End:
    """One end of the active range in an angle's own sign [deg]; `direction` +1 when larger angles are nearer to it."""

    angle_deg: float
    zone_deg: float
    direction: int
    words: str


@dataclass(frozen=True)
class Span:
    """A phase on the time axis [s]; `label` is empty where nothing is written."""

    start_s: float
    end_s: float
    label: str = ""
    playing: bool = True


def thin(
    time_s: Floats, values: Floats, points: int = POINTS, window_s: tuple[float, float] | None = None
) -> tuple[Floats, Floats]:
    """At most about `points` samples that look the same as all of them, within `window_s` [s].

    Highest and lowest samples are kept (MinMax + largest triangles). Where nothing is known for longer than
    0.1 s and than one point's width, a NaN stands between the samples around it: the line breaks there.
    time_s : (n,) increasing [s].  values : (n,), NaN where unknown.  Returns (m,) times [s] and (m,) values.
    """
    from tsdownsample import MinMaxLTTBDownsampler

    if window_s is not None:
        first, last = np.searchsorted(time_s, window_s)
        cut = slice(max(int(first) - 1, 0), int(last) + 1)
        time_s, values = time_s[cut], values[cut]
    known = np.isfinite(values)
    if not known.any():
        return time_s[:0], values[:0]
    if not known.all():
        time_s, values = time_s[known], values[known]
    steps = np.diff(time_s)
    pixel_s = float(time_s[-1] - time_s[0]) / max(points, 1)
    breaks = np.flatnonzero(steps > max(SHORTEST_GAP_S, pixel_s))
    if time_s.size <= points:
        chosen = np.arange(time_s.size)
    else:
        picked = MinMaxLTTBDownsampler().downsample(
            np.ascontiguousarray(time_s), np.ascontiguousarray(values), n_out=points
        )
        chosen = np.union1d(picked.astype(np.int64), np.concatenate([breaks, breaks + 1]))
    x, y = time_s[chosen], values[chosen]
    after = np.searchsorted(chosen, breaks) + 1
    return np.insert(x, after, np.nan), np.insert(y, after, np.nan)


def trace_figure(
    time_s: Floats,
    columns: Mapping[str, Floats],
    ends: Mapping[str, Sequence[End]],
    spans: Sequence[Span],
    titles: Mapping[str, str],
    window_s: tuple[float, float] | None = None,
    points: int = POINTS,
) -> go.Figure:
    """One panel per angle column over time, end zones shaded, under a strip that names the phases.

    time_s : (n,) [s].  columns : name -> (n,) [deg].  ends, titles : per column name.  spans : phases.
    window_s : what is shown [s]; all when None.  Traces come in the order of `columns`, then the strip's names.
    """
    whole = (float(time_s[0]), float(time_s[-1])) if time_s.size else (0.0, 1.0)
    window = window_s or whole
    names = list(columns)
    height = trace_height(len(names))
    plot_px = height - TOP_PX - BOTTOM_PX
    ticks, words = time_ticks(window)
    time_axis = {"range": list(window), "showgrid": False, "tickvals": ticks, "ticktext": words}
    data: list[dict[str, Any]] = []
    shapes: list[dict[str, Any]] = [_strip(span) for span in spans]
    annotations: list[dict[str, Any]] = []
    top = (plot_px - STRIP_PX) / plot_px
    layout: dict[str, Any] = {
        "margin": {"l": 44, "r": 8, "t": TOP_PX, "b": BOTTOM_PX},
        "dragmode": "zoom",
        "hovermode": "closest",
        "xaxis": axis(**time_axis, anchor="y", showline=False, ticks="", showticklabels=False),
        "yaxis": axis(domain=[top, 1], anchor="x", visible=False, range=[0, 1], fixedrange=True),
    }
    for row, name in enumerate(names, start=2):
        x, y = thin(time_s, columns[name], points, window)
        line = {"type": "scatter", "mode": "lines", "x": x, "y": y.astype(np.float32)}
        line |= {"xaxis": f"x{row}", "yaxis": f"y{row}", "connectgaps": False, "line": {"color": ACCENT, "width": 0.9}}
        data.append({**line, "hovertemplate": "%{y:.1f}° at %{x:.1f} s<extra></extra>"})
        low, high = _limits(columns[name], ends.get(name, ()))
        _add_zones(shapes, annotations, ends.get(name, ()), row, low, high)
        above = top * (1 - (row - 2) / len(names))
        below = top * (1 - (row - 1) / len(names))
        last = row == len(names) + 1
        layout[f"yaxis{row}"] = axis(
            domain=[below + (0 if last else 10 / plot_px), above - 28 / plot_px],
            anchor=f"x{row}",
            range=[low, high],
            ticksuffix="°",
            fixedrange=True,
            nticks=5,
        )
        layout[f"xaxis{row}"] = axis(
            **time_axis, anchor=f"y{row}", matches="x", ticks="outside", ticklen=4, showticklabels=last
        )
        place = {"xref": "paper", "x": 0, "xanchor": "left", "yref": f"y{row} domain", "y": 1, "yanchor": "bottom"}
        text = {"text": f"<b>{escaped(titles.get(name, name))}</b>", "font": {"size": 13, "color": INK}}
        annotations.append({**place, **text, "showarrow": False})
    layout[f"xaxis{len(names) + 1}"]["title"] = axis_title("time in the recording [min:s]")
    places, labels = phase_labels(spans, window)
    strip = {"type": "scatter", "mode": "text", "xaxis": "x", "yaxis": "y", "textfont": {"size": 12}}
    data.append({**strip, "x": places, "y": [0.5] * len(places), "text": labels, "hoverinfo": "skip"})
    return drawn(data, {**layout, "shapes": shapes, "annotations": annotations}, height)


def _strip(span: Span) -> dict[str, Any]:
    place = {"type": "rect", "xref": "x", "yref": "y domain", "x0": span.start_s, "x1": span.end_s, "y0": 0, "y1": 1}
    look = (
        {"fillcolor": SEQUENTIAL[1], "opacity": 0.75} if span.playing else {"fillcolor": SEQUENTIAL[0], "opacity": 0.6}
    )
    return {**place, **look, "layer": "below", "line": {"width": 1, "color": "white"}}


def time_ticks(window_s: tuple[float, float], most: int = 6) -> tuple[list[float], list[str]]:
    """Places [s] and words (`12:30`, with tenths where they matter) of at most about `most` ticks."""
    width = window_s[1] - window_s[0]
    step = next((one for one in TICK_STEPS_S if width / one <= most), TICK_STEPS_S[-1])
    first = math.ceil(window_s[0] / step - 1e-9)
    places = [round(step * count, 3) for count in range(first, math.floor(window_s[1] / step + 1e-9) + 1)]
    return places, [_tick_words(place) for place in places]


def _tick_words(place_s: float) -> str:
    fraction = f"{place_s % 1:.2f}".rstrip("0").lstrip("0").rstrip(".")
    return clock(math.floor(place_s)) + fraction


def trace_height(panels: int) -> int:
    """Height of the figure with that many panels [px]."""
    return TOP_PX + BOTTOM_PX + STRIP_PX + PANEL_PX * panels


def phase_labels(spans: Sequence[Span], window_s: tuple[float, float]) -> tuple[list[float], list[str]]:
    """Where [s] and what to write on the strip: each name in the middle of what is seen of its span.

    Names wider than their span are left out (a letter is taken as 1.1 % of the width).
    """
    width = window_s[1] - window_s[0]
    places, labels = [], []
    for span in spans:
        start, end = max(span.start_s, window_s[0]), min(span.end_s, window_s[1])
        if span.label and end - start > 0.011 * width * len(span.label):
            places.append((start + end) / 2)
            labels.append(escaped(span.label))
    return places, labels


def _limits(values: Floats, ends: Sequence[End]) -> tuple[float, float]:
    """Range of a panel [deg]: everything played and, where it is not far off, the end with its zone."""
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    for end in ends:
        edge = end.angle_deg - end.direction * end.zone_deg
        far = edge - high if end.direction > 0 else low - edge
        if far < 20:
            low, high = min(low, end.angle_deg), max(high, end.angle_deg)
    margin = max(1.5, 0.12 * (high - low))
    return low - margin, high + margin * 1.6


def _add_zones(
    shapes: list[dict[str, Any]],
    annotations: list[dict[str, Any]],
    ends: Sequence[End],
    row: int,
    low: float,
    high: float,
) -> None:
    """Shade the end zone and what is past the end, within `low` to `high` [deg] of panel `row`."""
    for end in ends:
        inner = end.angle_deg - end.direction * end.zone_deg
        beyond = high if end.direction > 0 else low
        for y0, y1, level, opacity in ((inner, end.angle_deg, 1, 0.42), (end.angle_deg, beyond, 2, 0.5)):
            y0, y1 = max(min(y0, y1), low), min(max(y0, y1), high)
            if y1 > y0:
                place = {"type": "rect", "xref": "paper", "x0": 0, "x1": 1, "yref": f"y{row}", "y0": y0, "y1": y1}
                look = {"layer": "below", "fillcolor": SEQUENTIAL[level], "opacity": opacity, "line": {"width": 0}}
                shapes.append({**place, **look})
        if low < end.angle_deg < high:
            side = "bottom" if end.direction > 0 else "top"
            place = {"xref": "paper", "x": 0.995, "xanchor": "right", "yref": f"y{row}", "y": end.angle_deg}
            text = {"text": f"{escaped(end.words)} {degrees(end.angle_deg, 0)}", "font": {"size": 12, "color": INK}}
            look = {"yanchor": side, "showarrow": False, "bgcolor": "rgba(255,255,255,0.7)"}
            annotations.append({**place, **text, **look})
