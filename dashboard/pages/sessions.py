"""Sessions page: one participant's sessions with their quality in words."""

from __future__ import annotations

from dash import html

from ..store import Store
from .people import chosen, nobody, not_recorded, page_head
from .quality import count_words, sessions_table
from .shell import Page


def sessions_page(store: Store, search: str | None) -> Page:
    """The list for the participant named in `search`, the address's query."""
    people = store.participants()
    participant = chosen(people, search)
    if participant is None:
        return Page("Sessions", [html.H1("Sessions", tabIndex="-1"), nobody(store)])
    entries = store.entries(participant)
    head = page_head("Sessions", f"{participant}: {count_words(entries)}", people, participant)
    broken = store.problems()
    problems = (
        html.Section([html.H2("Could not be read"), html.Ul([html.Li(sentence) for sentence in broken])])
        if broken
        else None
    )
    listed = sessions_table(entries) if entries else not_recorded(store, participant)
    return Page(f"Sessions of {participant}", [head, listed, problems])
