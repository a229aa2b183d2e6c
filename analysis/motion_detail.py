"""What is known of one motion in one set-up beside its exposure: levels, cycles, exercises, trend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from .active_range import ActiveEnd
from .cycles import EXPONENT, Cycles, damage_index
from .exposure import NotKnown
from .fatigue import sign_trend
from .levels import level_duration_table

Floats = NDArray[np.float64]
Group = tuple[str | None, float | None]
"""(exercise, tempo [1/min]) of a phase; None = not named."""


def motion_detail(
    playing_deg: Floats,
    dt_s: float,
    end: ActiveEnd,
    half_width_deg: float,
    cycles: Cycles,
    blocks: Sequence[Mapping[str, Any]],
    groups: Sequence[Group],
) -> dict[str, Any]:
    """Figures that join those of `motion_exposure`.

    playing_deg : (n,) trace toward the end, the playing only, on steps of dt_s [s], NaN = not known (`joined`) [deg].
    cycles : of the same playing; upside down they are the same, so one count serves both directions of a joint.
    blocks : as `motion_exposure` gives them. groups : exercise and tempo of each block.
    half_width_deg : of the offset band [deg]. The room's trend is None where it is not known; an offset does not change
    it, nor the cycles.
    """
    known_s = float(np.count_nonzero(np.isfinite(playing_deg))) * dt_s
    out: dict[str, Any] = {"level_duration": level_duration_table(end.value_deg - playing_deg, dt_s, half_width_deg)}
    out |= _cycle_figures(cycles, known_s)
    rooms = np.array([_number(block["median_room_deg"]) for block in blocks])
    middles = np.array([(_number(block["start_s"]) + _number(block["end_s"])) / 2 for block in blocks])
    trend = sign_trend("room_deg", middles, rooms, groups)
    out["room_trend"] = None if isinstance(trend, NotKnown) else trend
    out["by_exercise"] = _by_exercise(blocks, half_width_deg, groups)
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
    blocks: Sequence[Mapping[str, Any]], half_width_deg: float, groups: Sequence[Group]
) -> list[dict[str, Any]]:
    """Room and share near the end per exercise and tempo, with bands: means over blocks, weighted by known time."""
    rows: list[dict[str, Any]] = []
    for group in dict.fromkeys(groups):
        mine = [block for block, name in zip(blocks, groups, strict=True) if name == group and block["known_s"]]
        weight = np.array([_number(block["known_s"]) for block in mine])
        if not weight.size:
            continue
        room = _weighted([block["median_room_deg"] for block in mine], weight)
        bands = [block.get("band_near_end") or (None, None) for block in mine]
        band = [_weighted([one[i] for one in bands], weight) for i in (0, 1)]
        rows.append(
            {
                "exercise": group[0],
                "tempo_bpm": group[1],
                "known_s": float(weight.sum()),
                "mean_block_room_deg": room,
                "band_mean_block_room_deg": None if room is None else [room - half_width_deg, room + half_width_deg],
                "share_near_end": _weighted([block["share_near_end"] for block in mine], weight),
                "band_near_end": None if None in band else band,
            }
        )
    return rows


def _weighted(found: Sequence[float | None], weight: Floats) -> float | None:
    values = np.array([_number(one) for one in found])
    return float(values @ weight / weight.sum()) if bool(np.isfinite(values).all()) else None


def _number(value: float | None) -> float:
    return float("nan") if value is None else float(value)
