"""Placement page: where the pedals may stand for this throne height, what limits, and what to try next.

Not a prescription: within the clear region the person chooses.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import quote

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update

from ...analysis.placement_report import CAUTION, placement_report
from ...analysis.placement_table import at_edge, slide_words, turn_words
from ...logger.errors import FootroomError, InputError
from ..figures.placement_map import limit_words
from ..fittings import fittings_at, read_known
from ..store import Store
from ..wording import NBSP, degree_span, degrees, geometry, motion_title, number, percent, sentence, with_moves
from .people import asked, chooser, chosen, nobody
from .placement_numbers import learned_section, rests_on, rooms_section, sensitivity_section
from .placement_try import try_section
from .shell import Page, empty

TITLE = "Where may the pedals stand?"


def placement_page(store: Store, search: str | None) -> Page:
    """The page for the participant and set-up named in `search`, the address's query."""
    people = store.participants()
    participant = chosen(people, search)
    if participant is None:
        return Page("Placement", [html.H1(TITLE, tabIndex="-1"), nobody(store)])
    known = read_known(store, participant)
    whole = [name for name, (_, setup) in known.setups.items() if setup.seat_height_cm is not None]
    name = asked(search, "setup") or None
    title = f"Placement of {participant}"
    try:
        fitting = fittings_at(store.path).of(known, name)
    except InputError as error:
        head = _head(people, participant, whole, name, "")
        return Page(title, [head, _not_yet(store, participant, str(error))])
    head = _head(people, participant, whole, fitting.setup.name, geometry(fitting.setup.model_dump(exclude_none=True)))
    report = placement_report(fitting)
    content = [
        head,
        html.P(CAUTION, className="how note"),
        in_short(report),
        try_section(participant, fitting, report),
        rooms_section(report),
        sensitivity_section(report),
        learned_section(report),
        rests_on(report, known),
    ]
    return Page(title, content)


def _head(people: Sequence[str], participant: str, names: Sequence[str], setup: str | None, measures: str) -> html.Div:
    select = dmc.Select(
        id="placement-setup",
        label="From set-up",
        data=list(names),
        value=setup,
        allowDeselect=False,
        comboboxProps={"withinPortal": False},
        className="chooser",
    )
    choices = [chooser(people, participant) if len(people) > 1 else None, select if len(names) > 1 else None]
    line = f"{participant}, set-up ‘{setup}’: {measures}" if setup and measures else participant
    return html.Div(
        [html.Div([html.H1(TITLE, tabIndex="-1"), html.P(line)]), html.Div(choices, className="choices")],
        className="page-head",
    )


def _not_yet(store: Store, participant: str, why: str) -> html.Div:
    query = f"?participant={quote(participant)}"
    return empty(
        "Not measured yet",
        sentence(why),
        ["How to measure, with drawings: ", dcc.Link("Set-up geometry", href=f"/setup{query}"), "."],
        command=f'footroom setup NAME throne_height_cm=50 reach_cm=43 spacing_cm=46 --logbook "{store.path.name}" '
        f"--participant {participant} --person stature_cm=172",
    )


# The answer -----------------------------------------------------------------------------------------------------


def in_short(report: Mapping[str, Any]) -> html.Section:
    """The throne first; then how near, far, narrow and wide; then one step to try, or why there is none."""
    told: list[Any] = []
    if not report["throne_settled"]:
        height = report["throne_height_cm"]
        told.append(
            html.P(
                f"First the throne: {number(height, 0)}{NBSP}cm is not marked as settled. Agree on its height (slope "
                "of the thigh, balance), then look at the pedals; every joint changes with it.",
                className="lead",
            )
        )
    told += [html.P(line, className="lead") for line in _stretches(report)]
    for side, turn in report["swivel_to_clear_deg"].items():
        thing = report["swivel_to_clear"][side]
        if turn is None:
            told.append(html.P(f"The {side} leg touches {thing} however its knee is turned: that is the limit, not "
                               "the hip."))  # fmt: skip
        elif turn:
            hip = _hip_words(side, report["hip_when_swivelled"].get(side), thing)
            told.append(html.P(f"Where it stands: {side} {turn_words(turn, thing, '°')}{hip}."))
    if report["slide_cm"] is not None:
        told.append(html.P(slide_words(report["slide_cm"]).replace("+-", "±")))
    alone = report["without_things"]
    if alone is not None and _stretches(alone) != _stretches(report):
        lines = [html.Li(line) for line in _stretches(alone)]
        told += [html.P("By the joints alone, if nothing stood in the way:"), html.Ul(lines)]
    told.append(_next_step(report))
    return html.Section([html.H2("In short", className="eyebrow"), *told], className="short")


def _hip_words(side: str, hip: Mapping[str, Any] | None, thing: str) -> str:
    """`; right hip, knee outward, then keeps 9°`, and whether that is too little."""
    if hip is None:
        return ""
    title = motion_title(side, hip["motion"])
    limit = "" if hip["clear"] else f", in its end zone: {thing} is the limit, not the hip"
    return f"; {title[:1].lower()}{title[1:]}, then keeps {degrees(hip['room_deg'], 0)}{limit}"


def _stretches(found: Mapping[str, Any]) -> list[str]:
    lines = [
        stretch_words(f"Reach, {side} foot", one, "nearest", "farthest") for side, one in found["reach_cm"].items()
    ]
    spacing = found["spacing_cm"]
    return lines if spacing is None else [*lines, stretch_words("Spacing", spacing, "narrowest", "widest")]


def _next_step(report: Mapping[str, Any]) -> html.Div:
    found = report["suggestion"]
    if found is None:
        return html.Div(
            [html.H3("What to try next"), html.P(f"Nothing for now: {with_moves(report['why_no_suggestion'])}.")]
        )
    losses = [one for one in found["others"] if one["change_deg"] <= -0.5]
    lines = [
        f"{motion_title(one['side'], one['motion'])}: {number(one['change_deg'])}°, "
        f"to {degrees(one['room_after_deg'])} (90{NBSP}%: {degree_span(one['interval_deg'])})"
        for one in losses
    ]
    return html.Div(
        [
            html.H3("What to try next"),
            html.P(with_moves(found["sentence"])),
            html.P(f"Chance that the tightest joint gains: {percent(found['chance'])}. What it takes elsewhere:"
                   if lines else f"Chance that the tightest joint gains: {percent(found['chance'])}. It takes nothing "
                   "worth naming from another joint."),
            html.Ul([html.Li(line) for line in lines]) if lines else None,
            html.P("A small step, a short first trial, back on discomfort. Then measure again.", className="yours"),
        ]
    )  # fmt: skip


def stretch_words(what: str, one: Mapping[str, Any], low: str, high: str) -> str:
    """`Reach, right foot: nearest 41 ± 4 cm (right ankle, toes up), farthest 52 ± 9 cm (...). It stands at 43.`"""
    now = f"It stands at {one['now_cm']:g}{NBSP}cm"
    if one["reason"] is not None:
        return f"{what}: {with_moves(one['reason'])}. {now}."
    parts = [edge_words(one["from"], low, "below"), edge_words(one["to"], high, "above")]
    close = [edge for edge in (one["from"], one["to"]) if _on_the_border(one["now_cm"], edge)]
    where = "inside" if one["now_is_clear"] else "outside"
    return f"{what}: {', '.join(parts)}. {now}, {'too near the border to tell' if close else where}."


def _on_the_border(now_cm: float, edge: Mapping[str, Any]) -> bool:
    """Whether it stands nearer to an edge than half the edge's own +-."""
    if edge["cm"] is None or edge["plus_minus_cm"] is None:
        return False
    return abs(now_cm - edge["cm"]) < edge["plus_minus_cm"] / 2.0


def edge_words(edge: Mapping[str, Any], word: str, beyond: str) -> str:
    """One end of a clear stretch; `beyond`, below or above, where it lies farther than was looked."""
    if edge["cm"] is None:
        return f"{word} {beyond} {number(edge['looked_cm'], 0)}{NBSP}cm (not looked farther)"
    unsure = "" if edge["plus_minus_cm"] is None else f"{NBSP}±{NBSP}{number(edge['plus_minus_cm'], 0)}"
    limit = limit_words(edge["side"], edge["limit"])
    return f"{word} {number(edge['cm'], 0)}{unsure}{NBSP}cm ({limit[:1].lower() + limit[1:]}{at_edge(edge, '°')})"


def register(app: Dash, store: Store) -> None:
    """Another set-up is an address of its own."""

    @app.callback(
        Output("address", "search", allow_duplicate=True),
        Input("placement-setup", "value"),
        State("address", "search"),
        prevent_initial_call=True,
    )
    def other(setup: str | None, search: str | None) -> Any:
        try:
            participant = chosen(store.participants(), search)
        except FootroomError:
            return no_update
        if not setup or participant is None or asked(search, "setup") == setup:
            return no_update
        return f"?participant={quote(participant)}&setup={quote(setup)}"
