"""Invented people whose truth is known: figures of exposure.json and sessions, as `verdicts.py` compares them.

Same wearing: the two set-ups of a session differ by the truth, with an SD from session to session, and share an offset
of the wearing that cancels. Re-worn: every session has one set-up, and session means scatter by the SD. The scatter of
blocks, which hang together (AR(1)), is part of these SDs. Opposite motions of a joint mirror each other, the legs are
alike in part.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
from footroom.logger.models import Clip, FootPlace, Participant, Phase, Session, Setup

BLOCK_SD, RHO, WEARING_SD, ALIKE = 1.0, 0.5, 2.0, 0.3
LINES = ("0", "2.5", "5", "7.5", "10", "15")
AXES = ("ankle", "hip_flexion", "hip_turn", "hip_rotation")
# motion: (axis, sign of room against the axis, typical room [deg], zone [deg])
MOTIONS = {
    "ankle_dorsiflexion": ("ankle", 1, 8.0, 5.0),
    "ankle_plantarflexion": ("ankle", -1, 40.0, 5.0),
    "hip_flexion": ("hip_flexion", 1, 25.0, 5.0),
    "hip_horizontal_abduction": ("hip_turn", 1, 20.0, 10.0),
    "hip_horizontal_adduction": ("hip_turn", -1, 15.0, 10.0),
    "hip_internal_rotation": ("hip_rotation", 1, 30.0, 10.0),
    "hip_external_rotation": ("hip_rotation", -1, 28.0, 10.0),
}


@dataclass(frozen=True)
class Design:
    """sessions: with both set-ups (same wearing) or a side (re-worn). blocks: (fewest, most) a set-up. sd: above."""

    same_wearing: bool
    sessions: int
    blocks: tuple[int, int] = (2, 10)
    sd: float = 2.0
    feet: tuple[str, ...] = ("right", "left")
    setups: int = 2
    shifts: tuple[float, ...] = ()  # deg of ankle room by set-up; empty: none
    shifted: tuple[str, ...] = ("right", "left")  # the feet these concern
    noted: tuple[str, ...] = ("right", "left")  # the feet whose pedal is noted as moved


def mean_variance(blocks: int) -> float:
    """Variance of the mean of AR(1) blocks [deg^2]."""
    lags = np.abs(np.subtract.outer(np.arange(blocks), np.arange(blocks)))
    return float(BLOCK_SD**2 * np.mean(RHO**lags))


def person(rng: np.random.Generator, design: Design) -> tuple[list[dict[str, Any]], list[Session]]:
    """Exposure figures and sessions of one person."""
    low, high = design.blocks
    within = np.mean([mean_variance(n) for n in range(low, high + 1)])
    own = np.sqrt(max(design.sd**2 / (2 if design.same_wearing else 1) - within, 0.0))
    setups = [
        Setup(
            name=f"s{k}",
            throne_height_cm=50.0,
            **{foot: FootPlace(reach_cm=40.0 + 3 * k * (foot in design.noted)) for foot in ("right", "left")},
        )
        for k in range(design.setups)
    ]
    shifts = design.shifts or (0.0,) * design.setups
    plan = (
        [tuple(range(design.setups))] * design.sessions
        if design.same_wearing
        else [(k,) for k in range(design.setups) for _ in range(design.sessions)]
    )
    exposures, sessions = [], []
    for number, played in enumerate(plan):
        order = [int(k) for k in rng.permutation(played)]
        wearing = legs(rng, WEARING_SD if design.same_wearing else 0.0, design.feet)
        figures, phases, start = {}, [], 0.0
        for k in order:
            count = int(rng.integers(low, high + 1))
            moved = legs(rng, own, design.feet)
            sides: dict[str, Any] = {}
            noise = {axis: series(rng, len(design.feet), count) for axis in AXES}
            for f, foot in enumerate(design.feet):
                for motion, (axis, sign, room, zone) in MOTIONS.items():
                    trace = (
                        moved[axis][f]
                        + wearing[axis][f]
                        + noise[axis][f]
                        + (shifts[k] if axis == "ankle" and foot in design.shifted else 0.0)
                    )
                    sides.setdefault(foot, {})[motion] = motion_figures(room + sign * trace, start, zone)
            if len(design.feet) == 2:
                rooms = sum(moved["hip_turn"][f] + wearing["hip_turn"][f] + noise["hip_turn"][f] for f in (0, 1))
                sides["both"] = {"hip_spread": motion_figures(40.0 + rooms, start, 10.0)}
            figures[setups[k].name] = sides
            phases.append(Phase(name="playing", start_s=start, end_s=start + 60.0 * count, setup=setups[k].name))
            start += 60.0 * count + 30.0
        name = f"p-{number}"
        exposures.append({"session": name, "setups": figures})
        sessions.append(
            Session(
                id=name,
                participant=Participant(id="p"),
                recorded_at=datetime(2026, 11, 1, tzinfo=UTC) + timedelta(days=number),
                setups=[setups[k] for k in played],
                clips=[Clip(segment="foot", side="right", file="clips/right_foot.arrow")],
                phases=phases,
            )
        )
    return exposures, sessions


def legs(rng: np.random.Generator, sd: float, feet: tuple[str, ...]) -> dict[str, np.ndarray]:
    """One offset per axis and foot, (feet,) each; the legs are alike in part."""
    shared = rng.normal(size=len(AXES))
    return {
        axis: sd * (np.sqrt(ALIKE) * shared[i] + np.sqrt(1 - ALIKE) * rng.normal(size=len(feet)))
        for i, axis in enumerate(AXES)
    }


def series(rng: np.random.Generator, feet: int, count: int) -> np.ndarray:
    """(feet, count) AR(1) blocks."""
    noise = rng.normal(size=(feet, count))
    for i in range(1, count):
        noise[:, i] = RHO * noise[:, i - 1] + np.sqrt(1 - RHO**2) * noise[:, i]
    return BLOCK_SD * noise


def motion_figures(rooms: np.ndarray, start_s: float, zone: float) -> dict[str, Any]:
    """One motion of exposure.json from the median room of its blocks."""

    values = rooms.tolist()
    median = sum(values) / len(values)

    def share(room: float, line: float) -> float:
        return 1 / (1 + math.exp((room - line) / 2.0))

    near = [share(room, zone) for room in values]
    return {
        "active_end_deg": 17.0,
        "range_source": "this session",
        "zone_deg": zone,
        "known_s": 60.0 * len(rooms),
        "block_s": 60.0,
        "median_room_deg": median,
        "share_near_end": sum(near) / len(near),
        "band_half_width_deg": 4.0,
        "band_near_end": [share(median, zone - 4.0), share(median, zone + 4.0)],
        "share_by_room_deg": {line: share(median, float(line)) for line in LINES},
        "blocks": [
            {
                "start_s": start_s + 60.0 * i,
                "end_s": start_s + 60.0 * (i + 1),
                "known_s": 60.0,
                "median_room_deg": room,
                "share_near_end": one,
            }
            for i, (room, one) in enumerate(zip(values, near, strict=True))
        ],
    }
