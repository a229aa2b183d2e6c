"""Measured sessions against the seated model: how the person holds each leg, what every joint has taught, the score."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..logger.models import SIDES, Side
from .fit import Fit
from .learning import Correction, Observation, Prediction, Score, learn, log_evidence, predict, score
from .placement import Joint, toward_end_deg
from .placement_edges import prior_sd_deg
from .seated_leg import HOLDS, Hold

CONVINCING = 1.0
"""By how much (natural logarithm) another way to hold the leg has to account better for what was measured (ours)."""


@dataclass(frozen=True)
class Measured:
    """A set-up as played and measured. angle_deg : by joint, the session's end minus its median room [deg]."""

    session: str
    setup: str
    fit: Fit
    angle_deg: dict[Joint, float]


@dataclass(frozen=True)
class Learned:
    """holds : how each leg is held. corrections : by joint."""

    holds: dict[Side, Hold]
    corrections: dict[Joint, Correction]

    def applied(self, fit: Fit) -> Fit:
        """A set-up with the legs held as this person holds them."""
        for side, hold in self.holds.items():
            if side in fit.legs:
                fit = fit.held(side, hold)
        return fit


def learn_person(measured: Sequence[Measured]) -> Learned:
    """How a person sits and plays, from measured set-ups; without any, nothing beyond the model."""
    holds: dict[Side, Hold] = {}
    corrections: dict[Joint, Correction] = {}
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
        for joint, them in seen[holds[side]].items():
            corrections[joint] = learn(them, offset_sd=prior[joint[1]])
    return Learned(holds, corrections)


def _observations(measured: Sequence[Measured], side: Side, hold: Hold) -> dict[Joint, list[Observation]]:
    found: dict[Joint, list[Observation]] = {}
    for one in measured:
        joints = [joint for joint in one.angle_deg if joint[0] == side]
        if side not in one.fit.legs or not joints:
            continue
        poses = one.fit.held(side, hold).poses(side)
        for joint in joints:
            model = float(toward_end_deg(poses, joint[1]))
            if np.isfinite(model) and np.isfinite(one.angle_deg[joint]):
                found.setdefault(joint, []).append(Observation(one.session, model, one.angle_deg[joint]))
    return found


def predict_next(learned: Learned, one: Measured) -> dict[Joint, Prediction]:
    """A measured set-up as it was to be expected beforehand, by joint; only joints that were learned about."""
    fit = learned.applied(one.fit)
    found: dict[Joint, Prediction] = {}
    for joint, angle in one.angle_deg.items():
        correction = learned.corrections.get(joint)
        if correction is not None and joint[0] in fit.legs and np.isfinite(angle):
            model = float(toward_end_deg(fit.poses(joint[0]), joint[1]))
            if np.isfinite(model):
                found[joint] = predict(correction, one.session, model, angle)
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
