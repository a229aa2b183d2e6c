"""Whether a parsed exposure.json has the shape that comparisons and screens read; hand or disk may have spoilt it."""

from __future__ import annotations

import math
from typing import Any

from ..logger.models import SIDES
from .motions import BOTH

_NUMBERS = (
    "median_room_deg", "share_near_end", "known_s", "block_s", "zone_deg", "band_half_width_deg", "active_end_deg",
    "start_s",
)  # fmt: skip
_PAIRS = ("band_near_end", "band_median_room_deg")


def has_shape(exposure: Any, session_id: str) -> bool:
    """Whether these are the figures of that session: set-ups, sides, motions, with numbers where numbers belong."""
    if not isinstance(exposure, dict) or exposure.get("session") != session_id:
        return False
    setups, quality = exposure.get("setups"), exposure.get("quality") or {}
    if not isinstance(setups, dict) or not isinstance(quality, dict) or not _mappings(quality.get("slips") or []):
        return False
    sides = [side for one in setups.values() for side in (one.items() if isinstance(one, dict) else [("", None)])]
    return all(
        name in (*SIDES, BOTH) and isinstance(motions, dict) and all(_figures(one) for one in motions.values())
        for name, motions in sides
    )


def _figures(one: Any) -> bool:
    if not isinstance(one, dict) or not _mappings(one.get("blocks") or []):
        return False
    lines = one.get("share_by_room_deg") or {}
    numbers = [part.get(key) for part in (one, *(one.get("blocks") or [])) for key in _NUMBERS]
    pairs = [pair for key in _PAIRS if (pair := one.get(key)) is not None]
    if not isinstance(lines, dict) or any(not isinstance(pair, list) or len(pair) != 2 for pair in pairs):
        return False
    return all(map(_number, [*numbers, *lines.values(), *(end for pair in pairs for end in pair)]))


def _mappings(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, dict) for one in value)


def _number(value: Any) -> bool:
    return value is None or (isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value))
