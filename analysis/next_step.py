"""What to try next: one knob, a direction, a small step, what it should do to every joint and how sure; or why nothing.

A step is proposed only when it very probably leaves the tightest joint more room than now, counted beyond its end zone,
although the person sits a little differently every time. It is never smaller than what can be resolved, pushes no other
joint into its end zone, and ends with "then measure again". The person decides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from ..logger.models import SIDES, Side
from .fit import KNOBS, Fit
from .learning import GAIN_SD, WEARING_SD_DEG, Z90, Correction
from .placement import Joint, Yardstick, toward_end_deg
from .placement_doubt import prior_sd_deg

STEPS: dict[str, tuple[float, ...]] = {
    "reach_cm": (2.0, 3.0, 4.0),
    "spacing_cm": (2.0, 3.0, 4.0),
    "footboard_pitch_deg": (2.0, 3.0, 4.0, 5.0),
    "throne_height_cm": (2.0, 3.0),
}
"""Steps worth trying; below 1 cm or 1-2 deg nothing can be resolved (our plausibility bound, no source)."""
CHANCE = 0.92
"""How probable it has to be that the step helps (ours)."""
RESOLVABLE_DEG = 2.0
"""Least expected gain of the tightest joint [deg]: people repeat a pose to about 2 deg."""
DRAWS = 4000
NOTICED_M = 0.005
"""A leg that comes this much closer to a drum it touches already comes closer [m] (ours)."""
NOTICED_RAD = float(np.radians(0.5))
"""A knee that turns this much farther turns farther [rad] (ours)."""
MODEL_SHARE = 0.1
"""How far the model's own effect of a knob may be off, as a share (ours)."""


@dataclass(frozen=True)
class Expected:
    """One joint before and after: rooms, change, and the 90 % interval of the change as it will be measured [deg]."""

    side: Side
    motion: str
    room_now_deg: float
    room_after_deg: float
    change_deg: float
    interval_deg: tuple[float, float]


@dataclass(frozen=True)
class Suggestion:
    """knob, by : what to turn and how far, in `unit`, on `sides`. chance : that the tightest joint gains, 0-1.

    helps : the tightest joint. others : every other joint, the largest loss first (side effects on the other end).
    """

    knob: str
    by: float
    unit: str
    sides: tuple[Side, ...]
    chance: float
    helps: Expected
    others: tuple[Expected, ...]


@dataclass(frozen=True)
class NoSuggestion:
    """Why nothing is proposed; one sentence for people."""

    reason: str


@dataclass(frozen=True)
class State:
    """What is known of the set-up as it stands.

    measured : room of joints as measured on it [deg], the mean over `sessions` wearings. throne_settled : marked by the
    person or coach. sources : where each end comes from.
    """

    measured: Mapping[Joint, float] = field(default_factory=dict)
    sessions: int = 1
    throne_settled: bool = False
    sources: Mapping[Joint, str] = field(default_factory=dict)


@dataclass
class _Draws:
    """Rooms of all joints now, (joints, draws) [deg], and what draws share with any other set-up."""

    joints: list[Joint]
    now: np.ndarray
    offset: np.ndarray
    gain: np.ndarray
    model: np.ndarray
    corrections: list[Correction]


def suggest(fit: Fit, yardstick: Yardstick, state: State, *, seed: int = 1) -> Suggestion | NoSuggestion:
    """The step most worth trying from here, or the reason why there is none.

    yardstick : only joints with an end are looked at. seed : of the draws; the same input gives the same answer.
    """
    if not state.throne_settled:
        return NoSuggestion(
            "the throne height is not marked as settled; settle it first (thigh slope, balance), then the pedals"
        )
    joints = [joint for side in fit.legs for joint in yardstick.joints(side)]
    if not joints:
        return NoSuggestion("no end of active range is known; measure the range first")
    zones = np.array([yardstick.zones[motion] for _, motion in joints])[:, None]
    draws = _draw(fit, yardstick, state, joints, np.random.default_rng(seed))
    tightest = int(np.argmin(np.median(draws.now, axis=1) - zones[:, 0]))
    side, motion = joints[tightest]
    name = f"{side} {motion.replace('_', ' ')}"
    left = float(np.median(draws.now[tightest]) - zones[tightest, 0])
    if state.sources.get(joints[tightest]) == "norm":
        return NoSuggestion(f"the end of {name} is a published norm, not this person's; measure the range first")
    if left >= 0.0:
        learned = any(one.observations for one in yardstick.corrections.values())
        how_long = " for at least half of the playing time" if learned else ""  # sessions teach median room
        return NoSuggestion(
            f"every joint keeps clear of its end zone{how_long}; nearest to it is {name}, {left:.1f} degrees away"
        )
    best: tuple[float, Suggestion] | None = None
    blocked: set[str] = set()
    for knob, by, sides in _candidates(fit, side, motion):
        moved = fit.moved(knob, by, sides)
        after = _after(moved, yardstick, draws, np.random.default_rng(seed + 1))
        if after is None:
            continue
        chance, middle = _worth(draws.now - zones, after - zones)
        if chance < CHANCE or middle < RESOLVABLE_DEG:
            turned_for = _turned_for(fit, moved)
            if turned_for is not None:
                free = _after(replace(moved, volumes=()), yardstick, draws, np.random.default_rng(seed + 1))
                chance, middle = (0.0, 0.0) if free is None else _worth(draws.now - zones, free - zones)
                if chance >= CHANCE and middle >= RESOLVABLE_DEG:
                    blocked.add(turned_for)
            continue
        thing = _in_the_way(fit, moved)
        if thing is not None:
            blocked.add(thing)
            continue
        merit = middle - 0.5 * abs(by) * len(sides)  # a larger step, and a second foot, have to earn their size
        if best is None or merit > best[0]:
            best = (merit, _worded(knob, by, sides, chance, joints, tightest, draws.now, after))
    if best is not None:
        return best[1]
    if blocked:
        things = " and ".join(sorted(blocked))
        return NoSuggestion(
            f"{things}, not the joint, is the limit: a step that gives {name} room brings a leg against it; "
            "try a smaller drum, or move it"
        )
    return NoSuggestion(
        f"no single step of 2 to 4 cm or 2 to 5 degrees would probably give {name} more room than sitting a little "
        "differently does, without taking it from another joint; measure this set-up again, or change by hand"
    )


def _worth(now: np.ndarray, after: np.ndarray) -> tuple[float, float]:
    """(chance that the least spare room grows, its median growth [deg]); no chance where a step takes a joint that was
    clear into its end zone. now, after : spare rooms (joints, draws) [deg]."""
    gain = np.min(after, axis=0) - np.min(now, axis=0)
    entered = (np.median(now, axis=1) >= 0.0) & (np.median(after, axis=1) < 0.0)
    return 0.0 if entered.any() else float(np.mean(gain > 0.0)), float(np.median(gain))


def _candidates(fit: Fit, side: Side, motion: str) -> list[tuple[str, float, tuple[Side, ...]]]:
    """Knobs with a hold on a motion, one foot alone where each foot has its own; the throne only for the hip's bend."""
    knobs = ["reach_cm", "footboard_pitch_deg"] if motion.startswith("ankle") else ["spacing_cm", "reach_cm"]
    if motion == "hip_flexion":
        knobs = ["throne_height_cm"]
    found: list[tuple[str, float, tuple[Side, ...]]] = []
    for knob in knobs:
        choices: list[tuple[Side, ...]] = [(side,), tuple(fit.legs)] if KNOBS[knob].per_foot else [SIDES]
        for sides in dict.fromkeys(choices):
            found += [(knob, sign * step, sides) for step in STEPS[knob] for sign in (1.0, -1.0)]
    return found


def _model(fit: Fit, joints: list[Joint]) -> np.ndarray:
    poses = {side: fit.poses(side) for side in fit.legs}
    return np.array([float(toward_end_deg(poses[side], motion)) for side, motion in joints])


def _draw(fit: Fit, yardstick: Yardstick, state: State, joints: list[Joint], rng: np.random.Generator) -> _Draws:
    model = _model(fit, joints)
    prior = {side: prior_sd_deg(fit, side) for side in fit.legs}
    corrections: list[Correction] = []
    for i, (side, motion) in enumerate(joints):
        known = yardstick.corrections.get((side, motion))
        unknown = ((prior[side][motion] ** 2, 0.0), (0.0, GAIN_SD**2))
        correction = known or Correction(covariance=unknown)
        corrections.append(correction if correction.observations else replace(correction, reference_deg=model[i]))
    shared = np.array([rng.multivariate_normal((0, 0), c.covariance, DRAWS).T for c in corrections])
    offset, gain = shared[:, 0], shared[:, 1] + MODEL_SHARE * rng.standard_normal((len(joints), DRAWS))
    now = np.empty((len(joints), DRAWS))
    for i, joint in enumerate(joints):
        correction = corrections[i]
        expected = yardstick.ends[joint] - float(correction.angle_deg(model[i]))
        posture = correction.posture_sd
        away = model[i] - correction.reference_deg
        base = expected - offset[i] - gain[i] * away
        measured = state.measured.get(joint)
        if measured is None:
            now[i] = base + posture * rng.standard_normal(DRAWS)
            continue
        error2 = correction.wearing_sd**2 / max(state.sessions, 1)
        weight = posture**2 / (posture**2 + error2)
        now[i] = base + weight * (measured - base) + np.sqrt(error2 * weight) * rng.standard_normal(DRAWS)
    return _Draws(joints, now, offset, gain, model, corrections)


def _after(moved: Fit, yardstick: Yardstick, draws: _Draws, rng: np.random.Generator) -> np.ndarray | None:
    """Rooms on the changed set-up, (joints, draws) [deg]; None where a leg cannot be there."""
    model = _model(moved, draws.joints)
    if not np.isfinite(model).all():
        return None
    after = np.empty_like(draws.now)
    for i, joint in enumerate(draws.joints):
        correction = draws.corrections[i]
        expected = yardstick.ends[joint] - float(correction.angle_deg(model[i]))
        away = model[i] - correction.reference_deg
        posture = correction.posture_sd * rng.standard_normal(after.shape[1])
        after[i] = expected - draws.offset[i] - draws.gain[i] * away + posture
    return after


def _in_the_way(fit: Fit, moved: Fit) -> str | None:
    """The drum, stand or leg that a step brings a leg against, or closer against; None without one."""
    for side in fit.legs:
        before, after = fit.clearing(side), moved.clearing(side)
        if float(after.free) < min(0.0, float(before.free) - NOTICED_M):
            return after.things[int(after.nearest)]
    return None


def _turned_for(fit: Fit, moved: Fit) -> str | None:
    """What a step makes a knee turn farther for; None where no knee has to."""
    for side in fit.legs:
        if abs(moved.turn(side)) > abs(fit.turn(side)) + NOTICED_RAD:
            found = moved.clearing(side)
            return found.things[int(found.nearest)]
    return None


def _worded(
    knob: str,
    by: float,
    sides: tuple[Side, ...],
    chance: float,
    joints: list[Joint],
    tightest: int,
    now: np.ndarray,
    after: np.ndarray,
) -> Suggestion:
    effects: list[Expected] = []
    for i, (side, motion) in enumerate(joints):
        change = after[i] - now[i]
        middle = float(np.mean(change))
        half = Z90 * float(np.hypot(np.std(change), WEARING_SD_DEG))
        room = float(np.mean(now[i]))
        effects.append(Expected(side, motion, room, room + middle, middle, (middle - half, middle + half)))
    others = sorted((e for i, e in enumerate(effects) if i != tightest), key=lambda e: e.change_deg)
    return Suggestion(knob, by, KNOBS[knob].unit, sides, chance, effects[tightest], tuple(others))
