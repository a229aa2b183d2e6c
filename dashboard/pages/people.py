"""Choosing the participant: one at a time, never side by side."""

from __future__ import annotations

from collections.abc import Sequence
from urllib.parse import parse_qs, quote

import dash_mantine_components as dmc
from dash import dcc, html

from ...logger.errors import NotInLogbook
from ..store import Store
from .shell import empty


def chosen(people: Sequence[str], search: str | None) -> str | None:
    """The participant named in the address's query, else the first; None when there is nobody."""
    named = asked(search, "participant")
    if named in people:
        return named
    return people[0] if people else None


def refuse_unknown(people: Sequence[str], search: str | None) -> None:
    """Nobody else's page is shown for somebody the address names and the logbook does not know.

    Raises NotInLogbook.
    """
    named = asked(search, "participant")
    if named and people and named not in people:
        raise NotInLogbook(
            f"No participant {named!r} is in this logbook (removed, or in another one?); choose somebody on one of the "
            "pages above."
        )


def asked(search: str | None, key: str) -> str:
    """What the address's query says of one thing; empty where it says nothing."""
    return parse_qs((search or "").lstrip("?")).get(key, [""])[0]


def chooser(people: Sequence[str], participant: str) -> dmc.Select:
    """A labelled drop-down list of pseudonyms."""
    return dmc.Select(
        id="participant",
        label="Participant",
        data=list(people),
        value=participant,
        allowDeselect=False,
        searchable=len(people) > 8,
        comboboxProps={"withinPortal": False},
        className="chooser",
    )


def page_head(title: str, line: str, people: Sequence[str], participant: str) -> html.Div:
    """The page's heading with a line below it, and beside it the choice of one person where there are several."""
    return html.Div(
        [
            html.Div([html.H1(title, tabIndex="-1"), html.P(line)]),
            chooser(people, participant) if len(people) > 1 else None,
        ],
        className="page-head",
    )


def not_recorded(store: Store, participant: str) -> html.Div:
    """The empty state of somebody who was measured by hand, without a session yet."""
    query = f"?participant={quote(participant)}"
    return empty(
        "No sessions yet",
        [
            f"Nothing was recorded of {participant} so far. What was measured by hand: ",
            dcc.Link("range", href=f"/range{query}"),
            ", ",
            dcc.Link("set-up geometry", href=f"/setup{query}"),
            ", ",
            dcc.Link("placement", href=f"/placement{query}"),
            ". Record or import a session, analyse it, and reload this page:",
        ],
        command=f'footroom record --participant {participant} --setup near --logbook "{store.path.name}"',
    )


def nobody(store: Store) -> html.Div:
    """The empty state of a logbook without sessions."""
    book = f'--logbook "{store.path.name}"'
    commands = ("record --participant p01 --setup near", "import FOLDER", "analyze")
    return empty(
        "No sessions yet",
        "This logbook has no sessions. Record a practice, or import a recorded folder (import.toml and one CSV file "
        "per clip), analyse it, and reload this page:",
        command="\n".join(f"footroom {one} {book}" for one in commands),
    )
