"""The true answers of the sample evenings, from the movement itself (no clip, no analysis in between).

`python -m footroom.sample_sessions.truth` prints the table that stands in README.md beside this file.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..logger.models import Side
from ..logger.virtual_leg import horizontal_abduction
from .evening import Evening, plan_evening
from .moves import COLUMN
from .pupils import EVENINGS, PUPILS, SEED, SHOWN_MOTIONS, ZONE_DEG, Pupil

Array = NDArray[np.float64]

LOOK_HZ = 100.0


@dataclass(frozen=True)
class TrueRoom:
    """What is true of one set-up, side and motion on one evening. Angles in degrees, the share 0-1."""

    pupil: str
    evening: int
    setup: str
    side: Side
    motion: str
    active_end_deg: float
    median_room_deg: float
    share_near_end: float


def toward_end(motion: str, angles: Array) -> Array:
    """The angle of a motion, positive toward its own end, (n,) [deg], from joint angles (n, 8) [rad]."""
    if motion.startswith("hip_horizontal"):
        outward = horizontal_abduction(angles[:, COLUMN["hip_flexion"]], angles[:, COLUMN["hip_adduction"]])
        return np.rad2deg(outward if motion.endswith("abduction") else -outward)
    column, sign = {
        "ankle_dorsiflexion": ("ankle_dorsiflexion", 1.0),
        "ankle_plantarflexion": ("ankle_dorsiflexion", -1.0),
        "hip_flexion": ("hip_flexion", 1.0),
        "hip_internal_rotation": ("hip_rotation", 1.0),
        "hip_external_rotation": ("hip_rotation", -1.0),
    }[motion]
    return sign * np.rad2deg(angles[:, COLUMN[column]])


def true_end(evening: Evening, side: Side, motion: str) -> float:
    """The end of the active range on that evening [deg]: the mean of the last three repetitions."""
    return float(np.mean(evening.held_deg[side][motion][-3:]))


def played_angles(evening: Evening, setup: str, side: Side, rate: float = LOOK_HZ) -> Array:
    """Joint angles while playing on a set-up, (n, 8) [rad]."""
    part = next(p for p in evening.parts if p.name == "playing" and p.setup == setup)
    return part.curves[side](np.arange(0.1, part.duration_s - 0.1, 1 / rate))


def true_rooms(evening: Evening) -> list[TrueRoom]:
    """Every set-up, side and motion of an evening whose range was checked."""
    rows = []
    for setup in evening.pupil.reach_cm:
        for side in evening.pupil.sides:
            angles = played_angles(evening, setup, side)
            for motion in (m for m in SHOWN_MOTIONS if m in evening.held_deg[side]):
                end = true_end(evening, side, motion)
                room = end - toward_end(motion, angles)
                share = float(np.mean(room < ZONE_DEG[motion]))
                rows.append(
                    TrueRoom(evening.pupil.id, evening.number, setup, side, motion, end, float(np.median(room)), share)
                )
    return rows


def all_true_rooms(pupils: Iterable[Pupil] = PUPILS, seed: int = SEED) -> list[TrueRoom]:
    """The true answers of every sample evening."""
    return [
        row
        for pupil in pupils
        for number in range(len(EVENINGS))
        for row in true_rooms(plan_evening(pupil, number, seed))
    ]


def truth_table(rows: list[TrueRoom] | None = None) -> str:
    """The true answers as a Markdown table: means over the evenings."""
    rows = all_true_rooms() if rows is None else rows
    lines = [
        "| pupil | set-up | side | motion | active end [deg] | median room [deg] | share near end [%] |",
        "|---|---|---|---|---:|---:|---:|",
    ]
    groups: dict[tuple[str, str, str, str], list[TrueRoom]] = {}
    for row in rows:
        groups.setdefault((row.pupil, row.setup, row.side, row.motion), []).append(row)
    for (pupil, setup, side, motion), found in groups.items():
        end = np.mean([row.active_end_deg for row in found])
        room = np.mean([row.median_room_deg for row in found])
        share = 100 * np.mean([row.share_near_end for row in found])
        lines.append(f"| {pupil} | {setup} | {side} | {motion} | {end:.1f} | {room:.1f} | {share:.0f} |")
    return "\n".join(lines)


def true_differences(rows: list[TrueRoom], setup_a: str, setup_b: str, pupil: str, side: Side, motion: str) -> Array:
    """Median room on `setup_b` minus `setup_a` within each evening, (evenings,) [deg]."""
    wanted = [row for row in rows if (row.pupil, row.side, row.motion) == (pupil, side, motion)]
    room = {(row.evening, row.setup): row.median_room_deg for row in wanted}
    return np.array([room[e, setup_b] - room[e, setup_a] for e in sorted({row.evening for row in wanted})])


def difference_table(rows: list[TrueRoom] | None = None) -> str:
    """How median dorsiflexion room truly differed between set-ups, evening by evening, as a Markdown table."""
    rows = all_true_rooms() if rows is None else rows
    lines = ["| pupil | side | from -> to | mean [deg] | each evening [deg] |", "|---|---|---|---:|---|"]
    feet: dict[tuple[str, Side], None] = dict.fromkeys((row.pupil, row.side) for row in rows)
    for pupil, side in feet:
        for setup_a, setup_b in (("near", "far"), ("far", "wide"), ("near", "wide")):
            found = true_differences(rows, setup_a, setup_b, pupil, side, "ankle_dorsiflexion")
            each = ", ".join(f"{value:+.1f}" for value in found)
            lines.append(f"| {pupil} | {side} | {setup_a} -> {setup_b} | {found.mean():+.1f} | {each} |")
    return "\n".join(lines)


if __name__ == "__main__":
    every = all_true_rooms()
    print(truth_table(every), difference_table(every), sep="\n\n")
