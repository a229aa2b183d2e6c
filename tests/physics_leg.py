"""Known-truth sessions from a leg in the mujoco physics engine, for the accuracy tests and the benchmarks.

    session = simulate(PhysicsParameters(seed=1, setups=(SetupScript(playing_s=60.0),)))
    session.truth                      # time_s + the true angle columns, at the clip rate
    session.clips["right_foot"]        # time_s, acc [m/s^2], gyr [rad/s] with the errors of a real clip
    session.write_import_folder(path)  # import.toml + one CSV a clip

The person's joints follow smooth curves (free moves) or the closed chain hip-knee-ankle over a pedal board; the engine
turns them into poses; samples are differences of the realised poses; truth is read off the engine's orientations at
the stamps. Stamps: the centre of the averaged span, (k + 1/2) / rate, counted on the first clip's clock. Nothing here
comes from the package's own leg.
"""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
import pandas as pd
import physics_folder
from clip_noise import PERFECT, ClipErrors, ClipRecord, Gap, knocks, spoil
from kept import kept
from physics_measure import fine_steps, measure
from physics_model import GRAVITY, Mount, SeatedBody, leg_signs, side_sign
from physics_motion import Strokes
from physics_parameters import MOVES, SKIN_WOBBLE_DEG, Dropout, PhysicsParameters, Slip
from physics_script import RANGES, Person, Phase, Repetition, SetupScript, Timeline
from physics_tape import typed_geometry
from physics_tissue import turn_skin, wobble_curves
from physics_truth import truth_table
from scipy.spatial.transform import Rotation

__all__ = [
    "MOVES",
    "PERFECT",
    "SKIN_WOBBLE_DEG",
    "ClipErrors",
    "Dropout",
    "Person",
    "PhysicsParameters",
    "PhysicsSession",
    "SetupScript",
    "Slip",
    "Strokes",
    "replace",
    "simulate",
]


@dataclass
class PhysicsSession:
    """A session and the truth about it. Treat as read-only: it may be shared between tests."""

    parameters: PhysicsParameters
    clips: dict[str, ClipRecord]
    ideal: dict[str, tuple[np.ndarray, np.ndarray]]
    mounts: dict[str, Mount]
    phases: list[Phase]
    participant: dict[str, float | str]
    setups: list[dict[str, float | str]]
    true_setups: list[dict[str, float | str]]
    truth: pd.DataFrame
    beside: pd.DataFrame
    orientations: dict[str, np.ndarray]
    points: dict[str, np.ndarray]
    repetitions: list[Repetition]
    repetition_ends: pd.DataFrame
    active_end_deg: dict[str, dict[str, float]]
    strokes: dict[str, pd.DataFrame]
    slips: list[dict[str, float | str]]
    gaps: list[Gap]

    def span(self, phase, setup=None, side=None):
        """The (first) span of a phase [s]."""
        for p in self.phases:
            if p.name == phase and setup in (None, p.setup) and side in (None, p.side):
                return p.start_s, p.end_s
        raise KeyError(f"no phase {phase} for set-up {setup}, side {side}")

    def within(self, phase, setup=None, side=None):
        """Rows of the truth that lie in a phase (boolean)."""
        start, end = self.span(phase, setup, side)
        return ((self.truth.time_s >= start) & (self.truth.time_s < end)).to_numpy()

    def cut(self, start_s, end_s):
        """The recording from `start_s` to `end_s` only: samples, truth and the phases that lie within, times kept."""
        clips = {}
        for name, r in self.clips.items():
            at = (r.time_s >= start_s) & (r.time_s < end_s)
            clips[name] = replace(r, time_s=r.time_s[at], acc=r.acc[at], gyr=r.gyr[at])
        at = ((self.truth.time_s >= start_s) & (self.truth.time_s < end_s)).to_numpy()
        return replace(
            self,
            clips=clips,
            ideal={name: (acc[at], gyr[at]) for name, (acc, gyr) in self.ideal.items()},
            phases=[p for p in self.phases if p.start_s >= start_s and p.end_s <= end_s],
            truth=self.truth[at].reset_index(drop=True),
            beside=self.beside[at].reset_index(drop=True),
            orientations={name: values[at] for name, values in self.orientations.items()},
            points={name: values[at] for name, values in self.points.items()},
        )

    def write_import_folder(self, path):
        """`import.toml` and one CSV a clip (SI units) in the new or empty folder `path`; returns it."""
        return physics_folder.write(self, path)


def _mounts(parameters, rng):
    clips = [f"{side}_{segment}" for side in parameters.sides for segment in parameters.segments]
    mounts = {}
    for clip in [*clips, *(["pelvis"] if parameters.pelvis_clip else [])]:
        side, _, segment = clip.rpartition("_")
        s = side_sign(side)
        place = {
            "foot": (rng.uniform(0.08, 0.10), -0.045, s * rng.uniform(-0.01, 0.01)),
            "shank": (0.03, rng.uniform(-0.30, -0.26), -s * rng.uniform(0.02, 0.035)),
            "thigh": (0.07, rng.uniform(-0.24, -0.20), s * rng.uniform(0.02, 0.05)),
            "pelvis": (-0.10, rng.uniform(0.04, 0.06), rng.uniform(-0.01, 0.01)),
        }[segment]
        mounts[clip] = Mount(place, Rotation.random(rng=rng))
    return mounts


def _script(parameters, timeline):
    """Calibration, range check, set-ups, end checks, in the order of an evening."""
    p, person = parameters, parameters.person
    timeline.still("still", person.hip_height_m, p.still_s)
    turns = [p.sides] if p.both_at_once or len(p.sides) == 1 else [(side,) for side in p.sides]
    for sides in turns:
        for name in p.moves:
            timeline.functional_move(name, sides, p.repetitions)
    for sides in turns:
        for motion in p.ranges:
            timeline.range_move(motion, sides, p.repetitions)
    for setup in p.setups:
        height = setup.geometry(person.hip_height_m).hip_height
        if p.retake_still:
            timeline.still("still", height, p.still_s, person.posture_sd_deg, setup.name)
        timeline.pedal(setup)
    if p.end_checks:
        timeline.still("end_still", person.hip_height_m, p.still_s, person.posture_sd_deg)
        for sides in turns:
            timeline.range_move("ankle_dorsiflexion", sides, 2, phase="end_range")


def _joint_positions(body, timeline, rows):
    """Script rows (clinical) as the engine's joint positions, soft tissue at rest."""
    positions = np.zeros((len(rows), body.model.nq))
    positions[:, :4] = rows[:, :4]
    for side in body.sides:
        positions[:, body.leg_index(side)] = rows[:, timeline.columns(side)] * leg_signs(side)
    return positions


def _perform(parameters, body, timeline, slips):
    """Run the engine in chunks; ideal samples per clip, orientations and points at the stamps."""
    steps = fine_steps(parameters.rate_hz)
    dt = 1.0 / timeline.fine_hz
    rows = timeline.rows()
    count = (len(rows) - 1) // steps
    wobble = wobble_curves(parameters, body, timeline, _joint_positions(body, timeline, rows[::steps]))
    still = _joint_positions(body, timeline, rows[:1])[0]
    ideal = {clip: ([], []) for clip in body.clips}
    quaternions, points = {}, {}
    per_chunk = 40_000 // steps
    for first in range(0, count, per_chunk):
        last = min(first + per_chunk, count)
        index = np.arange(first * steps - 1, last * steps + 2)
        positions = _joint_positions(body, timeline, rows[np.clip(index, 0, len(rows) - 1)])
        turn_skin(parameters, body, index * dt, positions, still, wobble, slips)
        q, x = body.run(positions)
        for clip in body.clips:
            for store, values in zip(ideal[clip], measure(q[f"clip {clip}"], x[clip], dt, steps), strict=True):
                store.append(values)
        at_stamps = slice(1 + steps // 2, -2, steps)
        for name, values in q.items():
            quaternions.setdefault(name, []).append(values[at_stamps].copy())
        for name, values in x.items():
            points.setdefault(name, []).append(values[at_stamps].copy())
    return (
        {clip: (np.concatenate(acc), np.concatenate(gyr)) for clip, (acc, gyr) in ideal.items()},
        {name: np.concatenate(values) for name, values in quaternions.items()},
        {name: np.concatenate(values) for name, values in points.items()},
    )


def _knocks(parameters, clip, stamps, strokes, rng):
    """What beater and board add to a foot's and (a third) a shank's acceleration at each stroke's bottom [m/s^2]."""
    side, _, segment = clip.rpartition("_")
    size = parameters.knock_g * GRAVITY * {"foot": 1.0, "shank": 0.3}.get(segment, 0.0)
    if size == 0.0:
        return 0.0
    times = np.concatenate(strokes[side])[:, 0]
    return knocks(stamps, times, size, rng)


def _playing_start(timeline, setup):
    return next(p.start_s for p in timeline.phases if p.name == "playing" and setup in (None, p.setup))


def _repetition_ends(timeline, truth):
    """Every repetition's end [deg, positive outward from neutral]: the median over its held span."""
    found = []
    for r in timeline.repetitions:
        _, _, sign, column = RANGES[r.motion]
        held = (truth.time_s >= r.hold_start_s) & (truth.time_s <= r.hold_end_s)
        sign = 1.0 if column == "hip_horizontal_abduction" else sign
        value = sign * float(np.median(truth.loc[held, f"{r.side}_{column}"]))
        found.append({"side": r.side, "motion": r.motion, "phase": r.phase, "end_deg": value})
    return pd.DataFrame(found, columns=["side", "motion", "phase", "end_deg"])


def _active_ends(ends):
    """Mean of the last three repetitions of the range check, {side: {motion: deg}}."""
    out = {}
    kept = ends[ends.phase != "end_range"]
    for (side, motion), group in kept.groupby(["side", "motion"], sort=False):
        out.setdefault(side, {})[motion] = float(group.end_deg.tail(3).mean())
    return out


@lru_cache(maxsize=4)
@kept("physics_*.py", "clip_noise.py")
def simulate(parameters):
    """The session that `parameters` describe. Needs mujoco (`physics_model.require_mujoco` in tests)."""
    motion_rng, mount_rng, noise_rng, tape_rng = (
        np.random.default_rng(s) for s in np.random.SeedSequence(parameters.seed).spawn(4)
    )
    fine_hz = parameters.rate_hz * fine_steps(parameters.rate_hz)
    timeline = Timeline(parameters.person, parameters.sides, fine_hz, motion_rng)
    _script(parameters, timeline)
    mounts = _mounts(parameters, mount_rng)
    body = SeatedBody(parameters.sides, parameters.person.lengths, mounts)
    slips = [
        {
            "clip": s.clip,
            "time_s": _playing_start(timeline, s.setup) + s.after_s,
            "turn_deg": s.turn_deg,
            "axis": s.axis,
        }
        for s in parameters.slips
    ]
    gaps = []
    for d in parameters.dropouts:
        start = _playing_start(timeline, d.setup) + d.after_s
        gaps.append(Gap(d.clip, start, start + d.length_s))
    ideal, quaternions, points = _perform(parameters, body, timeline, slips)
    stamps = (np.arange(len(next(iter(quaternions.values())))) + 0.5) / parameters.rate_hz
    orientations = {name: Rotation.from_quat(q, scalar_first=True).as_matrix() for name, q in quaternions.items()}
    truth, beside = truth_table(stamps, orientations)
    clips = {
        clip: spoil(
            stamps,
            ideal[clip][0] + _knocks(parameters, clip, stamps, timeline.strokes, noise_rng),
            ideal[clip][1],
            parameters.rate_hz,
            parameters.errors,
            noise_rng,
            reference_clock=i == 0,
            gaps=[gap for gap in gaps if gap.clip == clip],
        )
        for i, clip in enumerate(body.clips)
    }
    participant, setups, true_setups = typed_geometry(parameters, tape_rng)
    ends = _repetition_ends(timeline, truth)
    strokes = {
        side: pd.DataFrame(np.concatenate(parts), columns=["time_s", "amplitude_deg"])
        for side, parts in timeline.strokes.items()
    }
    return PhysicsSession(
        parameters=parameters,
        clips=clips,
        ideal=ideal,
        mounts=mounts,
        phases=timeline.phases,
        participant=participant,
        setups=setups,
        true_setups=true_setups,
        truth=truth,
        beside=beside,
        orientations=orientations,
        points=points,
        repetitions=timeline.repetitions,
        repetition_ends=ends,
        active_end_deg=_active_ends(ends),
        strokes=strokes,
        slips=slips,
        gaps=gaps,
    )
