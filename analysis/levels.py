"""How long the room stays at which level: level x duration table, lengths of stays, and time away from the end zone.

Table: exposure variation analysis, Mathiassen & Winkel 1991, Ergonomics 34:1455-1468, doi:10.1080/00140139108964889;
the classes of duration (2**n - 1 s) are from memory, the classes of room are ours. Recovery gaps: after Veiersted,
Westgaard & Andersen 1990, Int Arch Occup Environ Health 62:31-41, whose gaps are of muscle activity, at least 0.2 s
long; for angles the gap is our analogue, not published. Held: longer than 4 s (EN 1005-4, read second-hand).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from .episodes import HELD_S, stays

Floats = NDArray[np.float64]

DURATION_EDGES_S: tuple[float, ...] = (0.0, 1.0, 3.0, 7.0, 15.0, 31.0)
"""Lower edges of the classes of duration; the last has no upper one [s]."""
ROOM_EDGES_DEG: tuple[float, ...] = (0.0, 5.0, 10.0, 15.0, 20.0)
"""Edges between the classes of room: below 0, 0 to 5, ..., 20 and more [deg]."""
SHORTEST_GAP_S = 0.2
MOVED: tuple[float, ...] = (-1.0, -0.5, 0.5, 1.0)
"""Where in the offset band the table is computed again, in half-widths: a share in a class of room may be largest or
smallest in between."""


def duration_names() -> list[str]:
    """`0-1`, `1-3`, ..., `31+` [s]."""
    pairs = zip(DURATION_EDGES_S, DURATION_EDGES_S[1:], strict=False)
    return [f"{a:g}-{b:g}" for a, b in pairs] + [f"{DURATION_EDGES_S[-1]:g}+"]


def level_names() -> list[str]:
    """`<0`, `0-5`, ..., `20+` [deg of room]."""
    pairs = zip(ROOM_EDGES_DEG, ROOM_EDGES_DEG[1:], strict=False)
    return [f"<{ROOM_EDGES_DEG[0]:g}", *(f"{a:g}-{b:g}" for a, b in pairs), f"{ROOM_EDGES_DEG[-1]:g}+"]


def level_duration_table(room_deg: Floats, dt_s: float, half_width_deg: float = 0.0) -> dict[str, Any] | None:
    """Share of known time in each class of room by how long the room stayed in it; None where no room is known.

    room_deg : (n,) on a grid of dt_s [s]; NaN = not known, it adds no time and ends a stay. A level holds its lower
    edge, a duration too. half_width_deg : of the offset band [deg].
    Returns `levels_deg` (names), `durations_s` (names), `share`, a row a level, in all 1, and `low` and `high`: the
    least and the most of each share as room is moved through the band.
    Raises ValueError for an array that is not (n,) or a step that is not above 0.
    """
    if room_deg.ndim != 1 or not dt_s > 0:
        raise ValueError(f"room must be (n,), got {room_deg.shape}, on a step above 0, got {dt_s}")
    if not np.isfinite(room_deg).any():
        return None
    share = _level_shares(room_deg, dt_s)
    moved = [share, *(_level_shares(room_deg + part * half_width_deg, dt_s) for part in MOVED if half_width_deg)]
    return {
        "levels_deg": level_names(),
        "durations_s": duration_names(),
        "share": share.tolist(),
        "low": np.min(moved, axis=0).tolist(),
        "high": np.max(moved, axis=0).tolist(),
    }


def _level_shares(room_deg: Floats, dt_s: float) -> Floats:
    """(levels, durations) [0-1]"""
    known = np.isfinite(room_deg)
    level = np.zeros(room_deg.size, dtype=np.int8)
    for edge in ROOM_EDGES_DEG:
        level += room_deg >= edge
    level[~known] = -1
    start = np.flatnonzero(np.diff(level, prepend=np.int8(-2)))
    length = np.diff(start, append=level.size)
    row = level[start].astype(np.intp)
    length, row = length[row >= 0], row[row >= 0]
    column = np.searchsorted(DURATION_EDGES_S, length * dt_s + 1e-9, side="right") - 1
    rows, columns = len(ROOM_EDGES_DEG) + 1, len(DURATION_EDGES_S)
    time = np.bincount(row * columns + column, weights=length, minlength=rows * columns)
    return (time / np.count_nonzero(known)).reshape(rows, columns)


def stay_figures(inside: NDArray[np.bool_], dt_s: float, known_s: float) -> dict[str, Any]:
    """How often and how long the trace stayed in the end zone.

    inside : (n,) on a grid of dt_s [s], False where not known. known_s : known playing time, above 0 [s].
    `stays`: their number; `entries_per_minute`: per known minute. `median_stay_s` is None without a stay.
    `held_stays`, `held_share`: stays longer than 4 s, and their share of known time; `repeated_share`: of the others.
    `stays_by_duration`: number of stays, and the share of known time in them, by class of duration.
    """
    found = stays(inside, dt_s)
    length_s = found.length_s
    held = length_s > HELD_S
    place = np.searchsorted(DURATION_EDGES_S, length_s + 1e-9, side="right") - 1
    classes = len(DURATION_EDGES_S)
    return {
        "entries_per_minute": 60.0 * length_s.size / known_s,
        "longest_stay_s": found.longest_s,
        "stays": int(length_s.size),
        "median_stay_s": float(np.median(length_s)) if length_s.size else None,
        "held_stays": int(np.count_nonzero(held)),
        "held_share": min(1.0, float(length_s[held].sum()) / known_s),
        "repeated_share": min(1.0, float(length_s[~held].sum()) / known_s),
        "stays_by_duration": {
            "durations_s": duration_names(),
            "count": np.bincount(place, minlength=classes).tolist(),
            "share": (np.bincount(place, weights=length_s, minlength=classes) / known_s).tolist(),
        },
    }


def recovery_gaps(
    inside: NDArray[np.bool_], known: NDArray[np.bool_], dt_s: float, shortest_s: float = SHORTEST_GAP_S
) -> dict[str, Any]:
    """Uninterrupted times away from the end zone of at least `shortest_s`.

    inside, known : (n,) on a grid of dt_s [s], something known. A stretch that is not known ends a gap and is none.
    `gaps_per_minute` and `gap_share` are of known time, `median_gap_s` and `longest_gap_s` None without a gap.
    `longest_without_gap_s`: the longest known time in which none began, None with no time in the zone at all.
    """
    known_s = float(np.count_nonzero(known)) * dt_s
    away = stays(known & ~inside, dt_s)
    enough = away.length_s >= shortest_s - 1e-9
    length_s = away.length_s[enough]
    in_gap = np.zeros(known.size + 1, dtype=np.int64)
    first = away.start[enough]
    last = first + np.round(length_s / dt_s).astype(np.intp)
    np.add.at(in_gap, first, 1)
    np.add.at(in_gap, last, -1)
    without = known & (np.cumsum(in_gap[:-1]) == 0)
    return {
        "gaps_per_minute": 60.0 * length_s.size / known_s,
        "gap_share": min(1.0, float(length_s.sum()) / known_s),
        "median_gap_s": float(np.median(length_s)) if length_s.size else None,
        "longest_gap_s": float(length_s.max()) if length_s.size else None,
        "longest_without_gap_s": stays(without, dt_s).longest_s if bool((inside & known).any()) else None,
    }
