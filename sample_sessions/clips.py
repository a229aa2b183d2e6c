"""From a planned evening to what its clips would have stored: 16-bit counts at 200 Hz, clips put on anew each evening.

Of our own leg (`logger.virtual_leg`), rigid: no skin moves over bone here, the pelvis keeps upright and square, and
all clips share one clock. Real recordings are less kind.
"""

from __future__ import annotations

from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from ..logger.models import Clip, Participant, Segment, Session, Setup, Side
from ..logger.recording import RawClip
from ..logger.virtual_clip import GRAVITY, ClipMount, clip_samples, random_rotation, rotation_about, to_counts
from ..logger.virtual_leg import LegAngles, LegPose, LegSize, leg_from_angles
from .evening import Evening, rng_for
from .music import ease
from .pupils import EVENINGS, SCHOOL, SEED, Fault, Pupil

Array = NDArray[np.float64]
Samples = tuple[Array, Array, Array]  # time (n,) [s], specific force (n, 3) [m/s^2], angular rate (n, 3) [rad/s]

RATE_HZ = 200.0
FINE = 2  # fine steps per sample
CHUNK = 4096  # samples worked on at a time
WORN: tuple[Segment, ...] = ("foot", "shank", "thigh")
ACC_SCALE_G = 1 / 2048  # +-16 g
GYR_SCALE_DEG_S = 1 / 32.8  # +-1000 deg/s
GYR_BIAS_DEG_S = 0.4  # standard deviation per axis


def _mount(segment: Segment, side: Side, size: LegSize, rng: np.random.Generator) -> ClipMount:
    """Clips are put on any way round, about where they belong: instep, inner shin, front of the thigh."""
    inner = -0.03 if side == "right" else 0.03
    place = {
        "foot": (0.5 * size.ball_to_ankle, -0.02, 0.0),
        "shank": (0.02, -0.6 * size.shank, inner),
        "thigh": (0.06, -0.55 * size.thigh, 0.0),
    }[segment]
    return ClipMount(
        rotation=random_rotation(rng),
        position=np.array(place) + rng.normal(scale=0.01, size=3),
        gyr_bias=np.deg2rad(rng.normal(scale=GYR_BIAS_DEG_S, size=3)),
        acc_bias=rng.normal(scale=0.005 * GRAVITY, size=3),
    )


def _origin(pose: LegPose, segment: Segment) -> Array:
    return {"foot": pose.ankle, "shank": pose.knee, "thigh": pose.hip}[segment]


def _turned(fault: Fault, begin: float, t: Array) -> Array:
    """How a clip has turned on its segment, (n, 3, 3): all at once, in about `lasts_s`."""
    part = ease((t - begin) / fault.lasts_s)
    return rotation_about(part[:, None] * np.deg2rad(fault.turn_deg))


def simulate(
    evening: Evening, seed: int = SEED, rate: float = RATE_HZ, segments: tuple[Segment, ...] = WORN
) -> dict[str, Samples]:
    """What each clip measures during a planned evening, faults included: {clip name: (time, acc, gyr)}.

    rate : of the clips [Hz]. Units: s, m/s^2, rad/s. The clips' random numbers come from the seed, the pupil and the
    evening.
    """
    pupil, fault = evening.pupil, evening.pupil.faults.get(evening.number)
    rng = rng_for(pupil, evening.number, 1, seed)
    n = int(evening.duration_s * rate)
    fine = rate * FINE
    # so that the mean of the FINE steps of sample i belongs to the time i / rate
    t = np.maximum((np.arange(n * FINE) - (FINE - 1) / 2) / fine, 0.0)
    time = np.arange(n) / rate
    begin = 0.0 if fault is None else evening.playing_start(fault.setup) + fault.after_s
    out: dict[str, Samples] = {}
    for side in pupil.sides:
        angles = evening.angles(side, t)
        mounts: dict[Segment, ClipMount] = {segment: _mount(segment, side, pupil.size, rng) for segment in segments}
        acc = {segment: np.empty((n, 3)) for segment in segments}
        gyr = {segment: np.empty((n, 3)) for segment in segments}
        for first in range(0, n, CHUNK):  # in pieces that fit a processor's cache, with one more sample at either end
            last = min(first + CHUNK, n)
            low, high = max(first - 1, 0), min(last + 1, n)
            steps = slice(low * FINE, high * FINE)
            pose = leg_from_angles(LegAngles.from_array(angles[steps]), pupil.size, side, pupil.hip_height)
            for segment in segments:
                turn = fault is not None and fault.kind == "turn" and fault.clip == f"{side}_{segment}"
                turned = _turned(fault, begin, t[steps]) if fault is not None and turn else None
                rotation, origin = getattr(pose, segment), _origin(pose, segment)
                piece = clip_samples(rotation, origin, mounts[segment], fine, FINE, rng, turned=turned)
                kept = slice(first - low, last - low)
                acc[segment][first:last], gyr[segment][first:last] = piece[0][kept], piece[1][kept]
        for segment in segments:
            there = np.ones(n, dtype=bool)
            if fault is not None and fault.kind == "dropout" and fault.clip == f"{side}_{segment}":
                there = (time < begin) | (time >= begin + fault.lasts_s)
            out[f"{side}_{segment}"] = (time[there], acc[segment][there], gyr[segment][there])
    return out


def as_stored(samples: Samples) -> RawClip:
    """16-bit counts with their scales (g, deg/s), time in whole microseconds: as a small part delivers them."""
    time, acc, gyr = samples
    return RawClip.from_arrays(
        np.round(time * 1e6).astype(np.uint32),
        to_counts(acc / GRAVITY, ACC_SCALE_G),
        to_counts(np.rad2deg(gyr), GYR_SCALE_DEG_S),
        "g",
        "deg/s",
        time_scale=1e-6,
        acceleration_scale=ACC_SCALE_G,
        angular_rate_scale=GYR_SCALE_DEG_S,
    )


def participant(pupil: Pupil) -> Participant:
    """The pupil with the lengths a tape would give, to the nearest half centimetre."""

    def tape(metres: float) -> float:
        return round(200 * metres) / 2

    size = pupil.size
    return Participant(
        id=pupil.id,
        stature_cm=pupil.stature_cm,
        thigh_length_cm=tape(size.thigh),
        shank_length_cm=tape(size.shank),
        ball_to_ankle_cm=tape(size.ball_to_ankle),
        hip_width_cm=tape(size.hip_width),
    )


def setups(pupil: Pupil) -> list[Setup]:
    """The pupil's set-ups, as written on the class's sheet."""
    return [
        Setup(
            name=name,
            throne_height_cm=pupil.throne_height_cm,
            reach_cm=pupil.reach_cm[name],
            spacing_cm=pupil.spacing_cm[name],
            footboard_pitch_deg=pupil.footboard_pitch_deg,
            foot_splay_deg=pupil.foot_splay_deg,
            snare_diameter_in=14,
            footwear="the same thin-soled shoes",
            throne_settled=True,
        )
        for name in pupil.reach_cm
    ]


def session(evening: Evening, seed: int = SEED, segments: tuple[Segment, ...] = WORN) -> Session:
    """The evening's metadata as the logbook keeps it (the id is a placeholder until it is stored)."""
    pupil = evening.pupil
    return Session(
        id="new",
        participant=participant(pupil),
        recorded_at=datetime.fromisoformat(EVENINGS[evening.number]),
        note=f"{SCHOOL}; evening {evening.number + 1}. Simulated, not a person.",
        setups=setups(pupil),
        clips=[
            Clip(segment=segment, side=side, file=f"clips/{side}_{segment}.arrow")
            for side in pupil.sides
            for segment in segments
        ],
        phases=evening.phases(),
        source={"kind": "sample", "seed": str(seed), "evening": f"{pupil.id} {evening.number + 1}"},
    )
