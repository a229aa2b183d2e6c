"""The dashboard as an app factory: pages by address, one frame with the caution, everything served from here."""

from __future__ import annotations

import logging
import threading
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from flask import Response, request

from ..logger.cautions import LOCAL_RULES
from ..logger.errors import FootroomError
from .pages import (
    checklist,
    geometry,
    placement,
    placement_try,
    ranges,
    session,
    session_playing,
    session_traces,
    sessions,
    setups,
)
from .pages.people import chosen, refuse_unknown
from .pages.shell import Page, navigation
from .store import Store
from .wording import CAUTION

log = logging.getLogger(__name__)

# The graphs' library comes as its own smaller edition (assets/README.md): the graph component takes what is there, and
# the whole edition would cost a second and a half more on a cold start.
INDEX = """<!DOCTYPE html>
<html lang="en">
  <head>
    {%metas%}
    <title>{%title%}</title>
    <link rel="icon" type="image/svg+xml" href="/assets/favicon.svg">
    {%css%}
    <script defer src="/assets/plotly-cartesian.min.js"></script>
  </head>
  <body>
    {%app_entry%}
    <noscript>This page needs JavaScript, which stays on this computer.</noscript>
    <footer>{%config%}{%scripts%}{%renderer%}</footer>
  </body>
</html>"""

# The browser itself refuses anything that is not from this server.
POLICY = (
    "default-src 'self'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
    "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; frame-ancestors 'none'; form-action 'self'"
)
THEME: Any = {
    "primaryColor": "ink",
    "primaryShade": 7,
    "fontFamily": "inherit",
    "defaultRadius": "sm",
    "colors": {
        "ink": [
            *("#eef5f5", "#dcebeb", "#bcd9da", "#93bcc0", "#6ba3aa"),
            *("#45899a", "#2b7482", "#17616f", "#145160", "#123f4d"),
        ]
    },
}


def create_app(logbook_path: Path | str) -> Dash:
    """The dashboard of one logbook, ready to be served (`.server` is the WSGI application).

    Raises LogbookError if there is no logbook at `logbook_path`.
    """
    store = Store(Path(logbook_path))
    app = Dash(
        "footroom",
        title="Footroom",
        update_title="",
        assets_folder=str(Path(__file__).parent / "assets"),
        assets_ignore=r".*\.min\.js",
        pages_folder="",
        serve_locally=True,
        suppress_callback_exceptions=True,  # a page's controls exist only while it is shown
        index_string=INDEX,
        meta_tags=[
            {"name": "viewport", "content": "width=device-width, initial-scale=1"},
            {"name": "description", "content": "Room left before the end of the active range, per set-up"},
        ],
    )
    app.layout = frame()
    _register(app, store)
    setups.register(app, store)
    session_traces.register(app, store)
    session_playing.register(app, store)
    placement.register(app, store)
    placement_try.register(app, store)
    app.server.before_request(lambda: _read_ahead(store, request.path))
    app.server.after_request(_stay_local)
    return app


def frame() -> dmc.MantineProvider:
    """What surrounds every page: skip link, name, navigation, caution, the page itself."""
    return dmc.MantineProvider(
        [
            html.A(id="skip", children="Skip to the content", href="#content", className="skip"),
            dcc.Location(id="address", refresh=False),
            dcc.Store(id="title"),
            dcc.Store(id="told"),
            html.Header(
                [
                    html.Div(
                        [
                            html.Div(dcc.Link("Footroom", href="/"), className="name"),
                            html.Nav(html.Ul(id="navigation"), **_named("Pages")),
                        ],
                        className="bar",
                    ),
                    html.P(f"{CAUTION} {LOCAL_RULES}", id="caution", role="note"),
                ]
            ),
            html.Main(html.P("Reading the logbook …", className="loading"), id="content", tabIndex="-1"),
        ],
        theme=THEME,
        forceColorScheme="light",
    )


def _named(words: str) -> dict[str, Any]:
    """A name for screen readers."""
    return {"aria-label": words}


def page_at(store: Store, path: str | None, search: str | None) -> Page:
    """The page at an address; errors of the logbook become a page in words."""
    parts = [unquote(part) for part in (path or "/").split("/") if part]
    try:
        if len(parts) < 2:
            refuse_unknown(store.participants(), search)
        match parts:
            case []:
                return setups.setups_page(store, search)
            case ["sessions"]:
                return sessions.sessions_page(store, search)
            case ["sessions", session_id]:
                return session.session_page(store, session_id)
            case ["range"]:
                return ranges.ranges_page(store, search)
            case ["setup"]:
                return geometry.geometry_page(store, search)
            case ["checklist"]:
                return checklist.checklist_page(store, search)
            case ["placement"]:
                return placement.placement_page(store, search)
    except FootroomError as error:
        log.warning("%s", error)
        return Page("Cannot be shown", [html.H1("This page cannot be shown", tabIndex="-1"), html.P(str(error))])
    return Page(
        "No such page",
        [
            html.H1("No such page", tabIndex="-1"),
            html.P(["There is nothing here. ", dcc.Link("Go to the set-ups", href="/")]),
        ],
        found=False,
    )


def _register(app: Dash, store: Store) -> None:
    @app.callback(
        Output("content", "children"),
        Output("navigation", "children"),
        Output("title", "data"),
        Input("address", "pathname"),
        Input("address", "search"),
    )
    def show(path: str | None, search: str | None) -> tuple[list[Any], list[Any], str]:
        page = page_at(store, path, search)
        try:
            people = store.participants()
        except FootroomError:
            people = []
        participant = chosen(people, search) if search else None
        return page.content, navigation(path or "/", participant), page.title

    @app.callback(
        Output("address", "search"),
        Input("participant", "value"),
        State("address", "search"),
        prevent_initial_call=True,
    )
    def choose(participant: str | None, search: str | None) -> Any:
        if not participant or participant == chosen(store.participants(), search):
            return no_update
        return f"?participant={participant}"

    app.clientside_callback(
        """(title) => {
            document.title = title ? title + ' · Footroom' : 'Footroom';
            if (window.footroomPath !== undefined && window.footroomPath !== location.pathname) {
                window.scrollTo(0, 0);
                // The new heading may be drawn a moment later: follow it, unless the focus is elsewhere by then.
                const follow = (tries, first) => {
                    const heading = document.querySelector('main h1');
                    if (heading && (first || document.activeElement === document.body)) {
                        heading.focus({preventScroll: true});
                    }
                    if (tries > 0) { setTimeout(() => follow(tries - 1, false), 100); }
                };
                follow(50, true);
            }
            window.footroomPath = location.pathname;
            return window.dash_clientside.no_update;
        }""",
        Output("told", "data"),
        Input("title", "data"),
    )


def _read_ahead(store: Store, path: str) -> None:
    """While the browser still starts its scripts, read what the session page it asked for will show."""
    parts = [unquote(part) for part in path.split("/") if part]
    if len(parts) == 2 and parts[0] == "sessions":
        threading.Thread(target=session_traces.read_ahead, args=(store, parts[1]), daemon=True).start()


def _stay_local(response: Response) -> Response:
    response.headers["Content-Security-Policy"] = POLICY
    response.headers["X-Content-Type-Options"] = "nosniff"
    response.headers["Referrer-Policy"] = "no-referrer"
    return response
