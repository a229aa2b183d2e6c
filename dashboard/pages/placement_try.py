"""The part of the Placement page that moves: sliders beside the map, a side and a top drawing, and their callbacks."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import dash_mantine_components as dmc
from dash import ALL, Dash, Input, Output, Patch, State, ctx, dcc, html, no_update

from ...analysis.fit import KNOBS
from ...analysis.fitting import Fitting
from ...logger.errors import FootroomError
from ...logger.models import Side
from ..figures.placement_map import MARK_TRIED, TOUCHED, TOUCHED_WORDS, scale_words
from ..figures.theme import STILL
from ..fittings import fittings_at
from ..store import Store
from ..wording import NBSP, number
from .placement_tried import SLIDERS, drawn_over, slider_values, tried
from .shell import aria

HOW_TO_READ = (
    "Solid line: where every joint leaves its end zone and no leg touches anything; within it the person chooses. "
    "Dashed: how far that border may lie off (95 %). Names say what limits. Where a leg would touch a drum, its "
    "knee is turned by the least that clears it, and the room is that of the turned leg; grey: no turn within the "
    "hip's clear range does. Both pedals at the same reach."
)


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
            dcc.Store(id="try-shown", data=None),
            dcc.Store(id="try-again", data=None),
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
        for colour, words in [*reversed(scale_words()), (TOUCHED, TOUCHED_WORDS)]
    ]
    return html.Ul(items, className="legend", **aria(label="Steps of the scale"))


def _choose_feet(feet: list[Side]) -> html.Div:
    data = [{"value": side, "label": f"{side.capitalize()} foot"} for side in feet]
    data = [{"value": "both", "label": "Both feet"}, *data] if len(feet) > 1 else data
    named = aria(label="Whose pedal moves")
    control: Any = dmc.SegmentedControl(id="try-feet", data=data, value=data[0]["value"], fullWidth=True, **named)
    return html.Div(control, style={} if len(feet) > 1 else {"display": "none"})


def _slider(knob: str, value: float) -> html.Div:
    half, step = SLIDERS[knob]
    what, unit = KNOBS[knob].words, _unit(knob)
    lowest = 0.0 if knob == "footboard_pitch_deg" else -90.0
    name = f"{what[:1].upper()}{what[1:]}"
    return html.Div(
        [
            html.Div([html.Span(name), html.Span(f"{number(value)}{unit}", id={"type": "try-value", "knob": knob})],
                     className="slider-head"),
            dmc.Slider(
                id={"type": "try", "knob": knob}, value=round(value, 1), min=max(round(value - half, 1), lowest),
                max=round(value + half, 1), step=step, precision=1, updatemode="drag", label=None, thumbLabel=name,
                size="md", attributes=_spoken(knob, value),
            ),
        ],
        className="slider",
    )  # fmt: skip


def _spoken(knob: str, value: float) -> dict[str, Any]:
    """What a screen reader says of a slider's value, `51.5 cm`."""
    unit = "degrees" if KNOBS[knob].unit == "deg" else KNOBS[knob].unit
    return {"thumb": aria(valuetext=f"{number(value)} {unit}")}


def _unit(knob: str) -> str:
    return "°" if KNOBS[knob].unit == "deg" else f"{NBSP}{KNOBS[knob].unit}"


def _picture(name: str, address: str, title: str, words: str) -> html.Figure:
    return html.Figure([html.Figcaption(title), html.Img(id=name, src=address, alt=words)], className="drawing")


def register(app: Dash, store: Store) -> None:
    """Sliders to drawings, map and readings; and the two buttons."""

    @app.callback(
        Output("try-side", "src"),
        Output("try-top", "src"),
        Output("try-map", "figure"),
        Output("try-drawn", "data"),
        Output("try-shown", "data"),
        Output("try-reading", "children"),
        Output("try-table", "children"),
        Output({"type": "try-value", "knob": ALL}, "children"),
        Output({"type": "try", "knob": ALL}, "attributes"),
        Input({"type": "try", "knob": ALL}, "value"),
        Input("try-feet", "value"),
        Input("try-again", "data"),
        State({"type": "try", "knob": ALL}, "id"),
        State("try-of", "data"),
        State("try-drawn", "data"),
        prevent_initial_call=True,
    )
    def redraw(
        values: list[float],
        feet: str,
        _again: int | None,
        names: list[dict[str, str]],
        of: dict[str, Any],
        drawn: list[Any] | None,
    ) -> Any:
        placed = {name["knob"]: float(value) for name, value in zip(names, values, strict=True)}
        try:
            fitting = fittings_at(store.path).get(of["participant"], of["setup"])
        except FootroomError:
            return no_update
        shown = tried(fitting, placed, feet)
        said = [f"{number(placed[name['knob']])}{_unit(name['knob'])}" for name in names]
        spoken = [_spoken(name["knob"], placed[name["knob"]]) for name in names]
        figure: Any = no_update if shown.figure is None else shown.figure
        over = drawn_over(placed, feet)
        if shown.figure is not None and over == drawn:
            figure = Patch()  # the map itself stays: it is over reach and spacing
            figure["data"][MARK_TRIED] = shown.figure["data"][MARK_TRIED]
        return shown.side, shown.top, figure, over, [values, feet], shown.reading, shown.table, said, spoken

    # Answers may overtake each other: what is shown last is not always what was asked last.
    app.clientside_callback(
        """(shown, values, feet) => {
            if (JSON.stringify(shown) !== JSON.stringify([values, feet])) {
                window.dash_clientside.set_props("try-again", {data: Date.now()});
            }
        }""",
        Input("try-shown", "data"),
        State({"type": "try", "knob": ALL}, "value"),
        State("try-feet", "value"),
        prevent_initial_call=True,
    )

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
