"""The quality of sessions in words: good, look at this, withheld, not analysed; no colours that judge."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from dash import dcc, html

from ...analysis.findings import findings
from ...logger.models import Session
from ..store import Entry
from ..summary import doubts_and_notes, quality_level
from ..wording import MOTION_WORDS, counted, minutes, motion_term, motion_title, sentence
from .shell import table


def playing_minutes(entry: Entry) -> str:
    """Time played in a session: `24 min`."""
    return minutes(sum(phase.end_s - phase.start_s for phase in entry.session.phases if phase.name == "playing"))


def quality_words(entry: Entry) -> list[Any]:
    """`good`, or `look at this: ...`, as text with the level set apart."""
    level, why = quality_level(entry.exposure)
    if entry.problem:
        level, why = ("not analysed" if entry.problem.startswith("Not") else "withheld"), entry.problem
        return [html.Span(level, className=f"level level-{level.split()[0]}"), html.Span(f" {why}")]
    parts: list[Any] = [html.Span(level, className=f"level level-{level.split()[0]}")]
    if why:
        parts.append(html.Span(f" {why}"))
    return parts


def day(entry: Entry) -> str:
    """`12 Nov 2026, 18:30`, on the clock of the recording."""
    when = entry.session.recorded_at
    return f"{when.day} {when:%b %Y, %H:%M}"


def sessions_table(entries: Sequence[Entry]) -> html.Div:
    """Sessions of one participant, newest first, each with its quality in words."""
    rows = [
        [
            dcc.Link(day(entry), href=f"/sessions/{entry.session.id}"),
            ", ".join(setup.name for setup in entry.session.setups),
            playing_minutes(entry),
            quality_words(entry),
        ]
        for entry in reversed(entries)
    ]
    return table("Newest first.", ["Session", "Set-ups", "Playing", "Quality"], rows, "sessions")


def quality_list(exposure: Mapping[str, Any], session: Session) -> list[Any]:
    """Everything the analysis noticed in one session: for the person who played, and folded away with the numbers."""
    quality = exposure.get("quality") or {}
    found = quality.get("findings")
    found = findings(exposure, session) if found is None else found
    doubts, notes = doubts_and_notes(quality)
    items = [*(one["plain"] for one in found), *doubts] or ["Nothing unusual was noticed."]
    return [
        html.Ul([html.Li(item) for item in items], className="plain-list"),
        *(
            [
                html.Details(
                    [html.Summary("The same in numbers"), html.Ul([html.Li(one["detail"]) for one in found])],
                    className="rests",
                )
            ]
            * bool(found)
        ),
        *(
            [html.H3("How figures are meant"), html.Ul([html.Li(note) for note in notes], className="plain-list")]
            * bool(notes)
        ),
    ]


def withheld_list(exposure: Mapping[str, Any]) -> html.Ul | html.P:
    """Figures that cannot be known, each with its reason."""
    withheld = (exposure.get("quality") or {}).get("withheld") or []
    if not withheld:
        return html.P("None: every figure this set of clips can give is there.")
    by_reason: dict[str, list[str]] = {}
    for one in withheld:
        by_reason.setdefault(str(one.get("reason", "")), []).append(_what(str(one.get("what", ""))))
    return html.Ul(
        [html.Li([html.Strong(", ".join(names)), f": {reason}"]) for reason, names in by_reason.items()],
        className="plain-list",
    )


def _what(name: str) -> str:
    """`right hip, turned inward (internal rotation)` for `right_hip_internal_rotation`; other names as words."""
    side, _, motion = name.partition("_")
    if side in ("right", "left", "both") and motion in MOTION_WORDS:
        return f"{motion_title(side, motion)} ({motion_term(motion)})"
    return sentence(name.replace("_", " "))


def count_words(entries: Sequence[Entry]) -> str:
    """`4 sessions, 96 min of playing`; `no session yet`."""
    if not entries:
        return "no session yet"
    seconds = sum(
        phase.end_s - phase.start_s for entry in entries for phase in entry.session.phases if phase.name == "playing"
    )
    return f"{counted(len(entries), 'session')}, {minutes(seconds)} of playing"
