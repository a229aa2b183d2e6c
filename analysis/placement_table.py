"""A placement report as text for a terminal."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from rich.console import Console
from rich.text import Text

from .motions import words
from .range_table import slide_width


def print_placement(report: Mapping[str, Any], console: Console) -> None:
    """Where it stands, how far it may go, what limits, what to try next."""

    def say(line: str, style: str = "") -> None:
        console.print(Text(line, style=style))

    height = report["throne_height_cm"]
    settled = "settled" if report["throne_settled"] else "not marked as settled"
    played = "" if report["way"] == "heel-down" else ", heel-up"
    say(f"{report['participant']} on {report['setup']}: throne {height:g} cm ({settled}){played}", "bold")
    say(report["caution"])
    console.print(Text(_rooms(report), no_wrap=True))
    say("Ends by range check, by hand or, for want of either, a published norm; +- 95 %; * inside its end zone. The "
        "last three columns: what 1 cm more of each does to the room.")  # fmt: skip
    lines = _stretches(report)
    for line in lines:
        say(line)
    for side, turn in report["swivel_to_clear_deg"].items():
        thing = report["swivel_to_clear"][side]
        if turn is None:
            say(f"The {side} leg touches {thing} however its knee is turned: that is the limit, not the hip.")
        elif turn:
            say(f"Where it stands: {side} {turn_words(turn, thing)}{_hip(report, side)}.")
    if report["slide_cm"] is not None:
        say(slide_words(report["slide_cm"]))
    alone = [] if report["without_things"] is None else _stretches(report["without_things"])
    for line in alone if alone != lines else ():
        say(f"If nothing stood in the way: {line[0].lower()}{line[1:]}")
    learned = report["learned"]
    score = learned["score"]
    if score["rmse_deg"] is not None:
        say(
            f"Learned from {learned['sessions']} sessions; each predicted from those before it: off by "
            f"{score['rmse_deg']:.1f} deg (model alone {score['model_alone_rmse_deg']:.1f})."
        )
    else:
        count = learned["sessions"]
        say(f"Learned from {count} session{'' if count == 1 else 's'}; nothing to score a prediction by yet.")
    if report["suggestion"] is not None:
        say(f"Next: {report['suggestion']['sentence']}", "bold")
    else:
        say(f"Nothing to try next: {report['why_no_suggestion']}.", "bold")
    for note in report["notes"]:
        say(f"Note: {note}.")


def slide_words(slide: Mapping[str, Any]) -> str:
    """`The slide gave 16 to 62 +- 7 cm ball to ball (robin-2026-11-25), in socks on the floor.`"""
    return f"The slide gave {slide_width(slide)} ball to ball ({slide['session']}), in socks on the floor."


def _hip(report: Mapping[str, Any], side: str) -> str:
    """`; right hip horizontal abduction then keeps 9 deg`, and whether that is too little."""
    hip = report["hip_when_swivelled"].get(side)
    if hip is None:
        return ""
    limit = "" if hip["clear"] else f", in its end zone: {report['swivel_to_clear'][side]} is the limit, not the hip"
    return f"; {words(side, hip['motion'])} then keeps {_whole(hip['room_deg'])} deg{limit}"


def turn_words(turn_deg: float, thing: str | None, degrees: str = " deg") -> str:
    """`knee turned out 8 deg to clear the snare drum`."""
    way, what = "out" if turn_deg > 0 else "in", f" to clear {thing}" if thing else ""
    return f"knee turned {way} {_whole(abs(turn_deg))}{degrees}{what}"


def at_edge(edge: Mapping[str, Any], degrees: str = " deg") -> str:
    """`, knee turned out 8 deg to clear the snare drum`, where the edge of a clear stretch needs that; else nothing."""
    if not edge["turned_for"]:
        return ""
    thing = None if edge["turned_for"] == edge["limit"] else edge["turned_for"]
    return f", {turn_words(edge['turned_deg'], thing, degrees)}"


def _stretches(found: Mapping[str, Any]) -> list[str]:
    lines = [f"Reach, {side} foot: {_stretch(one, 'nearest', 'farthest')}" for side, one in found["reach_cm"].items()]
    if found["spacing_cm"] is not None:
        lines.append(f"Spacing: {_stretch(found['spacing_cm'], 'narrowest', 'widest')}")
    return lines


_SHORT = {"range check": "check", "measured by hand": "hand", "norm": "norm"}


def _rooms(report: Mapping[str, Any]) -> str:
    """Lines of a table, under 80 columns."""
    lines = [f"{'degrees':<30}{'end':>10}{'room +-':>9}{'measured':>9}{'reach':>6}{'spacing':>8}{'throne':>7}"]
    for side, motions in report["room_deg"].items():
        for motion, room in motions.items():
            end = report["ends"][side][motion]
            seen = report["measured_room_deg"].get(side, {}).get(motion)
            effect = [
                _signed(report["sensitivity"][knob][side][motion])
                for knob in ("reach_cm", "spacing_cm", "throne_height_cm")
            ]
            near = "*" if room is not None and room < end["zone_deg"] else " "
            off = report["room_plus_minus_deg"][side][motion]
            here = f"{_whole(room)}{'' if off is None else f'+-{_whole(off)}'}{near}"
            lines.append(
                f"{words(side, motion):<30}{end['deg']:>4.0f} {_SHORT[end['source']]:>5}{here:>9}"
                f"{'' if seen is None else _whole(seen):>9}{effect[0]:>6}{effect[1]:>8}{effect[2]:>7}"
            )
    return "\n".join(lines)


def _whole(value: float | None) -> str:
    return "-" if value is None else f"{round(value) + 0}"


def _signed(value: float | None) -> str:
    return "" if value is None else f"{value:+.1f}"


def _stretch(stretch: Mapping[str, Any], low: str, high: str) -> str:
    if stretch["reason"] is not None:
        return f"{stretch['reason']}; it stands at {stretch['now_cm']:.0f} cm."
    parts = [_edge(stretch["from"], f"{low} below"), _edge(stretch["to"], f"{high} above")]
    inside = "inside" if stretch["now_is_clear"] else "outside"
    return f"{', '.join(parts)}; it stands at {stretch['now_cm']:.0f} cm, {inside}."


def _edge(edge: Mapping[str, Any], beyond: str) -> str:
    if edge["cm"] is None:
        return f"{beyond} {edge['looked_cm']:.0f} cm (not looked farther)"
    word = beyond.partition(" ")[0]
    unsure = "" if edge["plus_minus_cm"] is None else f" +- {edge['plus_minus_cm']:.0f}"
    limit = edge["limit"]
    whose = words(edge["side"], limit) if "_" in limit else limit
    return f"{word} {edge['cm']:.0f}{unsure} cm ({whose}{at_edge(edge)})"
