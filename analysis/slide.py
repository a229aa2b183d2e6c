"""The slide: in socks, both feet apart and together on the floor, to find how wide and how narrow the pedals may stand.

Ball to ball from hip and knee angles and segment lengths, the pelvis taken as level and the feet as pointing where the
thighs point (no foot clip is worn yet; "the shank stays in the foot's plane": common practice, no source). A repetition
in which a shank leans more than 10 deg to the side is marked: the foot went somewhere the hip did not.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from ..logger.errors import InputError
from ..logger.models import SIDES, Session, Side
from .body_size import Body, body_of
from .calibration import phases_of
from .knee_place import shank_side_tilt
from .repetitions import Repetition, find_repetitions
from .session_angles import SessionAngles
from .timebase import Floats

TILT_DEG = 10.0
"""A shank that leans to the side by more than this: repeat (the coaches' rule, common practice, no source)."""
NEAR_CM = 1.0
NEEDED = ("hip_flexion", "hip_adduction", "hip_rotation", "knee_flexion", "hip_horizontal_abduction")


def slide_figures(session: Session, angles: SessionAngles) -> dict[str, Any] | None:
    """Widest and narrowest ball to ball of a session's slides, every repetition kept; None where there was none.

    `widest_cm`, `narrowest_cm` are means over the repetitions that were not marked, None with a `reason` where they
    cannot be known; `plus_minus_cm` is 95 %, from the angles' own uncertainty and the lengths.
    """
    spans = [(p.start_s, p.end_s) for p in phases_of(session, "slide") if p.side is None]
    if not spans:
        return None
    try:
        body = body_of(session.participant)
    except InputError:
        return _unknown("neither the stature nor the lengths of thigh and shank are known")
    names = [f"{side}_{name}" for side in SIDES for name in NEEDED]
    if any(name not in angles.columns for name in names):
        return _unknown("it needs thigh and shank clips on both legs, and their angles")
    here: dict[Side, list[Floats]] = {side: [angles.columns[f"{side}_{name}"] for name in NEEDED] for side in SIDES}
    width = 100.0 * (body.hip_width + _ball_outward(here["right"], body) + _ball_outward(here["left"], body))
    tilts: dict[Side, Floats] = {side: shank_side_tilt(*here[side][:4]) for side in SIDES}
    spread = here["right"][4] + here["left"][4]
    time_s = angles.grid.time_s
    wide = [_repetition(found, time_s, width, spread, tilts) for found in find_repetitions(time_s, width, spans)]
    if not wide:
        return _unknown("no slide apart was found in it, or the heading of a leg was not known any more")
    good = [one for one in wide if not one["tilted"]]
    narrow = [-found.held_deg for found in find_repetitions(time_s, -width, spans)]
    inside = angles.grid.mask(spans)
    messages = [] if len(good) >= 3 else [f"{len(good)} of {len(wide)} repetitions count: three to five are needed"]
    if len(good) < len(wide):
        messages.append(f"{len(wide) - len(good)} repeated with the shank upright would count")
    return {
        "repetitions": wide,
        "widest_cm": float(np.mean([one["widest_cm"] for one in good])) if good else None,
        "widest_spread_deg": float(np.mean([one["spread_deg"] for one in good])) if good else None,
        "narrowest_cm": float(np.mean(narrow)) if narrow else None,
        "plus_minus_cm": _unsure_cm(angles, inside, body),
        "reason": None if good else f"in every repetition a shank leaned more than {TILT_DEG:g} deg to the side",
        "messages": messages,
    }


def _unknown(reason: str) -> dict[str, Any]:
    empty: dict[str, Any] = {"repetitions": [], "widest_cm": None, "widest_spread_deg": None, "narrowest_cm": None}
    return {**empty, "plus_minus_cm": None, "reason": reason, "messages": []}


def _ball_outward(columns: list[Floats], body: Body) -> Floats:
    """How far the ball of a foot is outward of its hip centre, (n,) [m]; columns as in `NEEDED` [deg]."""
    _, b, c, k, azimuth = (np.radians(column) for column in columns)
    thigh = -np.sin(b)
    shank = np.cos(b) * np.sin(c) * np.sin(k) - np.sin(b) * np.cos(k)
    return body.thigh * thigh + body.shank * shank + body.ball_to_ankle * np.sin(azimuth)


def _repetition(
    found: Repetition, time_s: Floats, width_cm: Floats, spread_deg: Floats, tilts: dict[Side, Floats]
) -> dict[str, Any]:
    """What a repetition was at its widest."""
    rows = slice(*np.searchsorted(time_s, (found.start_s, found.end_s)).tolist())
    with np.errstate(invalid="ignore"):
        near = width_cm[rows] >= found.held_deg - NEAR_CM
    tilt = {side: float(np.nanmedian(values[rows][near])) for side, values in tilts.items()}
    return {
        "start_s": found.start_s,
        "end_s": found.end_s,
        "widest_cm": found.held_deg,
        "spread_deg": float(np.nanmedian(spread_deg[rows][near])),
        "side_tilt_deg": tilt,
        "tilted": any(abs(value) > TILT_DEG for value in tilt.values()),
    }


def _unsure_cm(angles: SessionAngles, inside: np.ndarray, body: Body) -> float | None:
    """95 % half-width of ball to ball [cm]: each leg's azimuth swings the foot, and lengths are taped or estimated."""
    swing = body.thigh + body.ball_to_ankle
    parts = [2.0 * body.length_sd]
    for side in SIDES:
        unsure = angles.uncertainty[f"{side}_hip_horizontal_abduction"][inside]
        known = unsure[np.isfinite(unsure)]
        if not known.size:
            return None
        parts.append(swing * float(np.radians(np.median(known))))
    return 100.0 * float(np.linalg.norm(parts))
