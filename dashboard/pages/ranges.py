"""Range page: the range sheet of one person, every repetition, what can be told, what was before. For paper as well."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, cast
from urllib.parse import quote

from dash import dcc, html

from ...analysis.active_range import METHODS, Method
from ...analysis.fitting_reports import range_report
from ...analysis.motions import SIDED_MOTIONS
from ...analysis.range_table import METHOD_WORDS, ended, repetition_text
from ..figures.range_strip import history_drawing, repetition_drawing
from ..figures.svg import as_address
from ..fittings import read_known
from ..store import Store
from ..wording import (
    MOTION_WORDS,
    NBSP,
    counted,
    degree_span,
    degrees,
    in_brackets,
    motion_term,
    motion_title,
    number,
    sentence,
)
from .people import asked, chosen, nobody, page_head
from .shell import Page, empty, table

TITLE = "How far the joints go"
HOW_WORDS = {"clips": "with clips", "typed at import": "by hand, typed at import", "phone": "with a phone",
             "goniometer": "with a goniometer", "inclinometer": "with an inclinometer", "other": "by hand"}  # fmt: skip
HOW_TO_READ = (
    "Repetitions run from the first (top) to the last: hollow is practice or not held, filled counts, a cross was not "
    "valid; a thin line leads to its peak. The thick line is the end of range; the shading around it is the smallest "
    "change that can be told from error. Published means are for orientation, never targets."
)


def ranges_page(store: Store, search: str | None) -> Page:
    """The range sheet of the participant named in `search`, the address's query; `method` may be asked for there."""
    people = store.participants()
    participant = chosen(people, search)
    if participant is None:
        return Page("Range", [html.H1(TITLE, tabIndex="-1"), nobody(store)])
    method = _asked(search)
    known = read_known(store, participant)
    sheet = range_report(participant, known.sessions, known.exposures, known.notes, method=method)
    measured = counted(len(sheet["ranges"]), "motion")
    head = page_head(TITLE, f"{participant}: {measured} measured", people, participant)
    care = html.P([html.Strong("Before a range check: "), sheet["caution"]], className="note")
    title = f"Range of {participant}"
    if not sheet["ranges"]:
        command = (
            f"footroom range right.ankle_dorsiflexion=15,16,16.5 --logbook {store.path.name!r} "
            f"--participant {participant}"
        )
        by_hand = "By hand, kept repetitions in order:"
        none = empty("No range was measured yet", sheet["conditions"], by_hand, command=command)
        return Page(title, [head, care, none])
    content = [head, care, in_short(sheet), _method_line(participant, method), html.P(HOW_TO_READ, className="how")]
    for motion in SIDED_MOTIONS:
        rows = [row for row in sheet["ranges"] if row["motion"] == motion]
        if rows:
            content.append(motion_card(rows))
    content += [pedal_section(sheet["on_the_pedal"]), slide_section(sheet["slides"])]
    content.append(html.Section([html.H2("How it is measured"), html.P(sheet["conditions"])]))
    return Page(title, content)


def _asked(search: str | None) -> Method:
    method = asked(search, "method")
    return METHODS[METHODS.index(cast(Method, method))] if method in METHODS else METHODS[0]


def _method_line(participant: str, method: Method) -> html.P:
    links: list[Any] = ["End of range: "]
    for index, one in enumerate(METHODS):
        links.append(" · " if index else "")
        if one == method:
            links.append(html.Strong(METHOD_WORDS[one]))
        else:
            links.append(dcc.Link(METHOD_WORDS[one], href=f"/range?participant={quote(participant)}&method={one}"))
    return html.P(links, className="screen-only note")


def in_short(sheet: Mapping[str, Any]) -> html.Section:
    """What stands out: sides that differ, tests to repeat, another throne height, what is missing."""
    told: list[Any] = []
    apart = [one for one in sheet["side_differences"] if one["note"] != "within the error of measuring"]
    for one in apart:
        joint, move, _ = MOTION_WORDS[one["motion"]]
        more = "right" if one["right_minus_left_deg"] > 0 else "left"
        told.append(
            html.P(
                f"{joint.capitalize()}, {move}: the {more} goes {degrees(abs(one['right_minus_left_deg']))} farther: "
                f"{one['note']} ({degrees(one['detectable_deg'])}).",
                className="lead",
            )
        )
    if sheet["side_differences"] and not apart:
        count = len(sheet["side_differences"])
        words = (
            "Right and left differ by no more than the error of measuring in all "
            f"{counted(count, 'motion')} measured on both sides."
        )
        told.append(html.P(words, className="lead"))
    elsewhere = [row for row in sheet["ranges"] if row["other_height"]]
    if elsewhere:
        names = "; ".join(motion_title(row["side"], row["motion"]) for row in elsewhere)
        height = f"{sheet['throne_height_cm']:g}{NBSP}cm"
        told.append(html.P(f"Measured at another throne height than now ({height}): {names}. Check again."))
    again = [
        row for row in sheet["ranges"] if any("again" in m or "add one" in m or "valid" in m for m in row["messages"])
    ]
    if again:
        names = "; ".join(motion_title(row["side"], row["motion"]) for row in again)
        told.append(html.P(f"To repeat: {names}. The reasons stand below."))
    sides = {row["side"] for row in sheet["ranges"]}
    if len(sides) == 1:
        told.append(html.P(f"Measured on the {sides.pop()} side only.", className="lead"))
    elif sheet["missing_sides"]:
        told.append(html.P(f"Not measured on the other side: {', '.join(sheet['missing_sides'])}."))
    return html.Section([html.H2("In short", className="eyebrow"), *told], className="short")


def motion_card(rows: Sequence[Mapping[str, Any]]) -> html.Article:
    """One motion, both sides."""
    motion = rows[0]["motion"]
    joint, move, _ = MOTION_WORDS[motion]
    head = ["Side", "End of range", "Repetitions", "Growth", "Smallest change that can be told", "Measured"]
    body = [
        [
            row["side"],
            degrees(row["end_deg"]) + _spread(row),
            ", ".join(repetition_text(rep) for rep in row["repetitions"]),
            _growth(row),
            degrees(row["minimal_detectable_change_deg"]),
            _measured(row),
        ]
        for row in rows
    ]
    notes = [html.Li(f"{row['side'].capitalize()}: {ended(message)}") for row in rows for message in row["messages"]]
    before = [row for row in rows if row["history"]]
    histories = [
        html.Figure(
            [html.Figcaption(f"{row['side'].capitalize()} over the measurements"),
             html.Img(src=as_address(history_drawing(row)), alt=_history_words(row))],
            className="drawing",
        )
        for row in before
    ]  # fmt: skip
    words = f"Repetitions of {joint}, {move}; the numbers are in the table."
    strips = html.Figure([html.Img(src=as_address(repetition_drawing(rows)), alt=words)], className="drawing")
    return html.Article(
        [
            html.H2([f"{joint.capitalize()}, {move}", html.Span(f" {motion_term(motion)}", className="term")]),
            html.Div([strips, *histories], className="strips"),
            table("In brackets: practice, which does not count.", head, body),
            html.Ul(notes, className="plain-list") if notes else None,
            _published(rows[0]),
            _before(before),
        ],
        className="card large",
    )


def _spread(row: Mapping[str, Any]) -> str:
    error = row["standard_error_deg"]
    if error is None:
        return ""
    return f" (standard error {'below 0.1' if error < 0.1 else number(error)}°)"


def _growth(row: Mapping[str, Any]) -> str:
    sign = "+" if row["growth_deg"] > 0 else ""
    return f"{sign}{degrees(row['growth_deg'])}, {'levelled off' if row['plateau'] else 'not levelled off'}"


def _measured(row: Mapping[str, Any]) -> str:
    parts = [f"{row['recorded_at'][:10]} {HOW_WORDS[row['how']]}"]
    parts += [row["footwear"]] if row["footwear"] else []
    if row["throne_height_cm"] is not None:
        other = " (other height)" if row["other_height"] else ""
        parts.append(f"throne {row['throne_height_cm']:g}{NBSP}cm{other}")
    parts += [f"pain {row['pain_0_10']:g} of 10"] if row["pain_0_10"] is not None else []
    return ", ".join(parts)


def _published(row: Mapping[str, Any]) -> Any:
    if not row["norms"]:
        return html.P("No published range for this motion as measured here.", className="how")
    items = []
    for one in row["norms"]:
        spread = "" if one["sd_deg"] is None else f" (SD {degrees(one['sd_deg'])})"
        items.append(f"{degrees(one['mean_deg'])}{spread}, {one['conditions']}: {one['source']}")
    least = f"Smallest change: {row['minimal_detectable_change_source']}."
    rest = html.Details(
        [html.Summary("Other published means, for orientation only"), html.Ul([html.Li(text) for text in items[1:]])],
        className="rests screen-only",
    )
    return html.Div(
        [html.P(f"For orientation, no target: {items[0]}. {least}", className="how"), rest if len(items) > 1 else None]
    )


def _history_words(row: Mapping[str, Any]) -> str:
    return "; ".join(f"{one['recorded_at'][:10]}: {degrees(one['end_deg'])}" for one in [*row["history"], row])


def _before(rows: Sequence[Mapping[str, Any]]) -> Any:
    if not rows:
        return None
    items = [
        html.Li(f"{row['side'].capitalize()}, {one['recorded_at'][:10]} {HOW_WORDS[one['how']]}: "
                f"{degrees(one['end_deg'])}{' (other throne height)' if one['other_height'] else ''}")
        for row in rows
        for one in reversed(row["history"])
    ]  # fmt: skip
    return html.Details(
        [html.Summary(f"Measured before ({len(items)})"), html.Ul(items)], className="rests screen-only"
    )


def pedal_section(tests: Sequence[Mapping[str, Any]]) -> Any:
    """The lift tests: a range of the hanging foot need not be there on the board."""
    if not tests:
        return None
    newest: dict[tuple[str, str], int] = {(one["setup"], one["side"]): index for index, one in enumerate(tests)}
    rows = [
        [
            f"{one['setup']}, {one['side']} foot",
            degrees(one["room_at_rest_deg"]) + in_brackets(degree_span(one["band_room_at_rest_deg"])),
            "not recorded"
            if one["lifted_deg"] is None
            else degrees(one["lifted_deg"]) + in_brackets(degree_span(one["band_lifted_deg"])),
            ", ".join(number(value) for value in one["lifts_deg"]) or "–",
            one["session"],
        ]
        for one in reversed(tests)
    ]
    words = "Heel down, foot relaxed, then lifted as far as it goes: degrees above rest. In brackets: where the figure "
    words += "lies in 19 of 20 cases."
    head = ["Set-up and foot", "Room at rest", "Lifted by", "Each lift", "Session"]
    last = [rows[len(tests) - 1 - index] for index in sorted(newest.values(), reverse=True)]
    every = html.Details([html.Summary(f"All {len(rows)}"), table(words, head, rows)], className="rests screen-only")
    return html.Section([html.H2("On the pedal"), table(words, head, last), every if len(rows) > len(last) else None])


def slide_section(slides: Sequence[Mapping[str, Any]]) -> Any:
    """Slides: narrowest and widest ball to ball, tilted ones marked."""
    if not slides:
        return None
    parts: list[Any] = [html.H2("The slide")]
    for one in reversed(slides):
        if one["widest_cm"] is None and not one["repetitions"]:
            parts.append(html.P(f"{one['session']}: not known, {one['reason']}."))
            continue
        rows = [
            [
                str(index),
                f"{number(rep['widest_cm'], 0)}{NBSP}cm",
                degrees(rep["spread_deg"], 0),
                ", ".join(f"{side} {degrees(value, 0)}" for side, value in rep["side_tilt_deg"].items()),
                "tilted: repeat, does not count" if rep["tilted"] else "counts",
            ]
            for index, rep in enumerate(one["repetitions"], start=1)
        ]
        narrow = "" if one["narrowest_cm"] is None else f"narrowest {number(one['narrowest_cm'], 0)}, "
        sure = "" if one["plus_minus_cm"] is None else f"{NBSP}±{NBSP}{number(one['plus_minus_cm'], 0)}"
        widest = "not known" if one["widest_cm"] is None else f"widest {number(one['widest_cm'], 0)}{sure}{NBSP}cm"
        parts.append(html.P([html.Strong(one["session"]), f": ball to ball {narrow}{widest}."]))
        head = ["Repetition", "Widest, ball to ball", "Legs apart", "Side tilt of the shank", "Counts"]
        parts.append(table("Feet taken as pointing where the thighs point.", head, rows))
        parts += [html.P(sentence(f"{message}.")) for message in one["messages"]]
    return html.Section(parts)
