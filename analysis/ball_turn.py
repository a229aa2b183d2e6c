"""How far a foot turns about its ball, from the foot clip's own heading, which drifts.

With the heel in the air a foot swings about its ball by some degrees within a minute or so, and carries the ankle
sideways with it: 4 deg are 8 mm. Its clip's heading shows the swing and, added to it, the gyroscope's drift. The two
differ in kind: the swing comes back, the drift is the sum of a small rate that hardly changes. So the swing is
estimated as the best linear guess of a stationary signal under an integrated, slowly changing rate (Gaussian process
regression; Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, eq 2.25, 2.26), from the heading against
the one at rest on the pedal, where the foot lies as the tape says. Only the fixed point of the ankle is moved by it:
no angle is tied to the foot's heading.
"""

from __future__ import annotations

import numpy as np

from .segments import SegmentAxes, runs, slow
from .timebase import Floats, Grid, Mask

TURN_SD_DEG, TURN_TIME_S = 4.0, 40.0
"""Spread of the swing and the time in which it forgets itself (ours)."""
RATE_SD_DEG_S, RATE_TIME_S = 0.04, 200.0
"""Spread of the drift's rate, and the time in which that changes (ours: the physics leg's clips after the filter)."""
REST_SD_DEG, NO_REST_SD_DEG = 0.5, 30.0
"""How well the heading at rest is known, and what stands for it where there was no rest."""
STEP_S, MOST = 4.0, 900
"""The heading is averaged over this [s]; longer playing takes longer steps, at most so many."""


def ball_turn(foot: SegmentAxes, resting: Mask, playing: Mask, stretches: np.ndarray, grid: Grid) -> Floats:
    """How far the foot is turned about its ball against its rest on the pedal, (n,) to the left positive [rad].

    foot : its axes.   resting, playing : (n,) the foot at rest on the pedal; the playing.
    stretches : (n,) as from `segments.joint_stretches`; a heading does not carry over from one to the next.
    0 wherever it is not known: at rest, between set-ups.
    """
    turn = np.zeros(grid.n)
    for part in runs(stretches):
        rest, use = np.flatnonzero(resting[part]), np.flatnonzero(playing[part])
        if not use.size:
            continue
        time_s = grid.time_s[part]
        heading = np.degrees(np.unwrap(np.arctan2(foot.z[part, 0], -foot.z[part, 1])))
        smooth = slow(heading, playing[part].astype(np.float64), STEP_S / 2.0, grid.rate_hz)
        start_s, end_s = float(time_s[use[0]]), float(time_s[use[-1]])
        at_s = np.arange(start_s, end_s + 1e-9, max(STEP_S, (end_s - start_s) / MOST))
        from_s = float(time_s[rest].mean()) if rest.size else start_s
        zero = float(heading[rest].mean()) if rest.size else float(heading[use].mean())
        swing = swing_of(np.interp(at_s, time_s, smooth) - zero, at_s - from_s, known_zero=bool(rest.size))
        inside = playing[part]
        turn[part][inside] = np.radians(np.interp(time_s[inside], at_s, swing))
    return turn


def swing_of(heading_deg: Floats, after_s: Floats, known_zero: bool) -> Floats:
    """The part of a drifting heading that comes back, (m,) [deg].

    heading_deg : (m,) against the heading at rest.   after_s : (m,) time since that rest, even steps [s].
    known_zero : whether the zero is a heading at rest; else it is anybody's guess.
    """
    apart = np.abs(after_s[:, None] - after_s[None, :])
    swings = TURN_SD_DEG**2 * np.exp(-apart / TURN_TIME_S)
    drifts = _integrated(after_s) + (REST_SD_DEG if known_zero else NO_REST_SD_DEG) ** 2
    noise = REST_SD_DEG**2 * np.eye(len(after_s))
    return np.asarray(swings @ np.linalg.solve(swings + drifts + noise, heading_deg))


def _integrated(t: Floats) -> Floats:
    """(m, m) covariance at times t [s] of a drift that is 0 at t = 0 and whose rate is first-order noise [deg^2].

    The double integral of exp(-|u - v| / T) over 0..a and 0..b: T (2 min(a, b) - T (1 - e^-a/T - e^-b/T + e^-|a-b|/T)).
    """
    span = RATE_TIME_S
    t = np.maximum(t, 0.0)
    a, b = t[:, None], t[None, :]
    ends = 1.0 - np.exp(-a / span) - np.exp(-b / span) + np.exp(-np.abs(a - b) / span)
    return np.asarray(RATE_SD_DEG_S**2 * span * (2.0 * np.minimum(a, b) - span * ends))
