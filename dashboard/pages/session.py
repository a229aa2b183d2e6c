"""Session page: what happened in one session, over time and as figures, with its quality in words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from dash import dcc, html

from ...logger.models import Session
from ..store import Store, read_entry
from ..summary import SIDES
from ..wording import (
    MOTION_WORDS,
    RANGE_SOURCE_WORDS,
    WHAT_A_BAND_IS,
    clock,
    degree_span,
    degrees,
    geometry,
    minutes,
    motion_title,
    percent,
    percent_span,
    rooms_sentence,
    share_sentence,
)
from .quality import day, playing_minutes, quality_list, quality_words, withheld_list
from .session_playing import playing_section
from .session_traces import available_views, first_figure, traces_section
from .shell import Page, empty, table


def session_page(store: Store, session_id: str) -> Page:
    """The page of one session, or words where there is none or it is not analysed."""
    entry = read_entry(store, session_id)
    if isinstance(entry, str):
        return Page("No such session", [html.H1("No such session", tabIndex="-1"), html.P(entry)], found=False)
    session = entry.session
    back = dcc.Link("All sessions", href=f"/sessions?participant={session.participant.id}")
    content: list[Any] = [
        html.P(back, className="back"),
        html.H1(f"{session.participant.id}, {day(entry)}", tabIndex="-1"),
        html.P([f"{playing_minutes(entry)} of playing. Quality: ", *quality_words(entry)], className="quality-line"),
        html.P(session.note) if session.note else None,
        came_from(session),
    ]
    if entry.exposure is None:
        todo = empty(
            "No figures yet",
            str(entry.problem),
            command=f'footroom analyze {session.id} --logbook "{store.path.name}"',
        )
        return Page(session.id, [*content, todo, setups_section(session)])
    views = available_views(store.angle_columns(session_id))
    content += [
        in_short(entry.exposure),
        traces_section(session, views, first_figure(store, entry, views)),
        html.Section(
            [
                html.H2("Quality"),
                *quality_list(entry.exposure, session),
                html.H3("Withheld figures"),
                withheld_list(entry.exposure),
                _import_notes(session),
            ]
        ),
        exposure_section(entry.exposure),
        playing_section(session.id, entry.exposure),
        setups_section(session),
    ]
    return Page(session.id, content)


def came_from(session: Session) -> html.P | None:
    """Says of a recording that nobody wore its clips; None for all others."""
    virtual = "virtual" in session.source.get("heard_through", "")
    return html.P("From virtual clips: for trying out, nobody wore them.") if virtual else None


def in_short(exposure: Mapping[str, Any]) -> html.Section | None:
    """The session in a sentence or two a foot: time near the end, toes up, with each set-up, and the room left."""
    lines: list[Any] = []
    for side in SIDES[:2]:
        on = {
            name: figures
            for name, sides in exposure["setups"].items()
            if (figures := (sides.get(side) or {}).get("ankle_dorsiflexion"))
        }
        if not on:
            continue
        zone = next(iter(on.values()))["zone_deg"]
        shares = {name: one.get("share_near_end") for name, one in on.items()}
        bands = {name: one.get("band_near_end") for name, one in on.items()}
        rooms = {name: (one.get("median_room_deg"), one.get("band_median_room_deg")) for name, one in on.items()}
        text = f"{share_sentence(zone, shares, bands)} {rooms_sentence(rooms)}"
        lines.append(html.P([html.Strong(f"{motion_title(side, 'ankle_dorsiflexion')}: "), text]))
    if not lines:
        return None
    more = "In brackets: where the figure lies in 19 of 20 sessions. One evening alone tells no set-ups apart."
    return html.Section(
        [html.H2("In short", className="eyebrow"), *lines, html.P(more, className="how")], className="short"
    )


def exposure_section(exposure: Mapping[str, Any]) -> html.Section:
    """The figures of one session: a table for each set-up, a row for each side and motion."""
    tables: list[Any] = []
    head = ["Motion", "End of range", "Median room", "95 % band", "Time in end zone", "95 % band"]
    head += ["Past the end", "Known playing"]
    for name, sides in exposure["setups"].items():
        rows = _figure_rows(sides)
        if rows:
            caption = f"With ‘{name}’. {_sources(sides)}"
            tables += [html.H3(f"‘{name}’"), table(caption, head, rows, "figures-of-session"), _bands(sides)]
    together = _figure_rows(exposure.get("whole_session") or {})
    if together:
        caption = "All playing of this session added up, whatever the set-up."
        tables += [html.H3("Together"), table(caption, head, together, "figures-of-session")]
    if not tables:
        tables = [html.P("All figures of this session are withheld; the reasons stand above.")]
    return html.Section([html.H2("Figures"), *tables])


def _figure_rows(sides: Mapping[str, Any]) -> list[list[Any]]:
    order = list(MOTION_WORDS)
    rows: list[list[Any]] = []
    for side in SIDES:
        motions = sides.get(side) or {}
        for motion in sorted(motions, key=lambda one: order.index(one) if one in order else len(order)):
            one = motions[motion]
            near = one.get("share_near_end")
            rows.append(
                [
                    motion_title(side, motion),
                    degrees(one.get("active_end_deg")),
                    degrees(one.get("median_room_deg")),
                    degree_span(one.get("band_median_room_deg")),
                    "no end zone" if near is None else percent(near),
                    percent_span(one.get("band_near_end")),
                    percent(one.get("share_past_end")),
                    minutes(one.get("known_s")),
                ]
            )
    return rows


def _sources(sides: Mapping[str, Any]) -> str:
    """Where the ends of range are from: once when it is the same for all, else motion by motion."""
    by_source: dict[str, list[str]] = {}
    for side in SIDES:
        for motion, one in (sides.get(side) or {}).items():
            source = RANGE_SOURCE_WORDS.get(one.get("range_source"), "an unknown source")
            by_source.setdefault(source, []).append(motion_title(side, motion))
    if len(by_source) == 1:
        return f"Ends of range are from {next(iter(by_source))}."
    return " ".join(f"{'; '.join(names)}: end from {source}." for source, names in by_source.items())


def _bands(sides: Mapping[str, Any]) -> html.Details | None:
    """What a band is, and what those of this set-up rest on, folded away."""
    by_text: dict[str, list[str]] = {}
    for side in SIDES:
        for motion, one in (sides.get(side) or {}).items():
            if one.get("band_rests_on"):
                half = one.get("band_half_width_deg")
                text = one["band_rests_on"] if half is None else f"{degrees(half)} either way: {one['band_rests_on']}"
                by_text.setdefault(text, []).append(motion_title(side, motion))
    if not by_text:
        return None
    items = [html.Li([html.Strong("; ".join(names)), f": {text}."]) for text, names in by_text.items()]
    return html.Details(
        [html.Summary("What the bands rest on"), html.P(WHAT_A_BAND_IS), html.Ul(items)], className="rests"
    )


def setups_section(session: Session) -> html.Section:
    """Set-ups and phases as recorded."""
    rows = [
        [setup.name, geometry(setup.model_dump(exclude={"name"}, exclude_none=True)) or "not measured"]
        for setup in session.setups
    ]
    phases = [
        f"{clock(phase.start_s)} to {clock(phase.end_s)} {phase.name.replace('_', ' ')}"
        + (f", ‘{phase.setup}’" if phase.setup else "")
        + (f", {phase.exercise}" if phase.exercise else "")
        + (f", {phase.tempo_bpm:g} beats a minute" if phase.tempo_bpm else "")
        for phase in session.phases
    ]
    return html.Section(
        [
            html.H2("Set-ups and phases"),
            table("As measured.", ["Set-up", "Measures"], rows),
            html.Details(
                [
                    html.Summary(f"The {len(phases)} phases of the recording"),
                    html.Ol([html.Li(text) for text in phases]),
                ],
                className="rests",
            ),
        ]
    )


def _import_notes(session: Session) -> Any:
    if not session.warnings:
        return None
    return html.Div(
        [html.H3("Noticed at import"), html.Ul([html.Li(text) for text in session.warnings], className="plain-list")]
    )
