"""Set-up geometry page: every set-up as measured, what is unusual, what was changed, how it felt, how to measure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any
from urllib.parse import quote

import numpy as np
from dash import dcc, html

from ...analysis.fit import fit_of, slope_apart
from ...analysis.fitting import feet_of, is_settled
from ...analysis.range_report import on_the_pedal
from ...analysis.setups import other_height
from ...logger.errors import InputError
from ...logger.models import SIDES, Setup
from ...logger.setup_checks import setup_findings
from ..figures.measuring_guide import GUIDE, guide_drawing
from ..figures.svg import as_address
from ..fittings import Known, read_known
from ..store import Store
from ..wording import NBSP, as_typed, counted, degree_span, degrees, in_brackets, sentence
from .people import chosen, nobody, page_head
from .shell import Page, empty, table

TITLE = "Set-ups as measured"
MEASURES: dict[str, tuple[str, str]] = {
    "throne_height_cm": ("Throne height, loaded", "cm"),
    "seat_unloaded_cm": ("Seat with nobody on it", "cm"),
    "seat_compression_cm": ("Seat gives by", "cm"),
    "reach_cm": ("Reach, hip to ankle", "cm"),
    "spacing_cm": ("Spacing, ball to ball", "cm"),
    "footboard_pitch_deg": ("Footboard pitch", "°"),
    "footboard_length_cm": ("Footboard length", "cm"),
    "foot_splay_deg": ("Foot splay, toes out", "°"),
    "heel_plate_cm": ("Heel plate above the floor", "cm"),
    "footwear": ("Footwear", ""),
    "shoe_heel_cm": ("Sole under the heel", "cm"),
    "shoe_drop_mm": ("Drop of the shoe", "mm"),
    "thigh_slope_deg": ("Thigh slope, knee up positive", "°"),
    "torso_lean_deg": ("Trunk leans forward", "°"),
    "torso_thigh_deg": ("Trunk to thigh", "°"),
    "snare_diameter_in": ("Snare, diameter", "in"),
    "snare_forward_cm": ("Snare, centre ahead of the hips", "cm"),
    "snare_right_cm": ("Snare, centre to the right", "cm"),
    "snare_rim_cm": ("Snare, rim above the floor", "cm"),
    "snare_depth_in": ("Snare, depth", "in"),
    "stand_spread_cm": ("Stand, across its feet", "cm"),
}
OTHER_WORDS = {
    "throne_settled": "throne settled",
    "comfort_0_10": "comfort",
    "balance_0_10": "balance",
    "control_0_10": "control",
    "chosen": "chosen",
    "note": "note",
    "keep_clear": "kept clear of",
}


def geometry_page(store: Store, search: str | None) -> Page:
    """The page for the participant named in `search`, the address's query."""
    people = store.participants()
    participant = chosen(people, search)
    if participant is None:
        return Page("Set-up geometry", [html.H1(TITLE, tabIndex="-1"), nobody(store), guide_section()])
    known = read_known(store, participant)
    line = f"{participant}: {counted(len(known.setups), 'set-up')}"
    head = page_head(TITLE, line, people, participant)
    query = f"?participant={quote(participant)}"
    links = html.P(
        [dcc.Link("Checklist of a fitting session, for paper", href=f"/checklist{query}"), " · ",
         dcc.Link("Where the pedals may stand", href=f"/placement{query}")],
        className="note",
    )  # fmt: skip
    if not known.setups:
        command = (
            f"footroom setup near throne_height_cm=50 reach_cm=43 spacing_cm=46 --logbook {store.path.name!r} "
            f"--participant {participant}"
        )
        none = empty("No set-up is known yet", "Measure one as shown below and note it:", command=command)
        return Page(f"Set-ups of {participant}, measured", [head, links, none, guide_section()])
    cards = [setup_card(known, name) for name in reversed(known.setups)]
    content = [head, links, order_section(known), *cards, person_section(known), guide_section()]
    return Page(f"Set-ups of {participant}, measured", content)


def order_section(known: Known) -> html.Section:
    """Where the fitting stands: the throne first, then what is still missing."""
    latest = list(known.setups.values())[-1][1]
    height, settled = latest.seat_height_cm, is_settled(latest, known.setups)
    told: list[Any] = []
    if height is None:
        told.append(html.P("First the throne: its height is not measured yet.", className="lead"))
    elif not settled:
        told.append(
            html.P(
                f"First the throne: {height:g}{NBSP}cm on ‘{latest.name}’ is not marked as settled. Agree on slope of "
                "the thigh, trunk-to-thigh angle and balance; then the pedals.",
                className="lead",
            )
        )
    else:
        told.append(html.P(f"The throne is settled at {height:g}{NBSP}cm.", className="lead"))
    others = [n for n, (_, s) in known.setups.items() if other_height(s.seat_height_cm, height)]
    if others:
        names = ", ".join(f"‘{name}’" for name in others)
        told.append(html.P(f"At another throne height, so not comparable: {names}. Check the range again at this one."))
    picked = [name for name, (_, setup) in known.setups.items() if setup.chosen]
    if picked:
        told.append(html.P(f"Chosen by {known.person.id}: ‘{picked[-1]}’."))
    return html.Section([html.H2("In short", className="eyebrow"), *told], className="short")


def setup_card(known: Known, name: str) -> html.Article:
    """One set-up: measures, findings, posture, how it felt, the lift test, and what was changed."""
    when, setup = known.setups[name]
    marks = [mark for mark, on in (("chosen", setup.chosen), ("throne settled", setup.throne_settled)) if on]
    findings = [finding.sentence for finding in setup_findings(known.person, setup)]
    posture, problem = posture_words(known, setup)
    return html.Article(
        [
            html.H2([name, html.Span(f" {', '.join(marks)}", className="term") if marks else None]),
            html.P(f"As of {day_of(when)}.", className="how"),
            _findings([*findings, *([problem] if problem and not any(problem in one for one in findings) else [])]),
            measures_table(setup),
            html.P(posture) if posture else None,
            html.P(_felt(setup)),
            _pedal(known, name),
            history(known, name),
        ],
        className="card large",
    )


def _findings(sentences: Sequence[str]) -> Any:
    if not sentences:
        return None
    items = [html.Li(sentence(text)) for text in sentences]
    return html.Div([html.P(html.Strong("Look at this")), html.Ul(items)], className="findings")


def measures_table(setup: Setup) -> html.Div:
    """What is known, both feet and each foot where they differ; and what stands in the way."""
    rows = []
    for key, (words, unit) in MEASURES.items():
        both = getattr(setup, key, None)
        sides = [None if own is None else getattr(own, key, None) for own in (setup.right, setup.left)]
        if both is None and not any(value is not None for value in sides):
            continue
        parts = [] if both is None else [_value(both, unit)]
        parts += [f"{side} foot {_value(v, unit)}" for side, v in zip(SIDES, sides, strict=True) if v is not None]
        rows.append([words, ", ".join(parts)])
    for thing in setup.keep_clear:
        where = f"{thing.forward_cm:g}{NBSP}cm ahead, {thing.right_cm:g}{NBSP}cm to the right"
        rows.append([f"Kept clear of: {thing.name}", f"{where}, {thing.diameter_cm:g}{NBSP}cm across"])
    return table("As measured; what is not listed is not known.", ["Measure", "Value"], rows, "two-columns")


def _value(value: Any, unit: str) -> str:
    if isinstance(value, str):
        return value
    return f"{as_typed(value)}{unit if unit == '°' else NBSP + unit}"


def posture_words(known: Known, setup: Setup) -> tuple[str, str | None]:
    """How somebody of these lengths sits there, by the model; and the problem where they cannot, or sit otherwise."""
    try:
        fit = fit_of(known.person, setup, sides=feet_of(setup) or SIDES)
    except InputError as error:
        missing = setup.seat_height_cm is None or setup.spacing_cm is None or not feet_of(setup)
        return "", None if missing else str(error)
    said = []
    for side in fit.legs:
        rest = fit.poses(side)["rest"]
        slope, trunk = float(np.degrees(rest.thigh_slope)), float(np.degrees(rest.torso_thigh))
        way = "up" if slope > 0 else "down"
        said.append(f"{side} thigh {degrees(abs(slope), 0)} {way} to the knee, trunk to thigh {degrees(trunk, 0)}")
    return f"At rest on the pedals, by the model: {'; '.join(said)}.", slope_apart(fit, setup)


def _felt(setup: Setup) -> str:
    values = [
        f"{words} {value:g}"
        for words, value in (
            ("comfort", setup.comfort_0_10), ("balance", setup.balance_0_10), ("control", setup.control_0_10),
        )
        if value is not None
    ]  # fmt: skip
    said = f"How it felt (0-10): {', '.join(values)}." if values else "How it felt is not noted."
    return said + (f" “{setup.note}”" if setup.note else "")


def _pedal(known: Known, name: str) -> Any:
    """The last lift test and rest of each foot on this set-up."""
    latest = {one["side"]: one for one in on_the_pedal(known.sessions, known.exposures) if one["setup"] == name}
    if not latest:
        return html.P("The lift test was not recorded here.", className="how")
    items = []
    for side, one in latest.items():
        parts = []
        if one["lifted_deg"] is not None:
            little = "" if one["lifted"] else ": hardly lifted, try the pedal farther"
            sure = in_brackets(degree_span(one["band_lifted_deg"]))
            parts.append(f"the forefoot is lifted {degrees(one['lifted_deg'])}{sure}{little}")
        if one["room_at_rest_deg"] is not None:
            sure = in_brackets(degree_span(one["band_room_at_rest_deg"]))
            parts.append(f"{degrees(one['room_at_rest_deg'])} left at rest{sure}")
        items.append(html.Li(f"{side.capitalize()} foot: {'; '.join(parts)} ({one['session']})."))
    return html.Div([html.P("On the pedal:"), html.Ul(items)])


def history(known: Known, name: str) -> html.Details:
    """What was changed, the newest first."""
    entries = known.notes.history(name, known.sessions)
    items = [
        html.Li(f"{day_of(when)}: {'; '.join(_change(*one) for one in changes.items()) or 'measured again, the same'}")
        for when, changes in reversed(entries)
    ]
    return html.Details([html.Summary(f"What was changed ({len(entries)})"), html.Ul(items)], className="rests")


def _change(key: str, change: tuple[Any, Any]) -> str:
    side, _, inner = key.rpartition(".")
    words, unit = MEASURES.get(inner, (OTHER_WORDS.get(inner, inner.replace("_", " ")), ""))
    before, after = (_plain(value, unit) for value in change)
    whose = f" ({side} foot)" if side else ""
    return f"{words.lower()}{whose} {after}" if change[0] is None else f"{words.lower()}{whose} {before} to {after}"


def _plain(value: Any, unit: str) -> str:
    if value is None:
        return "not known"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(str(one.get("name", one)) if isinstance(one, Mapping) else str(one) for one in value) or "none"
    return value if isinstance(value, str) else _value(value, unit).strip()


def day_of(when: datetime) -> str:
    """`3 November 2026`."""
    return f"{when.day} {when:%B %Y}"


def person_section(known: Known) -> html.Section:
    """Lengths of the person, measured or from stature."""
    person = known.person
    names = {
        "stature_cm": "Stature", "thigh_length_cm": "Thigh", "shank_length_cm": "Shank",
        "ball_to_ankle_cm": "Ball of the foot to ankle", "hip_width_cm": "Between the hip centres",
        "thigh_width_cm": "Width of the sitting thigh",
    }  # fmt: skip
    rows = []
    for key, words in names.items():
        value = getattr(person, key)
        otherwise = "not known" if key == "stature_cm" else "from stature"
        rows.append([words, otherwise if value is None else _value(value, "cm")])
    return html.Section([html.H2("The person"), table("Lengths as typed.", ["Length", "Value"], rows, "two-columns")])


def guide_section() -> html.Section:
    """How to measure, with a drawing each."""
    figures = [
        html.Figure(
            [
                html.Figcaption(html.Strong(title)),
                html.Img(src=as_address(guide_drawing(name)), alt=f"Drawing: {title.lower()}"),
                html.P(words),
            ],
            className="drawing",
        )
        for name, title, words in GUIDE
    ]
    intro = "A tape, a plumb line (a shoe on a lace will do) and a phone with a level. The person sits as for playing."
    return html.Section(
        [html.H2("How to measure"), html.P(intro, className="how"), html.Div(figures, className="guide")]
    )
