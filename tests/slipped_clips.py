"""Clips that turn on the leg, and segments that really turn, put into recorded samples afterwards."""

import numpy as np
from analysed import session_of
from footroom.analysis.orientation import orient, rotate, up_in_sensor
from footroom.analysis.timebase import common_grid, onto_grid
from scipy.spatial.transform import Rotation

AXES = {"x": (1.0, 0.0, 0.0), "y": (0.0, 1.0, 0.0), "z": (0.0, 0.0, 1.0)}


def ease(u):
    """0 to 1 while u goes from 0 to 1, smoothly; its rate."""
    v = np.clip(u, 0.0, 1.0)
    return v**3 * (10 + v * (6 * v - 15)), 30 * v**2 * (1 - v) ** 2


def with_slip(samples, mount, axis, turn_deg, at_s, lasts_s=0.3):
    """(time, acc, gyr) of a clip that turns on its segment by turn_deg about an axis of the segment, from at_s on.

    mount : (3, 3), clip axes to segment axes. The clip turns about its own place.
    """
    time_s, acc, gyr = samples
    way = mount.T @ np.asarray(axis, dtype=float)
    way /= np.linalg.norm(way)
    part, rate = ease((time_s - at_s) / lasts_s)
    back = Rotation.from_rotvec(-np.radians(turn_deg) * part[:, None] * way)
    return time_s, back.apply(acc), back.apply(gyr) + np.radians(turn_deg) / lasts_s * rate[:, None] * way


def with_turned_foot(samples, track, grid, turn_deg, at_s, lasts_s=0.5):
    """Samples of a foot that really turns on its board, about the vertical, and stays there."""
    time_s, acc, gyr = samples
    up = up_in_sensor(track.quat)
    up = np.column_stack([np.interp(time_s, grid.time_s, column) for column in up.T])
    _, rate = ease((time_s - at_s) / lasts_s)
    return time_s, acc, gyr + np.radians(turn_deg) / lasts_s * rate[:, None] * up


def with_moved_knee(samples, track, grid, forward, turn_deg, at_s, until_s, lasts_s=0.5):
    """Samples of a shank or thigh whose knee moves sideways: both turn about the line from hip to ankle, and back.

    forward : (3,) the direction in the clip that points ahead in the seated pose.
    """
    time_s, acc, gyr = samples
    ahead = rotate(track.quat, np.asarray(forward, dtype=float))
    ahead[:, 2] = 0.0
    line = np.cos(np.radians(40)) * ahead / np.linalg.norm(ahead, axis=1, keepdims=True)
    line[:, 2] = -np.sin(np.radians(40))
    line = Rotation.from_quat(track.quat.astype(float), scalar_first=True).inv().apply(line)
    line = np.column_stack([np.interp(time_s, grid.time_s, column) for column in line.T])
    (there, go), (gone, back) = ease((time_s - at_s) / lasts_s), ease((time_s - until_s) / lasts_s)
    turn = np.radians(turn_deg) * (there - gone)
    rate = np.radians(turn_deg) / lasts_s * (go - back)
    return time_s, Rotation.from_rotvec(-turn[:, None] * line).apply(acc), gyr + rate[:, None] * line


def oriented(samples, grid):
    """The track of one clip."""
    values, known = onto_grid(samples[0], np.column_stack(samples[1:]), grid)
    return orient(values[:, :3], values[:, 3:], known, grid.rate_hz)


def tracks_of(physics):
    """(session, samples, mounts as matrices, grid, tracks) of a session from the physics engine."""
    session = session_of(physics.clips, physics.phases, participant=physics.participant, setups=physics.setups)
    samples = {name: (clip.time_s, clip.acc, clip.gyr) for name, clip in physics.clips.items()}
    mounts = {name: physics.mounts[name].rotation.as_matrix() for name in samples}
    grid = common_grid({name: one[0] for name, one in samples.items()})
    return session, samples, mounts, grid, {name: oriented(one, grid) for name, one in samples.items()}
