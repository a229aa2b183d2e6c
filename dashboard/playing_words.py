"""How a foot played, in a few plain sentences: from the figures of `exposure.json`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from .wording import (
    NBSP,
    counted,
    degree_span,
    degrees,
    in_brackets,
    number,
    percent,
    percent_span,
    signed_degrees,
)

_SIGNS = {
    "room_deg": ("room, toes up", "°"),
    "excursion_deg": ("the size of strokes", "°"),
    "interval_cv": ("unevenness", ""),
    "sparc": ("smoothness", ""),
    "ldlj": ("smoothness by jerk", ""),
    "posture_deg": ("the hip's bend", "°"),
}
_LEAN_DEG = 1.0
"""A shin that leans less than this is called upright [deg]."""
_LONG_S = 4.0
"""So long without a break from the end is said [s] (held: EN 1005-4, read second-hand)."""
_SAME_RANGE_DEG = 2.0
"""A range that changed by less is as before [deg] (how well people repeat it)."""


def foot_sentences(playing: Mapping[str, Any], toes_up: Mapping[str, Any] | None) -> list[str]:
    """A handful of sentences on one foot and set-up; what was not recorded is left out.

    playing : figures of the foot. toes_up : the ankle's dorsiflexion figures, or None.
    """
    unknown = playing.get("not_known") or {}
    told = [
        _strokes(playing.get("strokes"), playing.get("heel"), unknown),
        _evenness(playing),
        _near_the_end(toes_up or {}),
        _on_the_pedal(playing.get("room_at_rest"), playing.get("lift_test")),
        _knee(playing.get("knee")),
        _tiring(playing.get("trends") or {}, (toes_up or {}).get("room_trend"), unknown),
        _range_change(playing.get("range_change_deg"), playing.get("band_range_change_deg")),
    ]
    return [text for text in told if text]


def _strokes(strokes: Mapping[str, Any] | None, heel: Mapping[str, Any] | None, unknown: Mapping[str, str]) -> str:
    if strokes is None:
        return f"Strokes: {unknown.get('strokes', 'not known')}."
    text = counted(strokes["count"], "stroke")
    if strokes.get("rate_per_s") is not None:
        text += f", ordinarily {number(strokes['rate_per_s'])} a second"
    size = strokes["excursion_deg"]
    text += (
        f"; the ankle moves by {degrees(size['50'], 0)} in one ({number(size['10'], 0)} to {degrees(size['90'], 0)})."
    )
    if heel is None:
        return text
    shares = [
        (heel["heel_down_share"], "heel down"),
        (heel["heel_up_share"], "heel up"),
        (heel["heel_unknown_share"], "not known"),
    ]
    parts = [f"{words} {percent(share)}" for share, words in shares if share >= 0.005]
    return f"{text} {', '.join(parts).capitalize()} of them." if len(parts) > 1 else f"{text} {parts[0].capitalize()}."


def _evenness(playing: Mapping[str, Any]) -> str:
    even = (playing.get("strokes") or {}).get("evenness")
    if even is None:
        return ""
    text = f"Time between strokes varies by {even['sd_ms']:.0f}{NBSP}ms ({percent(even['cv'])} of it)"
    off = [one["timing"] for one in playing.get("by_exercise") or [] if one.get("timing")]
    off = [one for one in off if one.get("off_grid_ms") is not None]
    if off:
        worst = max(off, key=lambda one: one["off_grid_ms"])
        text += f"; off an even grid at {worst['tempo_bpm']:g} beats a minute by {worst['off_grid_ms']:.0f}{NBSP}ms"
        text += "" if worst.get("worth_saying") else ", which is little"
    return f"{text}."


def _near_the_end(figures: Mapping[str, Any]) -> str:
    share = figures.get("share_near_end")
    if share is None or figures.get("repeated_share") is None:
        return ""
    text = f"With less than {degrees(figures['zone_deg'], 0)} left, toes up: {percent(share)} of the time"
    text += in_brackets(percent_span(figures.get("band_near_end")))
    if share <= 0.0:
        return f"{text}."
    visits = f"in short visits ({figures['stays']:.0f}, the longest {number(figures['longest_stay_s'])}{NBSP}s)"
    if figures["held_share"] > 0.0:
        text += f", {percent(figures['held_share'])} held longer than 4{NBSP}s, {percent(figures['repeated_share'])} "
    else:
        text += ", all of it "
    without = figures.get("longest_without_gap_s")
    if without is not None and without > _LONG_S:
        return f"{text}{visits}. Longest time without a break from there: {number(without)}{NBSP}s."
    return f"{text}{visits}."


def _on_the_pedal(rest: Mapping[str, Any] | None, lift: Mapping[str, Any] | None) -> str:
    text = ""
    if rest is not None:
        text = f"At rest on the pedal {degrees(rest['room_deg'])} are left{_sure(rest.get('band_room_deg'))}."
    if lift is None:
        return text
    found = f"In the lift test the foot came up by {degrees(lift['gained_deg'])}{_sure(lift.get('band_gained_deg'))}"
    lifts = [float(one) for one in lift.get("lifts_deg") or ()]
    found += f", {degree_span((min(lifts), max(lifts)))} in {len(lifts)} lifts" if len(lifts) > 1 else ""
    found += "." if lift["lifted"] else ": it hardly lifts there."
    return f"{text} {found}".strip()


def _knee(knee: Mapping[str, Any] | None) -> str:
    if knee is None:
        return ""
    tilt, half, offset = knee["side_tilt_deg"]["50"], knee.get("side_tilt_half_width_deg"), knee.get("knee_offset_cm")
    sure = "" if half is None else f" ±{NBSP}{degrees(half, 0)}"
    if abs(tilt) < max(_LEAN_DEG, half or 0.0):
        lean = f"{degrees(abs(tilt), 0)} {'outward' if tilt > 0 else 'inward'}{sure}"
        return f"The shin stands upright, seen from in front, as far as can be told ({lean})."
    text = f"The shin leans {degrees(abs(tilt), 0)}{sure} {'outward' if tilt > 0 else 'inward'}, seen from in front"
    if offset is None:
        return f"{text}."
    half = knee.get("knee_offset_half_width_cm")
    sure = "" if half is None else f" ±{NBSP}{number(half, 0)}"
    way = "out" if offset["50"] > 0 else "in"
    return f"{text}: the knee is {number(abs(offset['50']), 0)}{sure}{NBSP}cm farther {way} than the ankle."


def _tiring(trends: Mapping[str, Any], room: Mapping[str, Any] | None, unknown: Mapping[str, str]) -> str:
    known = {name: trend for name, trend in {"room_deg": room, **trends}.items() if trend is not None}
    if not known:
        short = any("a trend needs" in reason for name, reason in unknown.items() if name.startswith("trend of"))
        return "Too short to tell whether you tired." if short else "Signs of tiring: not known."
    moved = {name: trend for name, trend in known.items() if trend["verdict"] != "no trend"}
    if not moved:
        return "No sign of tiring over the session, which is ordinary."
    parts = []
    for name, trend in moved.items():
        words, unit = _SIGNS.get(name, (name, ""))
        change, digits = trend["change"], 1 if unit else 2
        ends = [abs(one) * trend["over_s"] / 60 for one in trend["interval_per_minute"]]
        span = f"95{NBSP}%: {number(min(ends), digits)} to {number(max(ends), digits)}{unit}"
        parts.append(f"{words} {trend['verdict']} by {number(abs(change), digits)}{unit} ({span})")
    over = max(trend["over_s"] for trend in moved.values())
    return f"Over {over / 60:.0f}{NBSP}min {', '.join(parts)}: perhaps tiring, perhaps not. A rest is never wrong."


def _range_change(change: float | None, band: Sequence[float] | None) -> str:
    if change is None:
        return ""
    if abs(change) < _SAME_RANGE_DEG or (band is not None and band[0] <= 0.0 <= band[1]):
        same = f"{signed_degrees(change)}{_sure(band, signed=True)}"
        return f"Range, toes up, after playing: as before, as far as can be told: {same}."
    sizes = None if band is None else sorted(abs(one) for one in band)
    way = "larger" if change > 0 else "smaller"
    return f"Range, toes up, after playing: {degrees(abs(change))} {way} than before{_sure(sizes)}."


def _sure(band: Sequence[float] | None, *, signed: bool = False) -> str:
    return "" if band is None else in_brackets(degree_span((band[0], band[1]), signed=signed))
