"""How far the pelvis turns away from square on the throne, from how far each hip is from its pedal.

A pelvis that turns to the left carries the right hip ahead and the left one back: 6 deg are 9 mm at each. How far a hip
is from its ankle follows from segment lengths and their slopes, which gravity shows, and the tape says how far it would
be in a pelvis that sits square. So two legs tell the turn; what else moves a hip against its pedal (sliding on the
throne, a foot that shifts on the board, the tape, the zero of a shank's slope) is weighed in by its size: the turn is
the best linear guess under all of them (Gaussian process regression; Rasmussen & Williams 2006, Gaussian Processes for
Machine Learning, eq 2.25, 2.26), and comes with its own standard deviation. One leg alone cannot tell a turn from
sliding, and gets a turn that is hardly known. All sizes here are ours.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ..logger.models import Side
from .leg import WornLeg
from .timebase import Floats, Grid

TURN_SD_DEG, HABIT_SD_DEG = 5.5, 2.5
"""Spread of the turn that comes and goes, and of the one that stays through the playing: 6 deg together."""
SLIDE_SD_M = 0.004
"""Spread of sliding ahead and back on the throne [m]."""
FOOT_SD_M = 0.002
"""Spread of a foot that shifts along its board [m]."""
FORGET_S = 60.0
"""The time in which turn, slide and shift forget themselves [s]."""
OWN_SD_M = 0.005
"""How much one foot's reach is off by itself, where the tape is off for both feet alike [m]."""
READ_SD_M = 0.001
"""What else is in the mean of `STEP_S` [m]."""
ODD_M = 0.03
"""Farther from its usual place than this a hip does not get by turning: a foot is off its pedal [m]."""
STEP_S, MOST = 8.0, 450
"""The hips' places are averaged over this [s]; longer playing takes longer steps, at most so many."""


def turn_of_pelvis(legs: Mapping[Side, WornLeg], grid: Grid) -> tuple[Floats, Floats]:
    """How far the pelvis is turned to the left of square on every taped set-up: as from `pelvis_turn`."""
    turn_rad, sd_deg = np.zeros(grid.n), np.full(grid.n, np.nan)
    for index in sorted({index for worn in legs.values() for index in worn.leg.ahead_m}):
        ahead: dict[Side, Floats] = {}
        own_sd: dict[Side, float] = {}
        tape_sd, half_width = 0.0, 0.0
        for side, worn in legs.items():
            tape = worn.on_pedal[index].tape
            if tape is None or index not in worn.leg.ahead_m:
                continue
            slope_sd = np.radians(worn.alignments["shank"].long_axis_sd_deg)
            ahead[side] = worn.leg.ahead_m[index]
            own_sd[side] = float(np.hypot(OWN_SD_M, tape.shank_m * slope_sd))
            tape_sd, half_width = tape.base_sd_m, tape.hip_half_width_m
        turn, sd = pelvis_turn(ahead, tape_sd, own_sd, half_width, grid)
        turn_rad += turn
        sd_deg = np.where(np.isfinite(sd), sd, sd_deg)
    return turn_rad, sd_deg


def pelvis_turn(
    ahead_m: Mapping[Side, Floats],
    tape_sd_m: float,
    own_sd_m: Mapping[Side, float],
    half_width_m: float,
    grid: Grid,
) -> tuple[Floats, Floats]:
    """How far the pelvis is turned to the left of square, (n,) [rad], and the standard deviation of that, (n,) [deg].

    ahead_m : {side: (n,) how far the hip is ahead of where the tape has it [m]}, NaN where that is not known.
    tape_sd_m, own_sd_m : how far the tape is off for both hips alike, and for each on its own [m].
    half_width_m : from the middle to a hip centre [m].
    Turn 0 and deviation NaN where no hip's place is known.
    """
    turn, sd = np.zeros(grid.n), np.full(grid.n, np.nan)
    known = np.zeros(grid.n, dtype=bool)
    for values in ahead_m.values():
        known |= np.isfinite(values)
    inside = np.flatnonzero(known)
    if not inside.size:
        return turn, sd
    start_s, end_s = float(grid.time_s[inside[0]]), float(grid.time_s[inside[-1]])
    step_s = max(STEP_S, (end_s - start_s) / MOST)
    seen = [_in_steps(values, start_s, step_s, grid) for values in ahead_m.values()]
    time_s, read_m = (np.concatenate(parts) for parts in zip(*seen, strict=True))
    sizes = [len(times) for times, _ in seen]
    foot = np.repeat(np.arange(len(sizes)), sizes)
    arm = np.repeat([half_width_m if side == "right" else -half_width_m for side in ahead_m], sizes)
    own = np.repeat([own_sd_m[side] for side in ahead_m], sizes)
    alike = np.exp(-np.abs(time_s[:, None] - time_s[None, :]) / FORGET_S)
    same_foot = foot[:, None] == foot[None, :]
    covariance = np.outer(arm, arm) * _turns(alike) + SLIDE_SD_M**2 * alike + tape_sd_m**2
    covariance += same_foot * (np.outer(own, own) + FOOT_SD_M**2 * alike) + READ_SD_M**2 * np.eye(len(time_s))
    at_s = np.unique(time_s)
    shared = arm * _turns(np.exp(-np.abs(at_s[:, None] - time_s[None, :]) / FORGET_S))
    weights = np.linalg.solve(covariance, np.column_stack([read_m, shared.T]))
    guess = shared @ weights[:, 0]
    left_over = _turns(np.ones(1)) - np.einsum("ij,ji->i", shared, weights[:, 1:])
    turn[known] = np.interp(grid.time_s[known], at_s, guess)
    sd[known] = np.degrees(np.sqrt(np.interp(grid.time_s[known], at_s, left_over)))
    return turn, sd


def _turns(alike: Floats) -> Floats:
    """Covariance of the turn at two times, from how much of it they share [rad^2]."""
    return np.asarray(np.radians(TURN_SD_DEG) ** 2 * alike + np.radians(HABIT_SD_DEG) ** 2)


def _in_steps(values: Floats, start_s: float, step_s: float, grid: Grid) -> tuple[Floats, Floats]:
    """Mean time of each step in which a hip's place is known [s], and its mean there [m], odd ones held at `ODD_M`."""
    use = np.isfinite(values)
    time_s = grid.time_s[use]
    usual = float(np.median(values[use])) if use.any() else 0.0
    step = ((time_s - start_s) / step_s).astype(int)
    count = np.bincount(step)
    some = np.flatnonzero(count)
    held = np.clip(values[use], usual - ODD_M, usual + ODD_M)
    return np.bincount(step, time_s)[some] / count[some], np.bincount(step, held)[some] / count[some]
