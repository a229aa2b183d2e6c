"""A foot and a shank clip around an ankle whose angle is known, made from rotations alone: cheap sessions for tests.

Nothing moves from its place, so the accelerometers feel gravity only. 88 s: a still pose, ankle taps, knee kicks, five
repetitions to `END_DEG`, and two set-ups played with a known angle.
"""

import numpy as np
from clip_noise import ClipRecord
from scipy.spatial.transform import Rotation

END_DEG = 18.0
PLAYED = {"near": (11.0, 5.0), "far": (6.0, 5.0)}
"""Set-up: mean and amplitude of the dorsiflexion played [deg]."""
PHASES = [
    {"name": "still", "start_s": 0.0, "end_s": 5.0},
    {"name": "ankle_taps", "start_s": 5.5, "end_s": 15.5},
    {"name": "knee_kicks", "start_s": 16.0, "end_s": 26.0},
    {"name": "range_dorsiflexion", "start_s": 26.0, "end_s": 51.0},
    {"name": "playing", "start_s": 52.0, "end_s": 68.0, "setup": "near"},
    {"name": "playing", "start_s": 70.0, "end_s": 86.0, "setup": "far"},
    {"name": "end_still", "start_s": 86.5, "end_s": 88.0},
]
SETUPS = [{"name": "near"}, {"name": "far"}]


def _bumps(t, start, length, count, hold=0.0):
    """`count` smooth bumps of height 1, each out within half a `length`, held, and back [s]."""
    out = np.zeros_like(t)
    for k in range(count):
        at = start + k * (length + hold)
        rise = np.clip((t - at) / (length / 2), 0, 1)
        fall = np.clip((t - at - hold - length / 2) / (length / 2), 0, 1)
        out += 0.5 * (np.cos(np.pi * fall) - np.cos(np.pi * rise))
    return out


def true_dorsiflexion(t):
    """The ankle angle at the times t [deg]."""
    angle = -22.0 * _bumps(t, 6.0, 1.8, 5) + END_DEG * _bumps(t, 26.5, 2.4, 5, hold=2.0)
    for phase in PHASES:
        if phase["name"] == "playing":
            mean, amplitude = PLAYED[phase["setup"]]
            # In and out within the second around the phase, so that the whole phase is as stated.
            ease = np.clip((t - phase["start_s"] + 0.5) * 2, 0, 1) * np.clip((phase["end_s"] + 0.5 - t) * 2, 0, 1)
            angle = angle + ease * (mean + amplitude * np.sin(2 * np.pi * 1.5 * (t - phase["start_s"])))
    return angle


def clips(side="right", rate_hz=100.0, start_s=0.0, seed=0, seconds=88.0):
    """{clip name: record}; sample k is taken over the step around its stamp. start_s : of the clips' clock [s]."""
    rng = np.random.default_rng(seed)
    n = round(seconds * rate_hz)
    edges = (np.arange(n + 1) - 0.5) / rate_hz
    kick = 40.0 * _bumps(edges, 16.5, 1.8, 5)
    sway = 1.0 * np.sin(2 * np.pi * 0.21 * edges)
    shank = Rotation.from_euler("ZX", np.column_stack([kick, np.where(edges > 52, sway, 0.0)]), degrees=True)
    foot = shank * Rotation.from_euler("Z", true_dorsiflexion(edges)[:, None], degrees=True)
    out = {}
    for name, segment in (("foot", foot), ("shank", shank)):
        pose = segment * Rotation.random(rng=rng)
        step = (pose[:-1].inv() * pose[1:]).as_rotvec()
        middle = pose[:-1] * Rotation.from_rotvec(step / 2)
        acc = middle.inv().apply([0.0, 9.81, 0.0]) + rng.normal(0.0, 0.01, (n, 3))
        bias = rng.normal(0.0, np.radians(0.4), 3)
        gyr = step * rate_hz + bias + rng.normal(0.0, np.radians(0.07), (n, 3))
        out[f"{side}_{name}"] = ClipRecord(start_s + np.arange(n) / rate_hz, acc, gyr, np.degrees(bias))
    return out
