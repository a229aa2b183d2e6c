"""Measured sessions against the seated model: how the person holds each leg, what every joint has taught, the score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from ..logger.models import SIDES, Side
from .fit import Fit
from .learning import Correction, Observation, Prediction, Score, learn, log_evidence, predict, score
from .placement import Joint, toward_end_deg
from .placement_doubt import prior_sd_deg, turn_sd_deg
from .seated_leg import HOLDS, Hold

OUTWARD = "hip_horizontal_abduction"
"""The motion that says how far outward the knee is."""
CONVINCING = 1.0
"""By how much (natural logarithm) another way to hold the leg has to account better for what was measured (ours)."""
MOST_HABIT_DEG = 15.0
"""Farthest that a knee is taken to be held outward or inward by habit alone [deg] (ours)."""


@dataclass(frozen=True)
class Measured:
    """A set-up as played and measured. angle_deg : by joint, the session's end minus its median room [deg]."""

    session: str
    setup: str
    fit: Fit
    angle_deg: dict[Joint, float]


@dataclass(frozen=True)
class Learned:
    """holds : how each leg is held. corrections : by joint. habits : how far out the knee is by itself [rad]."""

    holds: dict[Side, Hold]
    corrections: dict[Joint, Correction]
    habits: dict[Side, float] = field(default_factory=dict)

    def applied(self, fit: Fit) -> Fit:
        """A set-up with the legs held as this person holds them."""
        for side, hold in self.holds.items():
            if side in fit.legs:
                fit = fit.held(side, hold, self.habits.get(side, 0.0))
        return fit


def learn_person(measured: Sequence[Measured]) -> Learned:
    """How a person sits and plays, from measured set-ups; without any, nothing beyond the model.

    Where a drum stood in the way, the model's knee is turned to clear it before anything is learned, and only by what
    the person's own habit leaves to turn; habit is seen where nothing stood in the way. So a knee that is out by habit
    is not turned once more, and a turn for a drum is not taken for habit.
    """
    holds: dict[Side, Hold] = {}
    corrections: dict[Joint, Correction] = {}
    habits: dict[Side, float] = {}
    for side in SIDES:
        fits = [one.fit for one in measured if side in one.fit.legs]
        if not fits:
            continue
        prior = prior_sd_deg(fits[0], side)
        seen: dict[Hold, dict[Joint, list[Observation]]] = {hold: _observations(measured, side, hold) for hold in HOLDS}
        worth: dict[Hold, float] = {
            hold: sum(log_evidence(them, offset_sd=prior[joint[1]]) for joint, them in by_joint.items())
            for hold, by_joint in seen.items()
        }
        usual, other = HOLDS
        holds[side] = other if worth[other] > worth[usual] + CONVINCING else usual
        habits[side] = _habit(measured, side, holds[side], prior[OUTWARD])
        them = _observations(measured, side, holds[side], habits[side]) if habits[side] else seen[holds[side]]
        for joint, those in them.items():
            corrections[joint] = learn(those, offset_sd=prior[joint[1]])
    return Learned(holds, corrections, habits)


def _habit(measured: Sequence[Measured], side: Side, hold: Hold, prior_deg: float) -> float:
    """How far the person turns a knee outward by itself, by where the thigh pointed with nothing in the way [rad]."""
    free = [one for one in measured if side in one.fit.legs and not one.fit.held(side, hold).turn(side)]
    seen = _observations(free, side, hold).get((side, OUTWARD))
    if not seen:
        return 0.0
    offset = np.radians(learn(seen, offset_sd=prior_deg).offset_deg)
    fit = replace(free[0].fit.held(side, hold), volumes=())
    step = np.radians(5.0)
    leg = replace(fit.legs[side], swivel=fit.legs[side].swivel + float(step))
    there, turned = (
        float(one.poses(side)["rest"].hip_horizontal_abduction)
        for one in (fit, replace(fit, legs={**fit.legs, side: leg}))
    )
    per_turn = (turned - there) / step
    if not per_turn > 0.1:
        return 0.0
    most = np.radians(MOST_HABIT_DEG)
    habit = float(np.clip(offset / per_turn, -most, most))
    touches = any(one.fit.held(side, hold, habit).turn(side) for one in free)
    return 0.0 if touches else habit  # it was played there, so the knee was not where it would touch


def _observations(
    measured: Sequence[Measured], side: Side, hold: Hold, habit: float = 0.0
) -> dict[Joint, list[Observation]]:
    found: dict[Joint, list[Observation]] = {}
    for one in measured:
        joints = [joint for joint in one.angle_deg if joint[0] == side]
        if side not in one.fit.legs or not joints:
            continue
        poses = one.fit.held(side, hold, habit).poses(side)
        for joint in joints:
            model = float(toward_end_deg(poses, joint[1]))
            if np.isfinite(model) and np.isfinite(one.angle_deg[joint]):
                found.setdefault(joint, []).append(Observation(one.session, model, one.angle_deg[joint]))
    return found


def predict_next(learned: Learned, one: Measured) -> dict[Joint, Prediction]:
    """A measured set-up as it was to be expected beforehand, by joint; only joints that were learned about."""
    fit = learned.applied(one.fit)
    turned = {side: turn_sd_deg(fit, side) for side in fit.legs}
    found: dict[Joint, Prediction] = {}
    for joint, angle in one.angle_deg.items():
        correction = learned.corrections.get(joint)
        if correction is not None and joint[0] in fit.legs and np.isfinite(angle):
            model = float(toward_end_deg(fit.poses(joint[0]), joint[1]))
            if np.isfinite(model):
                found[joint] = predict(correction, one.session, model, angle, turned[joint[0]][joint[1]])
    return found


@dataclass(frozen=True)
class Scored:
    """One joint on one measured set-up, as it was predicted from the sessions before it."""

    setup: str
    joint: Joint
    prediction: Prediction


def predicted_before(measured: Sequence[Measured]) -> list[Scored]:
    """Every measured session predicted from those before it, in the order given; the first one is not predicted."""
    order = list(dict.fromkeys(one.session for one in measured))
    found: list[Scored] = []
    for index, session in enumerate(order[1:], start=1):
        learned = learn_person([one for one in measured if one.session in order[:index]])
        for one in (one for one in measured if one.session == session):
            found += [Scored(one.setup, joint, made) for joint, made in predict_next(learned, one).items()]
    return found


def score_of(scored: Sequence[Scored]) -> Score:
    """How well predictions came true."""
    return score([one.prediction for one in scored])
