"""What is known of one motion in one set-up beside its exposure: levels, stays, gaps, cycles, exercises, trend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .active_range import ActiveEnd
from .cycles import EXPONENT, Cycles, damage_index
from .exposure import NotKnown, has_zone
from .fatigue import sign_trend
from .levels import level_duration_table, recovery_gaps, stay_figures

Floats = NDArray[np.float64]
Group = tuple[str | None, float | None]
"""(exercise, tempo [1/min]) of a phase; None = not named."""

_ZONE_NAMES = ("median_stay_s", "held_stays", "repeated_share", "stays_by_duration", "gaps_per_minute", "gap_share")
_ZONE_NAMES += ("median_gap_s", "longest_gap_s", "longest_without_gap_s")


def joined(values: Floats, pieces: Sequence[slice]) -> Floats:
    """Pieces of a trace one after another with a NaN between them; infinities become NaN."""
    parts: list[Floats] = []
    for piece in pieces:
        parts += [values[piece], np.array([np.nan])]
    out = np.concatenate(parts) if parts else np.zeros(0)
    out[np.isinf(out)] = np.nan
    return out


def motion_detail(
    playing_deg: Floats,
    dt_s: float,
    end: ActiveEnd,
    zone_deg: float,
    cycles: Cycles,
    blocks: Sequence[Mapping[str, float | None]],
    groups: Sequence[Group],
) -> dict[str, Any]:
    """Figures that join those of `motion_exposure`.

    playing_deg : (n,) trace toward the end, the playing only, on steps of dt_s [s], NaN = not known (`joined`) [deg].
    cycles : of the same playing; upside down they are the same, so one count serves both directions of a joint.
    blocks : as `motion_exposure` gives them. groups : exercise and tempo of each block.
    Figures of the end zone are None where there is none; the room's trend is None where it is not known.
    """
    known = np.isfinite(playing_deg)
    known_s = float(np.count_nonzero(known)) * dt_s
    out: dict[str, Any] = {
        "level_duration": level_duration_table(end.value_deg - playing_deg, dt_s),
        **dict.fromkeys(_ZONE_NAMES),
    }
    if has_zone(end, zone_deg):
        inside = playing_deg > end.value_deg - zone_deg
        out |= stay_figures(inside, dt_s, known_s) or {}
        out |= recovery_gaps(inside, known, dt_s) or {}
    out |= _cycle_figures(cycles, known_s)
    rooms = np.array([_number(block["median_room_deg"]) for block in blocks])
    middles = np.array([(_number(block["start_s"]) + _number(block["end_s"])) / 2 for block in blocks])
    trend = sign_trend("room_deg", middles, rooms, groups)
    out["room_trend"] = None if isinstance(trend, NotKnown) else trend
    out["by_exercise"] = _by_exercise(blocks, groups)
    return out


def _cycle_figures(cycles: Cycles, known_s: float) -> dict[str, Any]:
    if not known_s > 0:
        return {"cycles_per_minute": None, "median_cycle_deg": None, "relative_cycle_damage": None}
    middle = None
    if cycles.count.size:
        order = np.argsort(cycles.range_deg)
        place = np.searchsorted(np.cumsum(cycles.count[order]), cycles.total / 2)
        middle = float(cycles.range_deg[order][min(int(place), order.size - 1)])
    return {
        "cycles_per_minute": 60.0 * cycles.total / known_s,
        "median_cycle_deg": middle,
        "relative_cycle_damage": {"exponent": EXPONENT, "per_minute": damage_index(cycles, known_s)},
    }


def _by_exercise(
    blocks: Sequence[Mapping[str, float | None]], groups: Sequence[Group]
) -> list[dict[str, float | str | None]]:
    """Median room and share near the end per exercise and tempo: means over its blocks, weighted by known time."""
    rows: list[dict[str, float | str | None]] = []
    for group in dict.fromkeys(groups):
        mine = [block for block, name in zip(blocks, groups, strict=True) if name == group and block["known_s"]]
        weight = np.array([_number(block["known_s"]) for block in mine])
        if not weight.size:
            continue
        rows.append(
            {
                "exercise": group[0],
                "tempo_bpm": group[1],
                "known_s": float(weight.sum()),
                "mean_block_room_deg": _weighted(mine, "median_room_deg", weight),
                "share_near_end": _weighted(mine, "share_near_end", weight),
            }
        )
    return rows


def _weighted(blocks: Sequence[Mapping[str, float | None]], name: str, weight: Floats) -> float | None:
    values = np.array([_number(block[name]) for block in blocks])
    return float(values @ weight / weight.sum()) if bool(np.isfinite(values).all()) else None


def _number(value: float | None) -> float:
    return float("nan") if value is None else float(value)
