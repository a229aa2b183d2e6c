"""Soft tissue between clip and bone: lag of the thigh's skin, wobble, and clips that slip."""

import numpy as np
from physics_motion import minimum_jerk
from physics_quaternion import multiply
from scipy.interpolate import CubicSpline
from scipy.signal import butter, sosfilt
from scipy.spatial.transform import Rotation


def wobble_curves(parameters, body, timeline, positions):
    """Soft-tissue turns (rotation vector [rad] as a function of time) per clip: they follow the acceleration.

    `positions` are the joint positions at the clip rate, from time 0.

    The clip's acceleration (segment frame) through a 6 Hz low-pass, scaled so that the turn's size (root mean square
    of its angle over playing) is the asked spread.
    """
    wanted = {segment: deg for segment, deg in parameters.wobble_deg if deg > 0.0}
    if not wanted:
        return {}
    quaternions, points = body.run(positions)
    t = np.arange(len(positions)) / parameters.rate_hz
    playing = np.zeros(len(t), dtype=bool)
    for phase in timeline.phases:
        if phase.name == "playing":
            playing |= (t >= phase.start_s) & (t < phase.end_s)
    out = {}
    for clip in body.clips:
        deg = wanted.get(clip.rpartition("_")[2], 0.0)
        if deg:
            acceleration = np.gradient(np.gradient(points[clip], axis=0), axis=0) * parameters.rate_hz**2
            turned = Rotation.from_quat(quaternions[clip], scalar_first=True).apply(acceleration, inverse=True)
            lean = sosfilt(butter(2, 6.0, fs=parameters.rate_hz, output="sos"), np.roll(turned, 1, axis=1), axis=0)
            size = np.sqrt(np.mean(np.sum(lean[playing] ** 2, axis=1)))
            out[clip] = CubicSpline(t, lean * np.radians(deg) / size)
    return out


def turn_skin(parameters, body, t, positions, still, wobble, slips):
    """Write each clip's turn against its bone (lag, wobble, slip) into the joint positions."""
    for clip in body.clips:
        columns = body.skin_index(clip)
        side, _, segment = clip.rpartition("_")
        if segment == "thigh" and parameters.thigh_lag:
            axial = positions[:, body.leg_index(side)[2]] - still[body.leg_index(side)[2]]
            positions[:, columns[2]] = -parameters.thigh_lag * axial
        turned = [slip for slip in slips if slip["clip"] == clip]
        if clip not in wobble and not turned:
            continue
        skin = _turned(positions[:, columns[2], None] * np.array([0.0, 1.0, 0.0]))
        if clip in wobble:
            inside = np.clip(t, wobble[clip].x[0], wobble[clip].x[-1])
            skin = multiply(skin, _turned(wobble[clip](inside)))
        for slip in turned:
            share = minimum_jerk((t - slip["time_s"]) / 0.3 + 0.5)
            axis = np.array(slip["axis"]) / np.linalg.norm(slip["axis"])
            skin = multiply(skin, _turned(share[:, None] * np.radians(slip["turn_deg"]) * axis))
        positions[:, columns] = Rotation.from_quat(skin, scalar_first=True).as_euler("ZXY")


def _turned(rotation_vectors):
    return Rotation.from_rotvec(rotation_vectors).as_quat(scalar_first=True)
