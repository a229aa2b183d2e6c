"""What measured sessions teach the seated model: an offset and a gain per joint, shrunk toward the model.

Per joint and direction, measured angle toward the end = (1 + gain) * (model - reference) + reference + offset + wearing
+ posture. Offset and gain start as normal distributions around 0 (the model as it is); every measured set-up moves
them by Bayes' rule (linear model, known spreads: textbook algebra). The set-ups of one wearing share its offset, so
three set-ups of one session teach less about the offset than three sessions do. With one joint measured rarely the
answer stays near the model; with many it is the person's own.

Angles are taken against the session's own end (end minus room), because offsets of mounting cancel in room.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

HABIT_SD_DEG = 5.0
"""How far a person's way to sit and play is from the model's before anything was measured [deg] (ours)."""
GAIN_SD = 0.15
"""How far the effect of a knob is from the model's, as a share of it (ours)."""
POSTURE_SD_DEG = 2.0
"""How far the same person sits differently on another set-up, beyond what the set-up does [deg] (people repeat a pose
to about 2 deg)."""
WEARING_SD_DEG = 1.5
"""What is left of mounting and repetition in one session's room [deg] (repetition 1.2 over three, creep 1, ours)."""
Z90 = 1.645


@dataclass(frozen=True)
class Observation:
    """One joint on one measured set-up.

    session : which wearing. model_deg : the model's angle toward the end [deg]. measured_deg : the measured one, as the
    session's end minus its median room [deg].
    """

    session: str
    model_deg: float
    measured_deg: float


@dataclass(frozen=True)
class Correction:
    """What was learned about one joint.

    offset_deg, gain : posterior means. reference_deg : where the gain turns about (without any observation: everywhere,
    it bears on changes only). covariance : (2, 2) of the two.
    observations : how many it rests on. posture_sd, wearing_sd : spreads of a further measured set-up [deg].
    """

    offset_deg: float = 0.0
    gain: float = 0.0
    reference_deg: float = 0.0
    covariance: tuple[tuple[float, float], tuple[float, float]] = ((HABIT_SD_DEG**2, 0.0), (0.0, GAIN_SD**2))
    observations: int = 0
    posture_sd: float = POSTURE_SD_DEG
    wearing_sd: float = WEARING_SD_DEG

    def angle_deg(self, model_deg: Array | float) -> Array:
        """The angle to expect [deg] where the model says `model_deg` [deg]."""
        model = np.asarray(model_deg, dtype=float)
        if self.gain == 0.0 and self.offset_deg == 0.0:
            return model
        return model * (1.0 + self.gain) + (self.offset_deg - self.gain * self.reference_deg)

    def sd_deg(self, model_deg: Array | float, *, measured: bool = False) -> Array:
        """Standard error of the expected angle [deg]; `measured`: of one measured on a further set-up and wearing."""
        away = (np.asarray(model_deg, dtype=float) - self.reference_deg) * (self.observations > 0)
        (oo, og), (_, gg) = self.covariance
        more = self.posture_sd**2 + self.wearing_sd**2 if measured else 0.0
        return np.sqrt(oo + 2.0 * og * away + gg * away * away + more)

    def change_sd_deg(self, change_deg: float) -> float:
        """Standard error of the expected change where the model says `change_deg` [deg]; the offset cancels."""
        return abs(change_deg) * math.sqrt(self.covariance[1][1])


def learn(
    observations: Sequence[Observation],
    *,
    offset_sd: float = HABIT_SD_DEG,
    gain_sd: float = GAIN_SD,
    posture_sd: float = POSTURE_SD_DEG,
    wearing_sd: float = WEARING_SD_DEG,
) -> Correction:
    """Offset and gain of one joint from its measured set-ups; without any, the model with its own uncertainty.

    offset_sd, gain_sd : of the prior [deg], [-]. Raises ValueError for values that are not finite.
    """
    if not observations:
        prior = ((offset_sd**2, 0.0), (0.0, gain_sd**2))
        return Correction(covariance=prior, posture_sd=posture_sd, wearing_sd=wearing_sd)
    model = np.array([o.model_deg for o in observations], dtype=float)
    beyond = np.array([o.measured_deg for o in observations], dtype=float) - model
    if not (np.isfinite(model).all() and np.isfinite(beyond).all()):
        raise ValueError("observations must be finite; leave out what is not known")
    reference = float(np.mean(model))
    same = np.array([[a.session == b.session for b in observations] for a in observations], dtype=float)
    spread = posture_sd**2 * np.eye(len(model)) + wearing_sd**2 * same
    design = np.stack([np.ones_like(model), model - reference], axis=1)
    weighed = np.linalg.solve(spread, design)
    precision = np.diag([offset_sd**-2.0, gain_sd**-2.0]) + design.T @ weighed
    covariance = np.linalg.inv(precision)
    mean = covariance @ (weighed.T @ beyond)
    posture = _posture(beyond - design @ mean, posture_sd)
    scale = (posture / posture_sd) ** 2
    (oo, og), (_, gg) = covariance * max(scale, 1.0)
    return Correction(
        offset_deg=float(mean[0]),
        gain=float(mean[1]),
        reference_deg=reference,
        covariance=((float(oo), float(og)), (float(og), float(gg))),
        observations=len(model),
        posture_sd=posture,
        wearing_sd=wearing_sd,
    )


def log_evidence(observations: Sequence[Observation], *, offset_sd: float = HABIT_SD_DEG) -> float:
    """How well a model accounts for measured set-ups of one joint, before learning from them (natural logarithm).

    To choose between ways to hold the leg: the one under which the measured angles were more probable.
    """
    if not observations:
        return 0.0
    model = np.array([o.model_deg for o in observations], dtype=float)
    beyond = np.array([o.measured_deg for o in observations], dtype=float) - model
    away = model - np.mean(model)
    same = np.array([[a.session == b.session for b in observations] for a in observations], dtype=float)
    spread = POSTURE_SD_DEG**2 * np.eye(len(model)) + WEARING_SD_DEG**2 * same
    spread = spread + offset_sd**2 + GAIN_SD**2 * np.outer(away, away)
    _, size = np.linalg.slogdet(spread)
    return float(-0.5 * (beyond @ np.linalg.solve(spread, beyond) + size + len(model) * math.log(2.0 * math.pi)))


def _posture(rest: Array, assumed: float, weight: float = 8.0) -> float:
    """Spread of posture [deg]: the assumed one, worth `weight` measured set-ups, and what is left over in these."""
    seen = float(np.sum(np.square(rest - np.mean(rest))))
    return math.sqrt((weight * assumed**2 + seen) / (weight + max(len(rest) - 1, 0)))


@dataclass(frozen=True)
class Prediction:
    """A measured set-up as it was predicted from those before it.

    predicted_deg, measured_deg : angle toward the end; their difference is also that of room [deg].
    interval_deg : 90 %. model_deg : what the model alone said.
    """

    session: str
    predicted_deg: float
    measured_deg: float
    model_deg: float
    interval_deg: tuple[float, float]

    @property
    def held(self) -> bool:
        """Whether the measured value lies in the interval."""
        return self.interval_deg[0] <= self.measured_deg <= self.interval_deg[1]


@dataclass(frozen=True)
class Score:
    """How well predictions came true: root mean square errors [deg], and the share inside the 90 % intervals."""

    predictions: tuple[Prediction, ...]
    rmse_deg: float | None
    model_rmse_deg: float | None
    share_held: float | None


def predict(
    correction: Correction, session: str, model_deg: float, measured_deg: float, model_sd: float = 0.0
) -> Prediction:
    """How one measured set-up compares with what a correction said beforehand.

    model_sd : of what the model says there, beyond what was learned [deg].
    """
    expected = float(correction.angle_deg(model_deg))
    half = Z90 * math.hypot(float(correction.sd_deg(model_deg, measured=True)), model_sd)
    return Prediction(session, expected, measured_deg, model_deg, (expected - half, expected + half))


def score(predictions: Sequence[Prediction]) -> Score:
    """Errors and coverage over predictions; None where there are none."""
    if not predictions:
        return Score((), None, None, None)

    def rms(errors: ArrayLike) -> float:
        return float(np.sqrt(np.mean(np.square(errors))))

    return Score(
        tuple(predictions),
        rms([p.predicted_deg - p.measured_deg for p in predictions]),
        rms([p.model_deg - p.measured_deg for p in predictions]),
        float(np.mean([p.held for p in predictions])),
    )
