"""One look for every figure: type, lines and the sequential scale (one hue, darker = nearer the end)."""

from __future__ import annotations

from typing import Any

import plotly.graph_objects as go

INK = "#1d2b33"
SOFT_INK = "#51626b"
RULE = "#d9d4c8"
PAPER = "rgba(0,0,0,0)"
ACCENT = "#17616f"
FONT = "Seravek, 'Gill Sans Nova', Ubuntu, Calibri, 'DejaVu Sans', 'Helvetica Neue', Arial, sans-serif"

# Lightness falls steadily, hue stays: readable with any colour vision and in grey. Text repeats what it says.
SEQUENTIAL: tuple[str, ...] = ("#d5e4e3", "#93bcc0", "#45899a", "#123f4d")

STILL: Any = {"displayModeBar": False, "scrollZoom": False, "doubleClick": False, "displaylogo": False}
ZOOMABLE: Any = {
    "displaylogo": False,
    "modeBarButtons": [["zoom2d", "pan2d", "zoomIn2d", "zoomOut2d", "autoScale2d"]],
    "scrollZoom": False,
    "doubleClick": "autosize",
}


def level_of(room_deg: float, zone_deg: float) -> int:
    """Step of the scale for a room [deg]: 3 past the end, 2 in the end zone, 1 within twice its width, 0 beyond."""
    if room_deg < 0:
        return 3
    if room_deg < zone_deg:
        return 2
    return 1 if room_deg < 2 * zone_deg else 0


def axis(**own: Any) -> dict[str, Any]:
    """An axis in the common look, with what is its own."""
    look = {
        "gridcolor": RULE,
        "zeroline": False,
        "linecolor": SOFT_INK,
        "tickfont": {"color": SOFT_INK, "size": 12},
    }
    return {**look, **own}


def axis_title(text: str) -> dict[str, Any]:
    """The title of an axis."""
    return {"text": text, "font": {"size": 12, "color": SOFT_INK}, "standoff": 6}


def drawn(data: list[dict[str, Any]], layout: dict[str, Any], height: int) -> go.Figure:
    """The figure in the common look; `height` in px, the width follows the page.

    Plain dicts all the way and one Figure at the end: piecewise updates of Figure objects take ten times as long.
    """
    return go.Figure(plain(data, layout, height))


def plain(data: list[dict[str, Any]], layout: dict[str, Any], height: int) -> dict[str, Any]:
    """The same as a plain dict, for figures that are redrawn while a slider moves (checking takes 25 ms)."""
    look = {
        "template": None,
        "height": height,
        "autosize": True,
        "paper_bgcolor": PAPER,
        "plot_bgcolor": PAPER,
        "font": {"family": FONT, "size": 13, "color": INK},
        "showlegend": False,
        "hoverlabel": {"bgcolor": "white", "bordercolor": ACCENT, "font": {"family": FONT, "size": 13, "color": INK}},
    }
    return {"data": data, "layout": {**look, **layout}}
