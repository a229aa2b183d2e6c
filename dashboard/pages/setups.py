"""Set-ups page (home): which set-up leaves one participant more room, how sure that is, and what it rests on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any
from urllib.parse import parse_qs

from dash import MATCH, Dash, Input, Output, State, html, no_update

from ...logger.errors import FootroomError
from ...logger.models import Setup
from ...logger.person_notes import felt_by_hand
from ..figures.room import room_figure, share_figure
from ..store import Entry, Store
from ..summary import Card, SetupFigures, cards, session_setups
from ..wording import (
    degree_span,
    degrees,
    finding,
    geometry,
    minutes,
    motion_term,
    motion_title,
    percent,
    percent_span,
)
from .people import chosen, nobody, not_recorded, page_head
from .quality import count_words, sessions_table
from .shell import Page, empty, figure, table
from .verdicts import about_mixed, felt_lines, in_short, pairs_table, rests_on, to_weigh, verdict_list

TITLE = "Which set-up leaves more room?"
HOW_TO_READ = (
    "Room is how many degrees are left before the end of your own active range, measured in the range check. "
    "The dot is the mean over sessions of the median room while playing, the thick line its 95 % band, each ring one "
    "session; the hill shows how playing time is spread, darker nearer the end. Median room decides; time near the end "
    "is its consequence."
)
PRINTED = "In print a fold that is closed stays away: open what should be on paper."


def setups_page(store: Store, search: str | None) -> Page:
    """The page for the participant named in `search`, the address's query."""
    people = store.participants()
    participant = chosen(people, search)
    if participant is None:
        return Page("Set-ups", [html.H1(TITLE, tabIndex="-1"), nobody(store)])
    entries = store.entries(participant)
    analysed = [entry for entry in entries if entry.exposure is not None]
    head = page_head(TITLE, f"{participant}: {count_words(entries)}", people, participant)
    if not entries:
        return Page(f"Set-ups of {participant}", [head, not_recorded(store, participant)])
    behind = html.Section([html.H2("Sessions behind these figures"), sessions_table(entries)])
    if not analysed:
        todo = empty("Not analysed yet", "The recordings are here, the figures are not. Run this and reload the page:",
                     command=f'footroom analyze --logbook "{store.path.name}"')  # fmt: skip
        return Page(f"Set-ups of {participant}", [head, todo, behind])
    typed = felt_by_hand([entry.session for entry in entries], store.notes(participant))
    rows = compared(analysed, mixed=asked_for_mixed(search), typed=typed)
    found = cards([entry.exposure for entry in analysed if entry.exposure], [entry.session for entry in analysed], rows)
    if not found:
        note = empty("Every figure is withheld", "Nothing could be known well enough. Each session's page says why.")
        return Page(f"Set-ups of {participant}", [head, note, behind])
    first = [card for card in found if card.primary] or found[:1]
    others = [card for card in found if card not in first]
    felt = felt_lines(rows, [entry.session for entry in analysed], typed)
    content: list[Any] = [head, in_short(first, felt, about_mixed(participant, rows)), setups_table(analysed)]
    content.append(html.P(HOW_TO_READ, className="how"))
    content.append(html.P(PRINTED, className="how screen-only"))
    content.append(html.Section([html.H2("What the set-ups are judged on"), *(card_block(card) for card in first)]))
    if others:
        hint = html.P("Open a line for its figure, numbers and reasons.", className="how screen-only")
        rest = [html.H2("Also measured"), hint]
        rest += [folded_card(participant, card) for card in others]
        content.append(html.Section(rest, className="others"))
    return Page(f"Set-ups of {participant}", [html.Div([*content, behind], className="verdict-page")])


def asked_for_mixed(search: str | None) -> bool:
    """Whether the address asks to compare also sessions that are not alike (`mixed=yes`)."""
    return parse_qs((search or "").lstrip("?")).get("mixed") == ["yes"]


def compared(entries: Sequence[Entry], *, mixed: bool = False, typed: Sequence[Setup] = ()) -> list[dict[str, Any]]:
    """Comparison rows of one participant's analysed sessions; none when there is nothing to compare."""
    from ...analysis.comparison import compare_participant

    try:
        return compare_participant(
            [entry.exposure for entry in entries if entry.exposure],
            [entry.session for entry in entries],
            mixed=mixed,
            typed=typed,
        )
    except FootroomError:  # one set-up only
        return []


def setups_table(entries: Sequence[Entry]) -> html.Section:
    """Set-ups with their measures, of the latest session that has each."""
    latest: dict[str, Mapping[str, Any]] = {}
    for entry in entries:
        latest.update(session_setups(entry.session))
    rows = [[name, geometry(measures) or "not measured"] for name, measures in latest.items()]
    shown = table("As measured in the latest session.", ["Set-up", "Measures"], rows)
    return html.Section([html.H2("The set-ups"), shown])


def card_block(card: Card) -> html.Article:
    """One side and motion that is judged on: verdicts in words, figures, the numbers, and what they rest on."""
    title = motion_title(card.side, card.motion)
    shown = [room_block(card)]
    if any((one.band_near_end or (0, 0))[1] > 0 for one in card.setups):
        setups = [asdict(one) for one in card.setups]
        shown.append(figure(share_figure(setups), f"{title}: share of playing time in the end zone per set-up."))
    return html.Article(
        [
            html.H3([title, html.Span(f" {motion_term(card.motion)}", className="term")]),
            pairs_table(card),
            to_weigh(card),
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
    return table("Means over sessions; the longest stay is the longest of all.", head, rows, "numbers")


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
