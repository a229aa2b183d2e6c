"""The part of the Placement page that moves: sliders, the map, a side and a top drawing, and what the joints keep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import dash_mantine_components as dmc
import numpy as np
from dash import ALL, Dash, Input, Output, Patch, State, ctx, dcc, html, no_update

from ...analysis.fit import KNOBS, Fit
from ...analysis.fitting import Fitting
from ...analysis.placement import Yardstick, placement_map, rooms
from ...analysis.placement_edges import spare_sd_deg
from ...logger.errors import FootroomError
from ...logger.models import Side
from ..figures.placement_map import MARK_TRIED, map_figure, scale_words
from ..figures.seated import side_view, top_view
from ..figures.svg import as_address
from ..figures.theme import STILL, level_of
from ..fittings import fittings_at
from ..store import Store
from ..wording import NBSP, degrees, motion_title, number
from .shell import aria, table

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
HOW_TO_READ = (
    "Solid line: where every joint leaves its end zone and no leg touches anything; within it the person chooses. "
    "Dashed: how far that border may lie off (95 %). Names say what limits. Both pedals at the same reach."
)


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
    sd: dict[Side, np.ndarray] = {side: spare_sd_deg(found.legs[side], fit, yard, side) for side in sides}
    here = {knob: values.get(knob, stands[knob]) for knob in ("spacing_cm", "reach_cm")}
    now = (stands["spacing_cm"], stands["reach_cm"])
    return map_figure(found, sides, sd, now, (here["spacing_cm"], here["reach_cm"]))


def _level(room: Mapping[str, float], yard: Yardstick) -> int:
    """The deepest step of the scale that any joint is in."""
    known = [(value, yard.zones[motion]) for motion, value in room.items() if np.isfinite(value)]
    return max((level_of(value, zone) for value, zone in known), default=0)


def _joint_words(room: Mapping[str, float]) -> dict[str, str]:
    """What to write at hip and ankle of the side drawing: the room of the tighter end."""
    said = {}
    for joint in ("hip", "ankle"):
        known = {motion: value for motion, value in room.items() if motion.startswith(joint) and np.isfinite(value)}
        if known:
            said[joint] = f"{joint}: {degrees(min(known.values()), 0)} left"
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
        told = html.P([html.Strong(motion_title(side, motion)), f" is tightest: {degrees(room)} left, {where}."])
    rest = fit.poses(shown)["rest"]
    slope, trunk, knee = (float(np.degrees(v)) for v in (rest.thigh_slope, rest.torso_thigh, rest.knee_flexion))
    way = "up" if slope > 0 else "down"
    posture = (
        f"{shown.capitalize()} leg at rest: thigh {degrees(abs(slope), 0)} {way} to the knee, "
        f"trunk to thigh {degrees(trunk, 0)}, knee bent {degrees(knee, 0)}."
        if np.isfinite(knee)
        else ""
    )
    head = ["Joint", "Room now", "Room here", "Change"]
    words = "As the model expects it; measure to know."
    return [told, html.P(posture, className="how")], table(words, head, rows)


# On the page ----------------------------------------------------------------------------------------------------


def try_section(participant: str, fitting: Fitting, report: Mapping[str, Any]) -> html.Section:
    """Sliders, map and drawings, as the pedals stand now."""
    stands = slider_values(fitting.fit)
    feet = list(fitting.fit.legs)
    first = "both" if len(feet) > 1 else feet[0]
    shown = tried(fitting, stands, first)
    step = report["suggestion"]
    buttons = [html.Button("Back to where it stands", id="try-back", className="plain")]
    hidden = {} if step is not None and step["knob"] in SLIDERS else {"display": "none"}
    buttons.append(html.Button("Show the step to try", id="try-step", className="plain", style=hidden))
    whose = "both" if step is None or len(step["sides"]) == len(feet) else step["sides"][0]
    suggested = None if step is None else {"knob": step["knob"], "by": step["by"], "feet": whose}
    choices = ["both", *feet] if len(feet) > 1 else feet
    by_feet = {choice: slider_values(fitting.fit, choice) for choice in choices}
    return html.Section(
        [
            html.H2("The map"),
            dcc.Store(id="try-of", data={"participant": participant, "setup": fitting.setup.name, "stands": by_feet,
                                         "step": suggested}),
            dcc.Store(id="try-drawn", data=None),
            html.Div(
                [
                    html.Div([_map_block(shown.figure), _legend(), html.P(HOW_TO_READ, className="how")]),
                    html.Div([_choose_feet(feet), *(_slider(knob, stands[knob]) for knob in SLIDERS),
                              html.Div(buttons, className="buttons")], className="sliders screen-only"),
                ],
                className="map-and-sliders",
            ),
            html.Div(
                [
                    _picture("try-side", shown.side, "From the side", "The leg on its pedal from the side. The numbers "
                             "stand in the table below."),
                    _picture("try-top", shown.top, "From above", "Both legs from above, with what stands between "
                             "them. The darker a thigh, the nearer one of its leg's joints to its end."),
                ],
                className="drawings",
            ),
            html.Div(shown.reading, id="try-reading", **aria(live="polite")),
            html.Details([html.Summary("Every joint, now and here"), html.Div(shown.table, id="try-table")],
                         className="rests screen-only"),
        ]
    )  # fmt: skip


def _map_block(figure: Any) -> Any:
    if figure is None:
        return html.P("No map: no end of range is known.", id="try-map")
    words = "The placement map: spare room over spacing and reach. Its limits stand in words above."
    graph = dcc.Graph(id="try-map", figure=figure, config=STILL, responsive=True, style={"height": "400px"})
    return html.Figure([graph, html.Figcaption(words, className="visually-hidden")])


def _legend() -> html.Ul:
    items = [
        html.Li([html.Span(style={"background": colour}, className="swatch"), words])
        for colour, words in reversed(scale_words())
    ]
    return html.Ul(items, className="legend", **aria(label="Steps of the scale"))


def _choose_feet(feet: list[Side]) -> html.Div:
    data = [{"value": "both", "label": "Both feet"}] if len(feet) > 1 else []
    data += [{"value": side, "label": f"{side.capitalize()} foot"} for side in feet]
    control: Any = dmc.SegmentedControl(id="try-feet", data=data, value=data[0]["value"], fullWidth=True)
    return html.Div(control, style={} if len(feet) > 1 else {"display": "none"})


def _slider(knob: str, value: float) -> html.Div:
    half, step = SLIDERS[knob]
    what, unit = KNOBS[knob].words, "°" if KNOBS[knob].unit == "deg" else f"{NBSP}{KNOBS[knob].unit}"
    lowest = 0.0 if knob == "footboard_pitch_deg" else -90.0
    name = f"{what[:1].upper()}{what[1:]}"
    return html.Div(
        [
            html.Div([html.Span(name), html.Span(f"{number(value)}{unit}", id={"type": "try-value", "knob": knob})],
                     className="slider-head"),
            dmc.Slider(
                id={"type": "try", "knob": knob}, value=round(value, 1), min=max(round(value - half, 1), lowest),
                max=round(value + half, 1), step=step, precision=1, updatemode="drag", label=None, thumbLabel=name,
                size="md",
            ),
        ],
        className="slider",
    )  # fmt: skip


def _picture(name: str, address: str, title: str, words: str) -> html.Figure:
    return html.Figure([html.Figcaption(title), html.Img(id=name, src=address, alt=words)], className="drawing")


def register(app: Dash, store: Store) -> None:
    """Sliders to drawings, map and readings; and the two buttons."""

    @app.callback(
        Output("try-side", "src"),
        Output("try-top", "src"),
        Output("try-map", "figure"),
        Output("try-drawn", "data"),
        Output("try-reading", "children"),
        Output("try-table", "children"),
        Output({"type": "try-value", "knob": ALL}, "children"),
        Input({"type": "try", "knob": ALL}, "value"),
        Input("try-feet", "value"),
        State({"type": "try", "knob": ALL}, "id"),
        State("try-of", "data"),
        State("try-drawn", "data"),
        prevent_initial_call=True,
    )
    def redraw(
        values: list[float], feet: str, names: list[dict[str, str]], of: dict[str, Any], drawn: list[Any] | None
    ) -> Any:
        placed = {name["knob"]: float(value) for name, value in zip(names, values, strict=True)}
        try:
            fitting = fittings_at(store.path).get(of["participant"], of["setup"])
        except FootroomError:
            return no_update
        shown = tried(fitting, placed, feet)
        units = [("°" if KNOBS[name["knob"]].unit == "deg" else f"{NBSP}cm") for name in names]
        said = [f"{number(placed[name['knob']])}{unit}" for name, unit in zip(names, units, strict=True)]
        figure: Any = no_update if shown.figure is None else shown.figure
        over = drawn_over(placed, feet)
        if shown.figure is not None and over == drawn:
            figure = Patch()  # the map itself stays: it is over reach and spacing
            figure["data"][MARK_TRIED] = shown.figure["data"][MARK_TRIED]
        return shown.side, shown.top, figure, over, shown.reading, shown.table, said

    @app.callback(
        Output({"type": "try", "knob": ALL}, "value"),
        Output("try-feet", "value"),
        Input("try-back", "n_clicks"),
        Input("try-step", "n_clicks"),
        Input("try-feet", "value"),
        State({"type": "try", "knob": ALL}, "id"),
        State("try-of", "data"),
        prevent_initial_call=True,
    )
    def put(_back: int | None, _step: int | None, feet: str, names: list[dict[str, str]], of: dict[str, Any]) -> Any:
        """Sliders to where it stands (for the feet chosen), or to the step to try."""
        step = of["step"] if ctx.triggered_id == "try-step" else None
        feet = feet if step is None else step["feet"]
        by = {} if step is None else {step["knob"]: step["by"]}
        return [round(of["stands"][feet][name["knob"]] + by.get(name["knob"], 0.0), 1) for name in names], feet


def drawn_over(values: Mapping[str, float], feet: str) -> list[Any]:
    """What the map depends on: all but the two that it is drawn over."""
    return [feet, *(value for knob, value in values.items() if knob not in IN_THE_MAP)]
