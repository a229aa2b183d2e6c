"""The checklist of a fitting session, for paper: one sheet, in order, with room to write."""

from __future__ import annotations

from urllib.parse import quote

from dash import dcc, html

from ..fitting_steps import STEPS, FittingStep, minutes_in_all
from ..store import Store
from .people import chosen
from .shell import Page

TITLE = "A fitting session in order"


def checklist_page(store: Store, search: str | None) -> Page:
    """The checklist; with a participant named in `search`, with their pseudonym on it."""
    participant = chosen(store.participants(), search) if search else None
    query = f"?participant={quote(participant)}" if participant else ""
    head = html.Div(
        [
            html.P(dcc.Link("Set-up geometry", href=f"/setup{query}"), className="back"),
            html.H1(TITLE, tabIndex="-1"),
            html.P(f"About {minutes_in_all()} minutes with one person. {f'For {participant}. ' if participant else ''}"
                   "Print this page, tick, write, and type it in afterwards."),
        ]
    )  # fmt: skip
    steps = html.Ol([_step(step) for step in STEPS], className="checklist")
    after = (
        "Afterwards: footroom setup for measures (the slide and the lift by hand into its note=), footroom range for "
        "ranges by hand. Recorded with clips on both legs instead, the slide takes about 8 minutes and the range check "
        "about 14. Licensed practice and local rules come first."
    )
    return Page("Checklist", [head, steps, html.P(after, className="how")])


def _step(step: FittingStep) -> html.Li:
    blanks = [html.Span([html.Span(text), html.Span(className="blank")], className="to-write") for text in step.blanks]
    return html.Li(
        [
            html.H2([step.title, html.Span(f"{step.minutes} min", className="minutes")]),
            html.Ul([html.Li([html.Span(className="box"), text]) for text in step.dos]),
            html.Div(blanks, className="blanks"),
            html.P(step.note, className="how") if step.note else None,
        ]
    )
