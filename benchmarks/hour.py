"""A recording of one hour with seven clips at 200 Hz, made from one minute of the physics engine's two-leg person.

The minute of playing runs forward, then backward, and so on: backward in time, accelerations are the same and angular
rates change sign, so the hour has no jumps and stays physically possible.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from analysed import nearest_axis, store
from footroom.logger.logbook import Logbook
from physics_leg import PhysicsParameters, SetupScript, replace, simulate

HOUR_S = 3600.0
RATE_HZ = 200.0


def _lengthened(record, start_s, end_s, n):
    """The clip with its span from start to end played to and fro until it has n samples."""
    head = record.time_s < start_s
    part = (record.time_s >= start_s) & (record.time_s < end_s)
    bias = np.radians(record.gyro_bias_dps)
    acc, free = record.acc[part], record.gyr[part] - bias
    rounds = -(-(n - head.sum()) // (2 * part.sum()))
    acc = np.concatenate([record.acc[head], np.tile(np.concatenate([acc, acc[::-1]]), (rounds, 1))])[:n]
    gyr = np.concatenate([record.gyr[head], bias + np.tile(np.concatenate([free, -free[::-1]]), (rounds, 1))])[:n]
    return replace(record, time_s=(np.arange(n) + 0.5) / RATE_HZ, acc=acc, gyr=gyr)


def make_hour(folder):
    """A new logbook with the hour in it; returns (logbook, session id, {clip: record})."""
    physics = simulate(
        PhysicsParameters(
            seed=11,
            sides=("right", "left"),
            pelvis_clip=True,
            both_at_once=True,
            ranges=("ankle_dorsiflexion", "hip_internal_rotation", "hip_external_rotation", "hip_flexion"),
            setups=(SetupScript(playing_s=60.0),),
            end_checks=False,
            rate_hz=RATE_HZ,
        )
    )
    start, end = physics.span("playing")
    n = round(HOUR_S * RATE_HZ)
    clips = {name: _lengthened(record, start, end, n) for name, record in physics.clips.items()}
    phases = [replace(p, end_s=HOUR_S) if p.name == "playing" else p for p in physics.phases]
    hint = nearest_axis(physics.mounts["pelvis"].rotation.inv().apply([0.0, 0.0, 1.0]))
    logbook = Logbook.create(folder)
    session_id = store(
        logbook,
        clips,
        phases,
        participant=physics.participant,
        setups=physics.setups,
        right_axis={"pelvis": hint},
    )
    return logbook, session_id, clips
