"""What every page is made of: headings, empty states in words, tables, the navigation."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import plotly.graph_objects as go
from dash import dcc, html

from ..figures.theme import STILL

PAGES = (
    ("/", "Set-ups"),
    ("/sessions", "Sessions"),
    ("/range", "Range"),
    ("/setup", "Set-up geometry"),
    ("/placement", "Placement"),
)


@dataclass(frozen=True)
class Page:
    """A page's title (shown in the browser's tab) and its content; `found` is False for 'no such page'."""

    title: str
    content: list[Any]
    found: bool = True


def navigation(path: str, participant: str | None = None) -> list[Any]:
    """Links to the pages, the present one marked for screen readers and by its underline."""
    query = f"?participant={participant}" if participant else ""
    links = []
    for address, label in PAGES:
        here = path == address or (address != "/" and path.startswith(address))
        text = [label, html.Span(" (this page)", className="visually-hidden")] if here else label
        links.append(html.Li(dcc.Link(text, href=address + query, className="here" if here else "")))
    return links


def empty(title: str, *sentences: Any, command: str | None = None) -> html.Div:
    """An empty state: what is missing and what to do."""
    parts: list[Any] = [html.P(sentence) for sentence in sentences]
    if command:
        parts.append(html.Pre(html.Code(command), tabIndex="0"))
    return html.Div([html.H2(title), *parts], className="empty")


def table(caption: str, head: Sequence[str], rows: Sequence[Sequence[Any]], name: str = "") -> html.Div:
    """A table whose first column names its rows. On a narrow screen each row becomes a small list of `head: value`."""
    return html.Div(
        html.Table(
            [
                html.Caption(caption),
                html.Thead(html.Tr([html.Th(text, scope="col") for text in head])),
                html.Tbody(
                    [
                        html.Tr(
                            [
                                html.Th(row[0], scope="row"),
                                *(
                                    html.Td(cell, **_label(label))
                                    for label, cell in zip(head[1:], row[1:], strict=True)
                                ),
                            ]
                        )
                        for row in rows
                    ]
                ),
            ],
        ),
        className=f"table {name}".strip(),
    )


def aria(**said: str) -> dict[str, Any]:
    """Attributes for screen readers, `label="..."` as `aria-label`."""
    return {f"aria-{name}": text for name, text in said.items()}


def _label(head: str) -> dict[str, Any]:
    """What a narrow screen writes before a cell."""
    return {"data-label": head}


def figure(shown: go.Figure, words: str) -> html.Figure:
    """A still figure with what it shows in words, for those who cannot see it; the numbers stand in a table beside it.

    Its height is the figure's own, reserved before it is drawn; its width follows the page.
    """
    height = shown.layout.height  # pyright: ignore[reportAttributeAccessIssue]
    graph = dcc.Graph(figure=shown, config=STILL, responsive=True, style={"height": f"{height}px"})
    return html.Figure([graph, html.Figcaption(words, className="visually-hidden")])
