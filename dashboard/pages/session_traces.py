"""Angles over time on the session page: the choices, the graph, and the callbacks that draw and zoom it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import dash_mantine_components as dmc
import numpy as np
from dash import Dash, Input, Output, Patch, State, ctx, dcc, html, no_update

from ...logger.errors import FootroomError
from ...logger.models import Session
from ..figures.theme import ZOOMABLE
from ..figures.traces import End, Span, phase_labels, thin, time_ticks, trace_figure, trace_height
from ..store import Entry, Store
from ..wording import clock

if TYPE_CHECKING:
    import plotly.graph_objects as go

# The choice "which angle": label and the columns shown, one panel each.
VIEWS: dict[str, tuple[str, tuple[str, ...]]] = {
    "ankle": ("Ankle, toes up and down", ("right_ankle_dorsiflexion", "left_ankle_dorsiflexion")),
    "hip_flexion": ("Hip, knee up", ("right_hip_flexion", "left_hip_flexion")),
    "hip_rotation": ("Hip, turned in and out", ("right_hip_rotation", "left_hip_rotation")),
    "hip_abduction": (
        "Hip, knee outward and inward",
        ("right_hip_horizontal_abduction", "left_hip_horizontal_abduction"),
    ),
    "spread": ("Hips, legs apart", ("hip_spread",)),
    "knee": ("Knee, bent", ("right_knee_flexion", "left_knee_flexion")),
}
COLUMN_TITLES = {
    "ankle_dorsiflexion": "ankle: toes up +, toes down −",
    "hip_flexion": "hip: knee up +",
    "hip_rotation": "hip: turned inward +, outward −",
    "hip_horizontal_abduction": "hip: knee outward +, inward −",
    "knee_flexion": "knee: bent +",
    "hip_spread": "Hips: legs apart +",
}
# Motions whose ends lie in a column, with the sign of the motion in it.
MOTIONS_OF = {
    "ankle_dorsiflexion": (("ankle_dorsiflexion", 1), ("ankle_plantarflexion", -1)),
    "hip_flexion": (("hip_flexion", 1),),
    "hip_rotation": (("hip_internal_rotation", 1), ("hip_external_rotation", -1)),
    "hip_horizontal_abduction": (("hip_horizontal_abduction", 1), ("hip_horizontal_adduction", -1)),
    "hip_spread": (("hip_spread", 1),),
}


def available_views(columns: Sequence[str]) -> dict[str, list[str]]:
    """Which of the views have columns in this session."""
    found = {key: [name for name in names if name in columns] for key, (_, names) in VIEWS.items()}
    return {key: names for key, names in found.items() if names}


def traces_section(session: Session, views: Mapping[str, Sequence[str]], figure: go.Figure | None) -> html.Section:
    """The choices of angle and part, and the graph of the first choice."""
    if not views:
        return html.Section([html.H2("Over time"), html.P("No angles are stored for this session.")])
    angle = _select("trace-view", "Angle", [{"value": key, "label": VIEWS[key][0]} for key in views])
    part = _select("trace-part", "Part", parts_of(session))
    panels = max(len(columns) for columns in views.values())
    style = {"height": f"{trace_height(panels)}px"}
    first = {"data": []} if figure is None else figure
    graph = dcc.Graph(id="traces", figure=first, config=ZOOMABLE, responsive=True, className="traces", style=style)
    words = "Angle over time; the figures are in the table below."
    how = (
        "Choose a part, or drag sideways to zoom and double-click to see all. The line breaks where nothing is known. "
        "Shaded: the end zone, darker past the end of the active range."
    )
    return html.Section(
        [
            html.Div([html.H2("Over time"), html.Div([angle, part], className="choices")], className="page-head"),
            html.P(how, className="how screen-only"),
            dcc.Store(id="trace-session", data=session.id),
            html.Figure([graph, html.Figcaption(words, className="visually-hidden")]),
        ]
    )


def _select(name: str, label: str, choices: list[dict[str, str]]) -> dmc.Select:
    return dmc.Select(
        id=name,
        label=label,
        data=choices,
        value=choices[0]["value"],
        allowDeselect=False,
        comboboxProps={"withinPortal": False},
        className="chooser",
    )


def ends_of(exposure: Mapping[str, Any], column: str) -> list[End]:
    """Ends of active range in one angle column, signed as the column is, from the first set-up that has them."""
    side, base = ("both", column) if column == "hip_spread" else (column.partition("_")[0], column.partition("_")[2])
    found = []
    for motion, sign in MOTIONS_OF.get(base, ()):
        for sides in exposure["setups"].values():
            figures = (sides.get(side) or {}).get(motion)
            if figures and figures.get("active_end_deg") is not None:
                zone = float(figures.get("zone_deg") or 0.0)
                found.append(End(sign * float(figures["active_end_deg"]), zone, sign, "end of range"))
                break
    return found


def spans_of(session: Session) -> list[Span]:
    """Phases for the strip above the traces: playing carries its set-up's name."""
    spans = []
    for phase in session.phases:
        playing = phase.name == "playing"
        label = session.setup_of(phase).name if playing else phase.name.replace("_", " ")
        spans.append(Span(phase.start_s, phase.end_s, label, playing))
    return spans


def column_title(column: str) -> str:
    """`Right ankle: toes up +, toes down −`."""
    if column in COLUMN_TITLES:
        return COLUMN_TITLES[column]
    side, _, base = column.partition("_")
    return f"{side.capitalize()} {COLUMN_TITLES.get(base, base.replace('_', ' '))}"


def zoomed_window(relayout: Mapping[str, Any] | None, whole: tuple[float, float]) -> tuple[float, float] | None:
    """The time window [s] a zoom or pan asks for; `whole` after a double-click; None when time did not change."""
    found: dict[str, float] = {}
    for key, value in (relayout or {}).items():
        if re.fullmatch(r"xaxis\d*\.autorange", key) and value:
            return whole
        match = re.fullmatch(r"xaxis\d*\.range(?:\[([01])\])?", key)
        if match and match[1]:
            found[match[1]] = float(value)
        elif match and isinstance(value, list) and len(value) == 2:
            found["0"], found["1"] = float(value[0]), float(value[1])
    if len(found) < 2 or not found["0"] < found["1"]:
        return None
    return found["0"], found["1"]


def first_figure(store: Store, entry: Entry, views: Mapping[str, Sequence[str]]) -> go.Figure | None:
    """The whole session in the first view, sent with the page: one question and one drawing less than by a callback."""
    return view_figure(store, entry, next(iter(views.values()))) if views else None


def read_ahead(store: Store, session_id: str) -> None:
    """Bring the columns of a session's first view into the store; what is wrong with it is for the page to say."""
    with suppress(FootroomError, OSError):
        views = available_views(store.angle_columns(session_id))
        if views:
            store.angles(session_id, next(iter(views.values())))


def view_figure(
    store: Store, entry: Entry, names: Sequence[str], window_s: tuple[float, float] | None = None
) -> go.Figure:
    """Traces of the columns `names` of an analysed session, within `window_s` [s]."""
    time_s, columns = store.angles(entry.session.id, names)
    ends = {name: ends_of(entry.exposure or {}, name) for name in names}
    titles = {name: column_title(name) for name in names}
    return trace_figure(time_s, columns, ends, spans_of(entry.session), titles, window_s)


def register(app: Dash, store: Store) -> None:
    """The two callbacks of the page: draw a view, and fetch finer samples after a zoom."""

    @app.callback(
        Output("traces", "figure"),
        Input("trace-view", "value"),
        State("trace-session", "data"),
        State("trace-part", "value"),
        prevent_initial_call=True,
    )
    def draw(view: str, session_id: str, part: str) -> Any:
        try:
            entry = store.entry(session_id)
            names = available_views(store.angle_columns(session_id)).get(view)
        except FootroomError:
            return no_update
        if not names or entry.exposure is None:
            return no_update
        return view_figure(store, entry, names, part_window(part))

    @app.callback(
        Output("traces", "figure", allow_duplicate=True),
        Input("traces", "relayoutData"),
        Input("trace-part", "value"),
        State("trace-view", "value"),
        State("trace-session", "data"),
        prevent_initial_call=True,
    )
    def zoom(relayout: Mapping[str, Any] | None, part: str, view: str, session_id: str) -> Any:
        try:
            session = store.entry(session_id).session
            names = available_views(store.angle_columns(session_id)).get(view)
        except FootroomError:
            return no_update
        if not names:
            return no_update
        time_s, columns = store.angles(session_id, names)
        whole = (float(time_s[0]), float(time_s[-1])) if time_s.size else (0.0, 1.0)
        window = (part_window(part) or whole) if ctx.triggered_id == "trace-part" else zoomed_window(relayout, whole)
        if window is None:
            return no_update
        patch = Patch()
        for position, name in enumerate(names):
            x, y = thin(time_s, columns[name], window_s=window)
            patch["data"][position]["x"] = _plain(x, 3)
            patch["data"][position]["y"] = _plain(y, 2)
        places, labels = phase_labels(spans_of(session), window)
        strip = patch["data"][len(names)]
        strip["x"], strip["y"], strip["text"] = places, [0.5] * len(places), labels
        ticks, words = time_ticks(window)
        for row in range(1, len(names) + 2):
            axis = patch["layout"][f"xaxis{row if row > 1 else ''}"]
            axis["range"], axis["autorange"] = list(window), False
            axis["tickvals"], axis["ticktext"] = ticks, words
        return patch


def part_window(part: str | None) -> tuple[float, float] | None:
    """The time window [s] of a choice of the list of parts; None for the whole session."""
    start, _, end = (part or "").partition(":")
    return (float(start), float(end)) if start and end else None


def parts_of(session: Session) -> list[dict[str, str]]:
    """Choices of what to show: the whole session and every playing phase, for those who do not use a mouse."""
    return [{"value": "all", "label": "Whole session"}] + [
        {
            "value": f"{phase.start_s}:{phase.end_s}",
            "label": f"‘{session.setup_of(phase).name}’, {clock(phase.start_s)} to {clock(phase.end_s)}",
        }
        for phase in session.phases
        if phase.name == "playing"
    ]


def _plain(values: np.ndarray, digits: int) -> list[float | None]:
    """Rounded numbers for JSON; None where unknown."""
    return [
        float(value) if known else None for value, known in zip(values.round(digits), np.isfinite(values), strict=True)
    ]
