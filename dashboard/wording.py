"""Every sentence and number format of the screens, in one place: plain words, units always.

Figures come in as `exposure.json` and the comparison's rows hold them (degrees, shares 0-1); text goes out.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Any

from ..analysis.motions import words as field_words
from ..analysis.phrases import clock as clock
from ..logger.cautions import CAUTION as CAUTION

# The order of cards and tables; what is moved, what the person does, the field's term.
MOTION_WORDS: dict[str, tuple[str, str, str]] = {
    "ankle_dorsiflexion": ("ankle", "toes up", "dorsiflexion"),
    "ankle_plantarflexion": ("ankle", "toes down", "plantarflexion"),
    "hip_flexion": ("hip", "knee up", "flexion"),
    "hip_horizontal_abduction": ("hip", "knee outward", "horizontal abduction"),
    "hip_horizontal_adduction": ("hip", "knee inward", "horizontal adduction"),
    "hip_internal_rotation": ("hip", "turned inward", "internal rotation"),
    "hip_external_rotation": ("hip", "turned outward", "external rotation"),
    "hip_spread": ("hips", "legs apart", "spread"),
}
RANGE_SOURCE_WORDS = {
    "this session": "the range check of the same session",
    "earlier session": "a range check of an earlier session",
    "typed": "a range measured by hand and typed in",
    "norm": "a published norm, not the person's own range",
}
WHAT_A_BAND_IS = (
    "Clips, skin and a repeated movement never sit twice in exactly the same place, so everything in a session may lie "
    "a few degrees higher or lower, all of it alike. The band is what a figure would be then: the true one lies in it "
    "in about 19 of 20 sessions. A wide band is not a bad result, only an unsure one; three good repetitions in the "
    "range check and half a minute at the end, sitting as at the start, make it narrower."
)
GEOMETRY_WORDS: dict[str, tuple[str, str]] = {
    "throne_height_cm": ("throne", "cm"),
    "seat_unloaded_cm": ("seat unloaded", "cm"),
    "seat_compression_cm": ("gives by", "cm"),
    "reach_cm": ("reach", "cm"),
    "spacing_cm": ("spacing", "cm"),
    "footboard_pitch_deg": ("footboard pitch", "°"),
    "foot_splay_deg": ("foot splay", "°"),
    "thigh_slope_deg": ("thigh slope", "°"),
    "snare_diameter_in": ("snare", "in"),
    "footwear": ("", ""),
}
VERDICTS = ("clear difference", "no clear difference", "not enough data")
MINUS = "−"
NBSP = "\N{NO-BREAK SPACE}"  # between a number and its unit


def degrees(value: float | None, digits: int = 1) -> str:
    """`3.1°`; a dash when not known."""
    return "–" if value is None or not math.isfinite(value) else number(value, digits) + "°"


def number(value: float, digits: int = 1) -> str:
    """A number with a real minus sign and never `-0.0`."""
    rounded = round(value, digits) + 0.0
    text = f"{abs(rounded):.{digits}f}"
    return MINUS + text if rounded < 0 else text


def percent(share: float | None) -> str:
    """A share 0-1 as a whole percentage; what is not quite none or all says so."""
    if share is None or not math.isfinite(share):
        return "–"
    if 0 < share < 0.005:
        return f"under 1{NBSP}%"
    if 0.995 < share < 1:
        return f"over 99{NBSP}%"
    return f"{share * 100:.0f}{NBSP}%"


def signed_degrees(value: float | None, digits: int = 1) -> str:
    """`+3.1°`: a difference."""
    text = degrees(value, digits)
    return f"+{text}" if value is not None and round(value, digits) > 0 else text


def degree_span(low_high: tuple[float, float] | list[float] | None, digits: int = 1, *, signed: bool = False) -> str:
    """`1.2 to 5.0°`; signed: `+1.2 to +5.0°`."""
    if not low_high:
        return "–"
    low, high = (signed_degrees(one, digits) if signed else degrees(one, digits) for one in low_high)
    return f"{low.removesuffix('°')} to {high}"


def in_brackets(span: str) -> str:
    """` (95 %: 1.2 to 5.0°)` behind a figure; nothing where its span is not known."""
    return "" if span == "–" else f" (95{NBSP}%: {span})"


def percent_span(low_high: tuple[float, float] | list[float] | None) -> str:
    """`4 to 31 %`."""
    if not low_high:
        return "–"
    return f"{low_high[0] * 100:.0f} to {low_high[1] * 100:.0f}{NBSP}%"


def minutes(seconds: float | None) -> str:
    """`12 min`, or seconds below two minutes."""
    if seconds is None or not math.isfinite(seconds):
        return "–"
    return f"{seconds:.0f}{NBSP}s" if seconds < 120 else f"{seconds / 60:.0f}{NBSP}min"


def counted(count: int, thing: str, things: str | None = None) -> str:
    """`1 session`, `2 sessions`."""
    return f"{count} {thing if count == 1 else things or thing + 's'}"


def sentence(text: str) -> str:
    """A message as a sentence: a capital first, clip names as words."""
    words = re.sub(r"\b(right|left)_(foot|shank|thigh)\b", r"\1 \2", text.strip())
    return words[:1].upper() + words[1:]


def as_typed(value: float) -> str:
    """A typed number without digits nobody typed, with a real minus sign."""
    return f"{round(value, 1) + 0.0:g}".replace("-", MINUS)


def with_moves(text: str) -> str:
    """A sentence's joints in the words of the screens: `left ankle dorsiflexion` becomes `left ankle (toes up)`."""
    for motion, (_, move, _) in MOTION_WORDS.items():
        for side in ("right", "left", "both"):
            text = text.replace(field_words(side, motion), f"{joint(side, motion)} ({move})")
    return text


def joint(side: str, motion: str) -> str:
    """`right ankle`, `left hip`, `hips`."""
    name = MOTION_WORDS.get(motion, (motion.replace("_", " "), "", ""))[0]
    return name if side == "both" else f"{side} {name}"


def motion_title(side: str, motion: str) -> str:
    """`Right ankle, toes up`."""
    _, move, _ = MOTION_WORDS.get(motion, ("", motion.replace("_", " "), ""))
    text = f"{joint(side, motion)}, {move}"
    return text[:1].upper() + text[1:]


def motion_term(motion: str) -> str:
    """The field's term: `dorsiflexion`."""
    return MOTION_WORDS.get(motion, ("", "", motion.replace("_", " ")))[2]


def finding(rows: Sequence[Mapping[str, Any]], rooms: Mapping[str, float]) -> str:
    """A card in one line: its strongest verdict, what may have been missed, and the median rooms.

    `no clear difference (up to 2.1° may have been missed); median room near 22.0°, far 22.4°`.
    """
    verdicts = [row["verdict"] for row in rows]
    strongest = next((one for one in VERDICTS if one in verdicts), None)
    if strongest == "no clear difference":
        missed = max(row["could_be_missed"] for row in rows if row["verdict"] == strongest)
        strongest = f"{strongest} (up to {degrees(missed)} may have been missed)"
    medians = ", ".join(f"{name} {degrees(room)}" for name, room in rooms.items())
    return (f"{strongest}; " if strongest else "") + f"median room {medians}"


def share_sentence(
    zone_deg: float, shares: Mapping[str, float | None], bands: Mapping[str, tuple[float, float] | None]
) -> str:
    """The consequence: `Playing time with less than 5° left: 38 % (9 to 60 %) with ‘near’, 9 % (1 to 20 %) with ‘far’.`

    bands : of each share, 95 %.
    """
    known = [
        f"{percent(share)} ({percent_span(bands[name])}) with ‘{name}’"
        if bands.get(name)
        else f"{percent(share)} with ‘{name}’"
        for name, share in shares.items()
        if share is not None
    ]
    if not known:
        return "Time near the end of the range: not known."
    return f"Playing time with less than {degrees(zone_deg, 0)} left: {', '.join(known)}."


def rooms_sentence(rooms: Mapping[str, tuple[float | None, tuple[float, float] | None]]) -> str:
    """`Room left, half of the time more: 5.1° (2.4 to 7.9°) with ‘near’, 9.2° (6.5 to 12.0°) with ‘far’.`

    rooms : median room and its 95 % band, by set-up. Empty where none is known.
    """
    known = [
        f"{degrees(room)} ({degree_span(band)}) with ‘{name}’" if band else f"{degrees(room)} with ‘{name}’"
        for name, (room, band) in rooms.items()
        if room is not None
    ]
    return f"Room left, half of the time more: {', '.join(known)}." if known else ""


def geometry(setup: Mapping[str, Any]) -> str:
    """`throne 50 cm, reach 44 cm; right foot: reach 46 cm`; empty when nothing was measured."""
    parts: list[str] = []
    for key, (word, unit) in GEOMETRY_WORDS.items():
        value = setup.get(key)
        if value is None:
            continue
        if isinstance(value, str):
            parts.append(value)
        else:
            parts.append(f"{word}{NBSP}{as_typed(value)}{unit if unit == '°' else NBSP + unit}")
    feet = [f"{side} foot: {geometry(setup[side])}" for side in ("right", "left") if setup.get(side)]
    return "; ".join([", ".join(parts), *feet] if parts else feet)
