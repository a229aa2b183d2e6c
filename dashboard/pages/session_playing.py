"""The part of a session's page on how each foot played: a few sentences, and every figure folded away beside them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from dash import MATCH, Dash, Input, Output, State, html, no_update

from ...analysis.measure_registry import MOTION_MEASURES, PLAYING_MEASURES, REGISTRY, MeasureInfo
from ...logger.cautions import STOP_TODAY
from ..playing_words import foot_sentences
from ..store import Store, read_entry
from ..summary import SIDES
from ..wording import (
    MOTION_WORDS,
    degree_span,
    degrees,
    in_brackets,
    minutes,
    motion_title,
    number,
    percent,
    percent_span,
)
from .shell import table

SWEPT = {
    "share_by_room_deg": "band_by_room_deg", "share_by_fraction": "band_by_fraction", "relative_cycle_damage": None,
}  # fmt: skip
"""Figures that are a column of numbers each, and their bands: a table of their own."""
DRAWN = (*SWEPT, "room_histogram", "blocks", "level_duration", "stays_by_duration", "by_exercise", "band_rests_on")
DRAWN += ("band_by_room_deg", "band_by_fraction", "bands", "not_known")
"""Figures that have a place or words of their own."""
IN_BRACKETS = "In brackets, where it makes a difference: where the figure may really lie (95 %)"
DIGITS = {"deg": 1, "deg s": 1, "s": 2, "s/min": 1, "1/min": 1, "0-1": 3, "ms": 1, "1/s": 2, "cm": 1, "deg/min": 2}


def playing_section(session_id: str, exposure: Mapping[str, Any]) -> html.Section | None:
    """Sentences for each set-up and foot, and a fold for all figures; None where nothing was told."""
    parts: list[Any] = []
    for setup in exposure["setups"]:
        feet = (exposure.get("playing") or {}).get(setup) or {}
        told: list[Any] = []
        for side, figures in feet.items():
            toes_up = (exposure["setups"][setup].get(side) or {}).get("ankle_dorsiflexion")
            items = [html.Li(text) for text in foot_sentences(figures, toes_up)]
            told += [html.H4(f"{side.capitalize()} foot"), html.Ul(items, className="plain-list")]
        if told or any(exposure["setups"][setup].values()):
            parts += [html.H3(f"‘{setup}’"), *told, _fold(session_id, setup)]
    if not parts:
        return None
    return html.Section([html.H2("How it was played"), *parts, html.P(STOP_TODAY, className="how")], className="played")


def _fold(session_id: str, setup: str) -> html.Details:
    name = f"{session_id}/{setup}"
    return html.Details(
        [
            html.Summary(f"Every figure with ‘{setup}’", id={"type": "every-figure", "name": name}),
            html.Div(html.P("Reading …"), id={"type": "every-figure-tables", "name": name}),
        ],
        className="rests every",
    )


def every_figure(exposure: Mapping[str, Any], setup: str) -> list[Any]:
    """Tables of all figures of a set-up, driven by the registry of measures: per motion, per foot, level x duration."""
    sides = exposure["setups"].get(setup) or {}
    feet = (exposure.get("playing") or {}).get(setup) or {}
    motions = {
        (side, motion): figures
        for side in SIDES
        for motion in MOTION_WORDS
        if (figures := (sides.get(side) or {}).get(motion))
    }
    out: list[Any] = []
    for side in SIDES:
        mine = {motion_title(side, motion): figures for (one, motion), figures in motions.items() if one == side}
        if mine:
            caption = "Per motion. Shares are of known playing time, 0 to 1; a dash is not known, or has no meaning. "
            caption += f"{IN_BRACKETS}."
            rows = list(_rows(MOTION_MEASURES, list(mine.values())))
            out.append(table(caption, ["Figure", "Name", *mine], rows, "every-figure"))
            out += [_sweep(name, mine) for name in SWEPT if any(figures.get(name) for figures in mine.values())]
    if feet:
        head = ["Figure", "Name", *(f"{side.capitalize()} foot" for side in feet)]
        flat = [_flat(figures) for figures in feet.values()]
        out.append(table("Per foot.", head, list(_rows(PLAYING_MEASURES, flat)), "every-figure"))
        unknown = [
            html.Li([html.Strong(f"{side.capitalize()} foot, {name.replace('_', ' ')}"), f": {reason}."])
            for side, figures in feet.items()
            for name, reason in (figures.get("not_known") or {}).items()
        ]
        out += [html.H4("Not known"), html.Ul(unknown)] * bool(unknown)
    titled = {motion_title(side, motion): figures for (side, motion), figures in motions.items()}
    out += [*_exercises(titled, feet), *_visits(titled)]
    for title, figures in titled.items():
        if figures.get("level_duration"):
            out.append(_levels(f"{title}: ", figures["level_duration"]))
    meaning = [
        html.Li([html.Code(m.name), f" [{m.unit}] {m.definition} Source: {m.source}."]) for m in REGISTRY.values()
    ]
    out.append(html.Details([html.Summary("How each is computed, and where that comes from"), html.Ul(meaning)]))
    return out


def _rows(measures: Sequence[MeasureInfo], columns: Sequence[Mapping[str, Any]]) -> Iterator[list[Any]]:
    for measure in measures:
        if measure.name in DRAWN or all(column.get(measure.name) is None for column in columns):
            continue
        unit = "" if measure.unit == "-" else f" [{measure.unit}]"
        name = html.Span([html.Code(measure.name), unit])
        yield [measure.plain, name, *(_banded(column, measure) for column in columns)]


def _banded(column: Mapping[str, Any], measure: MeasureInfo) -> str:
    """A cell with its band behind it, where the figure has one that stands in no row of its own."""
    return _with_band(column.get(measure.name), (column.get("bands") or {}).get(measure.name), measure.unit)


def _with_band(value: Any, band: Sequence[Any] | None, unit: str) -> str:
    """`0.55 (0.11 to 0.62)`; the figure alone where its band is not known or leaves it as it is."""
    text = _value(value, unit)
    if band is None or all(_value(one, unit) == text for one in band):
        return text
    return f"{text} ({_value(list(band), unit)})"


def _sweep(name: str, columns: Mapping[str, Mapping[str, Any]]) -> Any:
    """A table of one swept figure: a row per line, fraction or exponent, a column per motion."""
    measure = REGISTRY[name]
    found = {title: figures.get(name) or {} for title, figures in columns.items()}
    found = {title: one.get("per_minute", one) or {} for title, one in found.items()}
    bands = [figures.get(SWEPT[name] or "") or {} for figures in columns.values()]
    keys = dict.fromkeys(key for one in found.values() for key in one)
    rows = [
        [
            key,
            *(
                _with_band(one.get(key), band.get(key), measure.unit)
                for one, band in zip(found.values(), bands, strict=True)
            ),
        ]
        for key in keys
    ]
    caption = f"{measure.plain} {name} [{measure.unit}]: {measure.definition}"
    caption += f" {IN_BRACKETS}." if any(bands) else ""
    return table(caption, ["At", *found], rows, "every-figure")


def _flat(figures: Mapping[str, Any]) -> dict[str, Any]:
    """Figures of a foot by the names of the registry, nested ones brought up."""
    out = dict(figures)
    for name in ("strokes", "knee"):
        out |= figures.get(name) or {}
    out |= (out.get("evenness") or {}) | {"strokes": None, "evenness": None, "knee": None, "trends": None}
    for name, trend in (figures.get("trends") or {}).items():
        if trend is not None and name != "excursion_deg":
            out[name] = trend
    timing = [one.get("timing") for one in figures.get("by_exercise") or []]
    out["timing"] = next((one for one in timing if one), None)
    return out


def _value(value: Any, unit: str) -> str:
    """A cell: numbers with the digits of their unit, bands as `a to b`, several as `name a; name b`."""
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return number(value, DIGITS.get(unit, 2))
    if isinstance(value, Mapping):
        return "; ".join(f"{key.replace('_', ' ')}: {_value(one, unit)}" for key, one in value.items())
    if isinstance(value, list):
        cells = [_value(one, unit) for one in value]
        return " to ".join(cells) if len(cells) == 2 else ", ".join(cells) or "–"
    return str(value)


def _exercises(motions: Mapping[str, Mapping[str, Any]], feet: Mapping[str, Mapping[str, Any]]) -> Iterator[Any]:
    """Room and time near the end, and strokes, by exercise and tempo; nothing where no exercise or tempo was named."""
    rows = [
        [
            title,
            *_exercise(one),
            minutes(one["known_s"]),
            degrees(one["mean_block_room_deg"]) + in_brackets(degree_span(one.get("band_mean_block_room_deg"))),
            percent(one["share_near_end"]) + in_brackets(percent_span(one.get("band_near_end"))),
        ]
        for title, figures in motions.items()
        for one in _named(figures)
    ]
    if rows:
        head = ["Motion", "Exercise", "Tempo [1/min]", "Known playing", "Mean room of blocks", "Time in end zone"]
        yield table(f"By exercise and tempo. {IN_BRACKETS}.", head, rows)
    rows = [
        [
            f"{side.capitalize()} foot",
            *_exercise(one),
            str(one["strokes"]),
            _value(one["rate_per_s"], "1/s"),
            degrees(one["median_excursion_deg"]),
            _value((one.get("evenness") or {}).get("sd_ms"), "ms"),
            _value((one.get("timing") or {}).get("off_grid_ms"), "ms"),
        ]
        for side, figures in feet.items()
        for one in _named(figures)
    ]
    if rows:
        head = ["Foot", "Exercise", "Tempo [1/min]", "Strokes", "Rate [1/s]", "Median excursion", "Varies by [ms]"]
        yield table("Strokes by exercise and tempo, one row a phase.", [*head, "Off the grid [ms]"], rows)


def _named(figures: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    found = figures.get("by_exercise") or []
    return [one for one in found if one["exercise"] is not None or one["tempo_bpm"] is not None]


def _exercise(one: Mapping[str, Any]) -> tuple[str, str]:
    tempo = one["tempo_bpm"]
    return one["exercise"] or "–", "–" if tempo is None else f"{tempo:g}"


def _visits(motions: Mapping[str, Mapping[str, Any]]) -> Iterator[Any]:
    """Stays in the end zone by how long they were: their number, and their share of the time with its band."""
    found = {title: stays for title, figures in motions.items() if (stays := figures.get("stays_by_duration"))}
    rows = [
        [title, *(f"{count}: {_cell(*cell)}" if count else _cell(*cell) for count, *cell in _cells(stays, "count"))]
        for title, stays in found.items()
    ]
    if rows:
        names = next(iter(found.values()))["durations_s"]
        caption = f"Stays in the end zone by their length: how many, and their share of time [%]. {IN_BRACKETS}."
        yield table(caption, ["Motion", *(f"{one} s" for one in names)], rows)


def _cells(figures: Mapping[str, Any], *names: str) -> Iterator[tuple[Any, ...]]:
    """Each class of a table: named figures, then share, low and high (the share itself where no band is known)."""
    low, high = (figures.get(name) or figures["share"] for name in ("low", "high"))
    return zip(*(figures[name] for name in names), figures["share"], low, high, strict=True)


def _levels(title: str, levels: Mapping[str, Any]) -> Any:
    head = ["Room [deg]", *(f"{one} s" for one in levels["durations_s"])]
    rows = [
        [level, *(_cell(*cell) for cell in zip(*cells, strict=True))] for level, *cells in _cells(levels, "levels_deg")
    ]
    caption = f"{title}share of time [%] by room and by how long it stayed there without a break. {IN_BRACKETS}."
    return table(caption, head, rows)


def _cell(share: float, low: float, high: float) -> str:
    """`12 (3 to 20)` in percent; a dash where there is none at all."""
    span = f" ({number(100 * low, 0)} to {number(100 * high, 0)})" if high > low else ""
    return f"{number(100 * share, 0)}{span}" if high > 0 else "–"


def register(app: Dash, store: Store) -> None:
    """The callback of the fold: its tables are made when it is opened for the first time."""

    @app.callback(
        Output({"type": "every-figure-tables", "name": MATCH}, "children"),
        Input({"type": "every-figure", "name": MATCH}, "n_clicks"),
        State({"type": "every-figure", "name": MATCH}, "id"),
        prevent_initial_call=True,
    )
    def unfold(clicks: int | None, name: dict[str, str]) -> Any:
        if clicks != 1:
            return no_update
        session_id, _, setup = name["name"].partition("/")
        entry = read_entry(store, session_id)
        if isinstance(entry, str) or entry.exposure is None:
            return no_update
        return every_figure(entry.exposure, setup)
