"""Angles over a session, thinned to what a screen can show, with end zones, phases and set-ups marked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import plotly.graph_objects as go
from numpy.typing import NDArray
from plotly.subplots import make_subplots

from ..wording import degrees
from .room import escaped
from .theme import ACCENT, INK, SEQUENTIAL, SOFT_INK, styled

Floats = NDArray[np.floating[Any]]
POINTS = 1500
SHORTEST_GAP_S = 0.1
PANEL_PX = 215
STRIP_PX = 26


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
    height = 64 + STRIP_PX + PANEL_PX * len(names)
    figure = make_subplots(
        rows=1 + len(names),
        cols=1,
        shared_xaxes=True,
        vertical_spacing=0.04,
        row_heights=[STRIP_PX, *[PANEL_PX] * len(names)],
    )
    for row, name in enumerate(names, start=2):
        x, y = thin(time_s, columns[name], points, window)
        figure.add_scatter(
            x=x,
            y=y.astype(np.float32),
            mode="lines",
            line={"color": ACCENT, "width": 1.1},
            connectgaps=False,
            hovertemplate="%{y:.1f}° at %{x:.1f} s<extra></extra>",
            row=row,
            col=1,
        )
        low, high = _limits(columns[name], ends.get(name, ()))
        _add_zones(figure, ends.get(name, ()), row, low, high)
        figure.update_yaxes(range=[low, high], ticksuffix="°", fixedrange=True, nticks=5, row=row, col=1)
        figure.add_annotation(
            xref="paper",
            x=0.006,
            xanchor="left",
            yref=f"y{row} domain",
            y=0.985,
            yanchor="top",
            showarrow=False,
            text=f"<b>{escaped(titles.get(name, name))}</b>",
            bgcolor="rgba(255,255,255,0.82)",
            font={"size": 13, "color": INK},
        )
    places, labels = phase_labels(spans, window)
    figure.add_scatter(
        x=places, y=[0.5] * len(places), text=labels, mode="text", textfont={"size": 12}, hoverinfo="skip", row=1, col=1
    )
    for span in spans:
        figure.add_shape(
            type="rect",
            xref="x",
            yref="y domain",
            x0=span.start_s,
            x1=span.end_s,
            y0=0,
            y1=1,
            layer="below",
            fillcolor=SEQUENTIAL[1] if span.playing else SEQUENTIAL[0],
            opacity=0.75 if span.playing else 0.6,
            line={"width": 1, "color": "white"},
        )
    styled(figure, height)
    figure.update_layout(margin={"l": 44, "r": 8, "t": 8, "b": 46}, dragmode="zoom", hovermode="closest")
    figure.update_xaxes(range=list(window), showgrid=False, ticks="outside", ticklen=4)
    figure.update_xaxes(
        title={"text": "time in the recording [s]", "font": {"size": 12, "color": SOFT_INK}}, row=1 + len(names)
    )
    figure.update_xaxes(ticks="", showline=False, row=1)
    figure.update_yaxes(visible=False, range=[0, 1], fixedrange=True, row=1)
    return figure


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


def _add_zones(figure: go.Figure, ends: Sequence[End], row: int, low: float, high: float) -> None:
    axis = str(row)
    for end in ends:
        inner = end.angle_deg - end.direction * end.zone_deg
        beyond = high if end.direction > 0 else low
        for y0, y1, level, opacity in ((inner, end.angle_deg, 1, 0.42), (end.angle_deg, beyond, 2, 0.5)):
            y0, y1 = max(min(y0, y1), low), min(max(y0, y1), high)
            if y1 > y0:
                figure.add_shape(
                    type="rect",
                    xref="paper",
                    x0=0,
                    x1=1,
                    yref=f"y{axis}",
                    y0=y0,
                    y1=y1,
                    layer="below",
                    fillcolor=SEQUENTIAL[level],
                    opacity=opacity,
                    line_width=0,
                )
        if low < end.angle_deg < high:
            figure.add_annotation(
                xref="paper",
                x=0.995,
                xanchor="right",
                yref=f"y{axis}",
                y=end.angle_deg,
                yanchor="bottom" if end.direction > 0 else "top",
                showarrow=False,
                text=f"{escaped(end.words)} {degrees(end.angle_deg, 0)}",
                bgcolor="rgba(255,255,255,0.7)",
                font={"size": 12, "color": INK},
            )
