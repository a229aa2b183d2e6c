"""Set-ups page (home): which set-up leaves one participant more room, how sure that is, and what it rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

from dash import MATCH, Dash, Input, Output, State, html, no_update

from ...analysis.standing import stands_out
from ...logger.errors import FootroomError
from ..figures.room import room_figure, share_figure
from ..store import Entry, Store
from ..summary import Card, SetupFigures, cards, felt_by_name, session_setups
from ..wording import (
    RANGE_SOURCE_WORDS,
    degree_span,
    degrees,
    finding,
    geometry,
    minutes,
    motion_term,
    motion_title,
    percent,
    percent_span,
    sentence,
    share_sentence,
)
from .people import chooser, chosen, nobody
from .quality import count_words, sessions_table
from .shell import Page, empty, figure, table

HOW_TO_READ = (
    "Room is how many degrees are left before the end of your own active range, measured in the range check. "
    "The dot is the mean over sessions of the median room while playing, the thick line its 95 % band, each ring one "
    "session; the hill shows how playing time is spread, darker nearer the end. Median room decides; time near the end "
    "is its consequence."
)


def setups_page(store: Store, search: str | None) -> Page:
    """The page for the participant named in `search`, the address's query."""
    people = store.participants()
    participant = chosen(people, search)
    if participant is None:
        return Page("Set-ups", [html.H1("Which set-up leaves more room?", tabIndex="-1"), nobody(store)])
    entries = store.entries(participant)
    analysed = [entry for entry in entries if entry.exposure is not None]
    head = html.Div(
        [
            html.Div(
                [
                    html.H1("Which set-up leaves more room?", tabIndex="-1"),
                    html.P(f"{participant}: {count_words(entries)}"),
                ]
            ),
            chooser(people, participant) if len(people) > 1 else None,
        ],
        className="page-head",
    )
    behind = html.Section([html.H2("Sessions behind these figures"), sessions_table(entries)])
    if not analysed:
        todo = empty("Not analysed yet", "The recordings are here, the figures are not. Run this and reload the page:",
                     command=f'footroom analyze --logbook "{store.path.name}"')  # fmt: skip
        return Page(f"Set-ups of {participant}", [head, todo, behind])
    rows = compared(analysed)
    found = cards([entry.exposure for entry in analysed if entry.exposure], [entry.session for entry in analysed], rows)
    if not found:
        note = empty("Every figure is withheld", "Nothing could be known well enough. Each session's page says why.")
        return Page(f"Set-ups of {participant}", [head, note, behind])
    first = [card for card in found if card.primary] or found[:1]
    others = [card for card in found if card not in first]
    content: list[Any] = [head, in_short(first), setups_table(analysed), html.P(HOW_TO_READ, className="how")]
    content.append(html.Section([html.H2("What the set-ups are judged on"), *(card_block(card) for card in first)]))
    if others:
        rest = [html.H2("Also measured"), html.P("Open a line for its figure, numbers and reasons.", className="how")]
        rest += [folded_card(participant, card) for card in others]
        content.append(html.Section(rest, className="others"))
    return Page(f"Set-ups of {participant}", [*content, behind])


def compared(entries: Sequence[Entry]) -> list[dict[str, Any]]:
    """Comparison rows of one participant's analysed sessions; none when there is nothing to compare."""
    from ...analysis.comparison import compare_participant

    try:
        return compare_participant(
            [entry.exposure for entry in entries if entry.exposure], [entry.session for entry in entries]
        )
    except FootroomError:  # one set-up only
        return []


def in_short(first: Sequence[Card]) -> html.Section:
    """The answer first: which set-up stands out, clear differences with their consequence, else what is missing."""
    told: list[Any] = []
    standing = stands_out([row for card in first for row in card.rows])
    told += [html.P(one["sentence"], className="lead") for one in standing if one["setup"] is not None]
    clear = [
        (card, row) for card in first for row in card.rows if row["primary"] and row["verdict"] == "clear difference"
    ]
    for card, row in clear:
        names = (row["setup_a"], row["setup_b"])
        shares: Mapping[str, float | None] = {
            one.name: one.share_near_end for name in names for one in card.setups if one.name == name
        }
        told.append(html.P(row["sentences"]["drummer"], className="lead"))
        told.append(html.P(share_sentence(card.zone_deg, shares), className="consequence"))
    rest = [row for card in first for row in card.rows if row["primary"] and row["verdict"] != "clear difference"]
    if not clear and not rest:
        one = first[0].setups[0]
        title = motion_title(first[0].side, first[0].motion)
        told = [
            html.P(f"{title}: a median of {degrees(one.median_room_deg)} of room with ‘{one.name}’.", className="lead"),
            html.P(share_sentence(one.zone_deg, {one.name: one.share_near_end}), className="consequence"),
            html.P("Only one set-up has figures. Record a second one in the same wearing to compare them."),
        ]
    elif not clear:
        told.append(html.P(rest[0]["sentences"]["drummer"], className="lead"))
        rest = rest[1:]
    told += [html.P(one["sentence"], className="consequence") for one in standing if one["setup"] is None]
    if rest:
        told.append(html.Ul([html.Li(row["sentences"]["drummer"]) for row in rest], className="also"))
    told.append(
        html.P(
            "Figures inform; how a set-up feels and sounds is yours to judge. Change one thing at a time.",
            className="yours",
        )
    )
    return html.Section([html.H2("In short", className="eyebrow"), *told], className="short")


def setups_table(entries: Sequence[Entry]) -> html.Section:
    """Set-ups with their measures, of the latest session that has each."""
    latest: dict[str, Mapping[str, Any]] = {}
    for entry in entries:
        latest.update(session_setups(entry.session))
    felt = felt_by_name([entry.session for entry in entries])
    head, rows = (
        ["Set-up", "Measures"],
        [[name, geometry(measures) or "not measured"] for name, measures in latest.items()],
    )
    if any(felt.values()):
        head.append("How it felt (0-10)")
        rows = [[*row, felt.get(row[0]) or "not noted"] for row in rows]
    return html.Section([html.H2("The set-ups"), table("As measured in the latest session.", head, rows)])


def card_block(card: Card) -> html.Article:
    """One side and motion that is judged on: verdicts in words, figures, the numbers, and what they rest on."""
    title = motion_title(card.side, card.motion)
    shown = [room_block(card)]
    if any((one.band_near_end or (0, 0))[1] > 0 for one in card.setups):
        setups = [asdict(one) for one in card.setups]
        shown.append(figure(share_figure(setups), f"{title}: share of playing time in the end zone per set-up."))
    shares = {one.name: one.share_near_end for one in card.setups}
    return html.Article(
        [
            html.H3([title, html.Span(f" {motion_term(card.motion)}", className="term")]),
            verdict_list(card),
            html.P(share_sentence(card.zone_deg, shares), className="consequence") if card.has_zone else None,
            html.Div(shown, className="figures"),
            figures_table(card.setups, True),
            rests_on(card),
        ],
        className="card large",
    )


def folded_card(participant: str, card: Card) -> html.Details:
    """Any other side and motion, folded to one line; its figure is drawn when it is opened for the first time."""
    rooms = {one.name: one.median_room_deg for one in card.setups}
    name = f"{participant}/{card.side}/{card.motion}"
    return html.Details(
        [
            html.Summary(
                [
                    html.Strong(motion_title(card.side, card.motion)),
                    html.Span(f" {motion_term(card.motion)} ", className="term"),
                    html.Span(finding(card.rows, rooms), className="finding"),
                ],
                id={"type": "fold", "name": name},
            ),
            verdict_list(card),
            html.Div(id={"type": "folded-figure", "name": name}, className="figures"),
            figures_table(card.setups, False),
            rests_on(card),
        ],
        className="fold",
    )


def room_block(card: Card) -> html.Figure:
    """The figure of room of one card."""
    setups = [asdict(one) for one in card.setups]
    words = (
        f"{motion_title(card.side, card.motion)}: room while playing per set-up. The numbers are in the table below."
    )
    return figure(room_figure(setups, card.zone_deg if card.has_zone else None), words)


def verdict_list(card: Card) -> html.Ul | None:
    """One sentence for each pair of set-ups."""
    if not card.rows:
        return None
    return html.Ul([html.Li(row["sentences"]["drummer"]) for row in card.rows], className="verdicts")


def figures_table(setups: Sequence[SetupFigures], large: bool) -> html.Div:
    """The numbers of a card."""
    head = ["Set-up", "Median room", "95 % band", "Time in end zone", "95 % band"]
    rows: list[list[Any]] = []
    for one in setups:
        row: list[Any] = [one.name, degrees(one.median_room_deg), degree_span(one.band_room_deg)]
        row += [percent(one.share_near_end), percent_span(one.band_near_end)]
        if large:
            row += [percent(one.share_past_end), _rate(one.entries_per_minute)]
            row += [_seconds(one.longest_stay_s), minutes(one.known_s)]
        rows.append(row)
    if large:
        head += ["Past the end", "Entries a minute", "Longest stay", "Known playing"]
    return table("Means over sessions; the longest stay is the longest of all.", head, rows)


def rests_on(card: Card) -> html.Details:
    """Range, zone, wearing, sessions, intervals and reasons, folded away until asked for (open in print)."""
    sources = sorted({source for one in card.setups for source in one.range_sources})
    source_words = " and ".join(RANGE_SOURCE_WORDS.get(one, one) for one in sources) or "an unknown source"
    ends = [end for one in card.setups for end in one.active_end_deg]
    spread = bool(ends) and max(ends) - min(ends) > 0.05
    span = degree_span((min(ends), max(ends))) if spread else degrees(ends[0] if ends else None)
    zone = (
        f"End zone: the last {degrees(card.zone_deg, 0)} before it. This line is a choice; logbook.toml can change it."
        if card.has_zone
        else "No end zone: the legs touch before the joint comes to its end."
    )
    counts = ", ".join(f"{len(one.session_rooms_deg)} with ‘{one.name}’" for one in card.setups)
    items: list[Any] = [f"End of active range: {span}, from {source_words}.", zone, f"Sessions: {counts}."]
    for row in card.rows:
        pair = f"‘{row['setup_a']}’ and ‘{row['setup_b']}’"
        items += [[html.Strong(f"{pair}, for the {who}: "), row["sentences"][who]] for who in ("coach", "scientist")]
        items.append([html.Strong(f"{pair}, why: "), sentence(str(row["reason"]))])
    return html.Details(
        [html.Summary("What this rests on"), html.Ul([html.Li(item) for item in items])], className="rests"
    )


def _rate(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f}"


def _seconds(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f} s"


def register(app: Dash, store: Store) -> None:
    """The callback of the page: draw the figure of a folded card once it is opened."""

    @app.callback(
        Output({"type": "folded-figure", "name": MATCH}, "children"),
        Input({"type": "fold", "name": MATCH}, "n_clicks"),
        State({"type": "fold", "name": MATCH}, "id"),
        prevent_initial_call=True,
    )
    def unfold(clicks: int | None, name: dict[str, str]) -> Any:
        if clicks != 1:
            return no_update
        participant, side, motion = name["name"].split("/")
        try:
            analysed = [entry for entry in store.entries(participant) if entry.exposure is not None]
        except FootroomError:
            return no_update
        found = cards(
            [entry.exposure for entry in analysed if entry.exposure], [entry.session for entry in analysed], []
        )
        return [room_block(card) for card in found if (card.side, card.motion) == (side, motion)]
