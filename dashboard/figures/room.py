"""How room is spread over playing time, and its median with a band, one row per set-up."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import plotly.graph_objects as go

from ..wording import degree_span, degrees, number, percent, percent_span
from .theme import ACCENT, INK, SEQUENTIAL, SOFT_INK, level_of, styled

ROW_PX = 104
BAR_HEIGHT = 0.48  # of a row
BELOW = 0.17  # the band's line, below the bars


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
    figure = go.Figure()
    binned = [rebinned(one["edges_deg"], one["shares"], 1.0) for one in setups]
    tallest = max((float(shares.max()) for _, shares in binned if shares.size), default=0.0) or 1.0
    low, high = _span(setups, binned, zone_deg or 0.0)
    count = len(setups)
    for position, (one, (edges, shares)) in enumerate(zip(setups, binned, strict=True)):
        base = float(count - 1 - position)
        if shares.size:
            shown = (edges >= low - 1e-9) & (edges < high) & (shares > 0)
            figure.add_bar(
                x=(edges[shown] + 0.5).tolist(),
                y=(shares[shown] / tallest * BAR_HEIGHT).tolist(),
                base=base,
                width=0.92,
                marker={
                    "color": [SEQUENTIAL[level_of(edge, zone_deg or 0.0)] for edge in edges[shown]],
                    "line": {"width": 0},
                },
                customdata=[
                    f"{number(edge, 0)} to {number(edge + 1, 0)}° left: {percent(share)} of playing time"
                    for edge, share in zip(edges[shown], shares[shown], strict=True)
                ],
                hovertemplate="%{customdata}<extra></extra>",
                name=one["name"],
            )
        _add_interval(figure, one["band_room_deg"], one["median_room_deg"], one["session_rooms_deg"], base - BELOW)
        _add_label(
            figure, base, one["name"], f"median {degrees(one['median_room_deg'])}", one["band_room_deg"], degree_span
        )
    _add_ends(figure, zone_deg, count)
    styled(figure, 62 + ROW_PX * count)
    figure.update_layout(margin={"l": 6, "r": 6, "t": 26, "b": 36}, bargap=0)
    figure.update_xaxes(
        range=[low, high],
        title={"text": "room: degrees left before the end", "font": {"size": 12, "color": SOFT_INK}, "standoff": 6},
        ticksuffix="°",
        dtick=5,
        fixedrange=True,
        showgrid=False,
        ticks="outside",
        ticklen=4,
    )
    figure.update_yaxes(visible=False, range=[-0.34, count - 0.12], fixedrange=True)
    return figure


def share_figure(setups: Sequence[Mapping[str, Any]]) -> go.Figure:
    """Rows of the share of playing time near the end [%]: a dot on its 95 % band, sessions as rings.

    setups : per set-up `name`, `share_near_end` (0-1), `band_near_end` (low, high), `session_shares`.
    """
    figure = go.Figure()
    count = len(setups)
    largest = 0.0
    for position, one in enumerate(setups):
        base = float(count - 1 - position)
        band = tuple(100 * float(value) for value in one["band_near_end"])
        sessions = [100 * float(value) for value in one["session_shares"]]
        _add_interval(figure, band, 100 * one["share_near_end"], sessions, base, unit=" %")
        _add_label(
            figure,
            base + 0.02,
            one["name"],
            percent(one["share_near_end"]),
            one["band_near_end"],
            percent_span,
            lift=0.42,
        )
        largest = max(largest, band[1], *sessions)
    top = min(100.0, 10.0 * math.ceil((largest + 1) / 10))
    styled(figure, 56 + 58 * count)
    figure.update_layout(margin={"l": 6, "r": 6, "t": 4, "b": 38})
    figure.update_xaxes(
        range=[-0.02 * top, top * 1.02],
        title={"text": "share of playing time in the end zone", "font": {"size": 12, "color": SOFT_INK}, "standoff": 6},
        ticksuffix=" %",
        nticks=6,
        fixedrange=True,
        ticks="outside",
        ticklen=4,
    )
    figure.update_yaxes(visible=False, range=[-0.4, count - 0.32], fixedrange=True)
    return figure


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


def _add_interval(
    figure: go.Figure, band: Sequence[float], middle: float, sessions: Sequence[float], y: float, unit: str = "°"
) -> None:
    figure.add_scatter(
        x=[band[0], band[1]], y=[y, y], mode="lines", line={"color": ACCENT, "width": 5}, opacity=0.38, hoverinfo="skip"
    )
    if len(sessions) > 1:
        figure.add_scatter(
            x=list(sessions),
            y=[y] * len(sessions),
            mode="markers",
            marker={"symbol": "circle-open", "size": 8, "color": INK, "line": {"width": 1.2}},
            hovertemplate="one session: %{x:.1f}" + unit + "<extra></extra>",
        )
    figure.add_scatter(
        x=[middle],
        y=[y],
        mode="markers",
        marker={"size": 13, "color": ACCENT, "line": {"color": "white", "width": 2}},
        hovertemplate="%{x:.1f}" + unit + "<extra></extra>",
    )


def _add_label(
    figure: go.Figure, base: float, name: str, value: str, band: Sequence[float], span: Any, lift: float = 0.74
) -> None:
    figure.add_annotation(
        xref="paper",
        x=1,
        xanchor="right",
        y=base + lift,
        yanchor="middle",
        showarrow=False,
        align="right",
        text=f"<b>{escaped(name)}</b>  {value}  <span style='color:{SOFT_INK}'>({span(list(band))})</span>",
        font={"size": 13},
    )


def _add_ends(figure: go.Figure, zone_deg: float | None, count: int) -> None:
    bottom, top = -0.34, count - 0.12
    figure.add_shape(
        type="rect",
        x0=0,
        x1=zone_deg or 0,
        y0=bottom,
        y1=top,
        layer="below",
        fillcolor=SEQUENTIAL[0],
        opacity=0.45,
        line_width=0,
    )
    figure.add_shape(type="line", x0=0, x1=0, y0=bottom, y1=top, line={"color": INK, "width": 1.5})
    figure.add_annotation(
        x=0,
        xanchor="left",
        y=1,
        yref="paper",
        yanchor="bottom",
        showarrow=False,
        text=f"end zone: less than {degrees(zone_deg, 0)} left" if zone_deg else "the legs touch",
        font={"size": 12, "color": SOFT_INK},
    )


def escaped(text: str) -> str:
    """Text that a figure shows as it is, never as markup."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
