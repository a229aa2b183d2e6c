"""Verdicts on the Set-ups page: the answer first, then the pairs as a table, and what it all rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import urlencode

from dash import dcc, html

from ...analysis.beside import ASK, beside, not_alike, share_missed
from ...analysis.felt import felt_words
from ...analysis.motions import MOTION
from ...analysis.standing import stands_out
from ..summary import Card, SetupFigures, felt_by_name
from ..wording import (
    RANGE_SOURCE_WORDS,
    degree_span,
    degrees,
    motion_title,
    percent,
    sentence,
    share_sentence,
    signed_degrees,
)
from .shell import table

CLEAR = "clear difference"
WHAT_A_PAIR_IS = "The second set-up minus the first, from means of equal blocks"
NO_ZONE = {
    True: "No end zone: the legs touch before the joint comes to its end.",
    False: "No end zone: it would be as wide as the whole range. Judge on room.",
}


def in_short(first: Sequence[Card], felt: Sequence[str], mixed: html.P | None) -> html.Section:
    """The answer first: which set-up stands out, clear differences with their consequence, else what is missing.

    first: the cards that set-ups are judged on. felt: how each set-up felt. mixed: about sessions that are not alike.
    """
    standing = {(one["side"], one["motion"]): one["sentence"] for card in first for one in stands_out(card.rows)}
    leads: list[Any] = []
    others: list[Any] = []
    for card in first:
        asked = [row for row in card.rows if row["primary"]]
        clear = [row for row in asked if row["verdict"] == CLEAR]
        whole = standing.get((card.side, card.motion))
        if whole is not None:
            found = [html.P(whole, className="lead" if clear else "consequence")]
            if clear:
                found.append(_consequence(card, [one.name for one in card.setups]))
            (leads if clear else others).extend(found)
            leads += _amounts(clear)
            continue
        for row in clear:
            leads.append(html.P(row["sentences"]["drummer"], className="lead"))
            leads.append(_consequence(card, [row["setup_a"], row["setup_b"]]))
        others += [html.P(row["sentences"]["drummer"], className="consequence") for row in asked if row not in clear]
    if not leads and others:
        others[0].className = "lead"  # pyright: ignore[reportAttributeAccessIssue]
    if not leads and not others:
        leads = _one_set_up(first[0])
    told = [*leads, *others, mixed]
    if felt:
        told.append(html.P(["How it felt (0-10): ", "; ".join(felt), "."], className="felt"))
    told.append(
        html.P(
            "Figures inform; how a set-up feels and sounds is yours to judge. Change one thing at a time.",
            className="yours",
        )
    )
    return html.Section([html.H2("In short", className="eyebrow"), *told], className="short")


def about_mixed(participant: str, rows: Sequence[Mapping[str, Any]]) -> html.P | None:
    """Whether sessions that are not alike were left out or compared, and the link to the other way."""
    query = {"participant": participant}
    if any(row["mixed"] for row in rows):
        return html.P(
            [
                "Sessions that are not alike in footwear, exercise or throne height are compared here, because that "
                "was asked for; what differs is said with each verdict. ",
                dcc.Link("Compare only like with like", href=f"?{urlencode(query)}", className="screen-only"),
            ],
            className="mixed",
        )
    if not not_alike(rows):
        return None
    address = f"?{urlencode(query | {'mixed': 'yes'})}"
    link = dcc.Link("Compare them all the same", href=address, className="screen-only")
    return html.P([f"{ASK}. ", link], className="mixed")


def felt_lines(rows: Sequence[Mapping[str, Any]], sessions: Sequence[Any], typed: Sequence[Any] = ()) -> list[str]:
    """How each set-up felt, `‘far’: comfort 7, chosen 3 of 4 times`; only where something was noted."""
    found = {row[f"setup_{one}"]: row[f"felt_{one}"] for row in rows for one in "ab"}
    if found:
        return [words for name, felt in found.items() if (words := felt_words(f"‘{name}’", felt))]
    return [f"‘{name}’: {words}" for name, words in felt_by_name(sessions, typed).items() if words]


def pairs_table(card: Card) -> html.Div | None:
    """Each pair of set-ups with its difference, interval and verdict, on room and on time in the end zone."""
    if not card.rows:
        return None
    shares = _by_pair(card.share_rows)
    rows = []
    for row in card.rows:
        row_cells = [
            f"{row['setup_a']} → {row['setup_b']}",
            signed_degrees(row["difference"]),
            degree_span(row["interval"], signed=True),
            _verdict(row),
        ]
        if card.has_zone:
            row_cells.append(_share_cell(shares.get((row["setup_a"], row["setup_b"]))))
        rows.append(row_cells)
    head = ["Set-ups", "Difference in room", "95 % interval", "Verdict"] + ["Time in end zone"] * card.has_zone
    shares_differ = "; below, shares are of all playing and may differ a little" if card.has_zone else ""
    return table(f"{WHAT_A_PAIR_IS}{shares_differ}.", head, rows, "pairs")


def to_weigh(card: Card) -> html.P | None:
    """What else may play a part: what was not alike, order, drift, slips; each once, with its pair if not of all."""
    pairs: dict[str, dict[str, None]] = {}
    for row in (*card.rows, *card.share_rows):
        for text in row["weigh"]:
            pairs.setdefault(text, {})[f"‘{row['setup_a']}’ and ‘{row['setup_b']}’"] = None
    if not pairs:
        return None
    told = [
        text if len(of) == len(card.rows) else f"between {', and between '.join(of)}: {text}"
        for text, of in pairs.items()
    ]
    text = sentence("; ".join(told))
    return html.P([html.Strong("Weigh with it: "), f"{text[:1].lower()}{text[1:]}."], className="weigh")


def verdict_list(card: Card) -> html.Ul | None:
    """One sentence for each pair of set-ups."""
    if not card.rows:
        return None
    return html.Ul([html.Li(row["sentences"]["drummer"]) for row in card.rows], className="verdicts")


def rests_on(card: Card) -> html.Details:
    """Range, zone, wearing, sessions and reasons, folded away until asked for; printed where opened."""
    sources = sorted({source for one in card.setups for source in one.range_sources})
    source_words = " and ".join(RANGE_SOURCE_WORDS.get(one, one) for one in sources) or "an unknown source"
    ends = [end for one in card.setups for end in one.active_end_deg]
    spread = bool(ends) and max(ends) - min(ends) > 0.05
    span = degree_span((min(ends), max(ends))) if spread else degrees(ends[0] if ends else None)
    zone = (
        f"End zone: the last {degrees(card.zone_deg, 0)} before it. This line is a choice; logbook.toml can change it."
        if card.has_zone
        else NO_ZONE[card.motion in MOTION and MOTION[card.motion].contact]
    )
    counts = ", ".join(f"{len(one.session_rooms_deg)} with ‘{one.name}’" for one in card.setups)
    items: list[Any] = [f"End of active range: {span}, from {source_words}.", zone, f"Sessions: {counts}."]
    shares = _by_pair(card.share_rows)
    for row in card.rows:
        told = [[html.Strong(f"For the {who}: "), row["sentences"][who]] for who in ("coach", "scientist")]
        told.append([html.Strong("Why: "), sentence(str(row["reason"]))])
        told.append([html.Strong("Beside it: "), " ".join(beside(row, shares.get((row["setup_a"], row["setup_b"]))))])
        pair = f"‘{row['setup_a']}’ and ‘{row['setup_b']}’"
        items.append([html.Strong(pair), html.Ul([html.Li(one) for one in told])])
    return html.Details(
        [html.Summary("What this rests on"), html.Ul([html.Li(item) for item in items])], className="rests"
    )


def _amounts(clear: Sequence[Mapping[str, Any]]) -> list[html.Ul]:
    """How much, where one thing was moved; of more than three pairs the largest difference, the others stand below."""
    rows = sorted((row for row in clear if len(row["changed"]) == 1), key=lambda row: -abs(row["difference"]))
    shown = rows if len(rows) <= 3 else rows[:1]
    return [html.Ul([html.Li(row["sentences"]["drummer"]) for row in shown], className="also")] if shown else []


def _consequence(card: Card, names: Sequence[str]) -> html.P:
    return _shares(card.zone_deg, [one for one in card.setups if one.name in names])


def _shares(zone_deg: float, setups: Sequence[SetupFigures]) -> html.P:
    shares = {one.name: one.share_near_end for one in setups}
    bands = {one.name: one.band_near_end for one in setups}
    return html.P(share_sentence(zone_deg, shares, bands), className="consequence")


def _one_set_up(card: Card) -> list[Any]:
    one = card.setups[0]
    title = motion_title(card.side, card.motion)
    return [
        html.P(
            f"{title}: a median of {degrees(one.median_room_deg)} ({degree_span(one.band_room_deg)}) of room with "
            f"‘{one.name}’.",
            className="lead",
        ),
        _shares(one.zone_deg, [one]),
        html.P("Only one set-up has figures. Record a second one in the same wearing to compare them."),
    ]


def _by_pair(rows: Sequence[Mapping[str, Any]]) -> dict[tuple[str, str], Mapping[str, Any]]:
    return {(row["setup_a"], row["setup_b"]): row for row in rows}


def _verdict(row: Mapping[str, Any]) -> str:
    """`no clear difference; up to 2.5° may have been missed`; why, where the interval alone would say otherwise."""
    if row["barrier"] is not None:
        return "not compared"
    if row["verdict"] == "no clear difference":
        low, high = row["interval"]
        why = "not judged by itself" if row["gated"] else "not with so many questions asked at once"
        alone = "" if low <= 0.0 <= high else f" ({why})"
        return f"{row['verdict']}{alone}; up to {degrees(row['could_be_missed'])} may have been missed"
    if row["needed"] is not None:
        return f"{row['verdict']}; about {row['needed']} more should do"
    return str(row["verdict"])


def _share_cell(row: Mapping[str, Any] | None) -> str:
    """`50 % → 40 %, no clear difference; up to 25 percentage points may have been missed`."""
    if row is None:
        return "–"
    told = row["verdict"]
    if row["barrier"] is not None:
        told = "not compared"
    elif row["saturated"]:
        told = "too near all or nothing to tell"
    elif row["gated"]:
        told = "not judged by itself"
    return f"{percent(row['mean_a'])} → {percent(row['mean_b'])}, {told}{share_missed(row)}"
