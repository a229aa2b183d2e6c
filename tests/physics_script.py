"""The script of a session in the physics engine: what the seated person does, as leg angles on a fine even grid.

Rows are `PELVIS_JOINTS` [m, rad], then `LEG_JOINTS` of each side [rad], clinical signs. Parameters are in cm and deg.
"""

from dataclasses import dataclass, field

import numpy as np
from physics_model import ANKLE_ABOVE_SOLE, LEG_JOINTS, PELVIS_JOINTS, Lengths
from physics_motion import Strokes, minimum_jerk, pulse, stroke_train, wander
from physics_pose import PedalGeometry, pelvis_orientation, seated_leg

SLOW_FOOT = Strokes(rate_hz=(1.0, 3.0), amplitude_deg=(3.0, 8.0), small_share=0.0)
# motion: phase, leg joint, sign of the joint at the end, column of the angle table
RANGES = {
    "ankle_dorsiflexion": ("range_dorsiflexion", 5, 1.0, "ankle_dorsiflexion"),
    "ankle_plantarflexion": ("range_plantarflexion", 5, -1.0, "ankle_dorsiflexion"),
    "hip_flexion": ("range_hip_flexion", 0, 1.0, "hip_flexion"),
    "hip_internal_rotation": ("range_internal_rotation", 2, 1.0, "hip_rotation"),
    "hip_external_rotation": ("range_external_rotation", 2, -1.0, "hip_rotation"),
    "hip_horizontal_abduction": ("range_abduction", 1, -1.0, "hip_horizontal_abduction"),
}


@dataclass(frozen=True)
class Person:
    """Sizes, active ends and habits of the simulated person. Spreads are standard deviations [deg]."""

    lengths: Lengths = Lengths()
    still_slope_deg: float = -12.0
    dorsiflexion_end_deg: float = 18.0
    plantarflexion_end_deg: float = 45.0
    hip_flexion_end_deg: float = 105.0
    internal_rotation_end_deg: float = 34.0
    external_rotation_end_deg: float = 38.0
    abduction_end_deg: float = 35.0
    repetition_sd_deg: float = 1.2
    warm_up_deg: float = 1.0
    cross_deg: float = 2.0
    posture_sd_deg: float = 1.0
    knee_splay_sd_deg: float = 3.0  # of the thigh's azimuth
    knee_splay_time_s: float = 60.0
    pelvis_yaw_sd_deg: float = 0.0
    pelvis_roll_sd_deg: float = 0.0
    pelvis_time_s: float = 60.0
    foot_heading_sd_deg: float | None = None
    foot_heading_time_s: float = 40.0
    settle_deg: float = 2.0

    def end_deg(self, motion):
        """The intended active end of a motion; what was realised is in the session."""
        name = motion if motion == "hip_flexion" else motion.removeprefix("ankle_").removeprefix("hip_")
        return getattr(self, name.removeprefix("horizontal_") + "_end_deg")

    @property
    def hip_height_m(self):
        """Height of the hip centres above the floor on the seat of the first still pose."""
        knee = ANKLE_ABOVE_SOLE + self.lengths.shank
        return knee - self.lengths.thigh * np.sin(np.radians(self.still_slope_deg))


@dataclass(frozen=True)
class SetupScript:
    """One set-up and what is played on it; `technique` is heel_down, heel_up or swivel (for every foot)."""

    name: str = "near"
    reach_cm: float = 46.0
    spacing_cm: float = 46.0
    pitch_deg: float = 18.0
    splay_deg: float = 14.0
    seat_change_cm: float = 0.0
    playing_s: float = 300.0
    rest_s: float = 5.0
    technique: str = "heel_down"
    heel_lift_deg: float = 12.0
    swivel_deg: float = 8.0
    right: Strokes = Strokes()
    left: Strokes = SLOW_FOOT

    def geometry(self, hip_height_m):
        return PedalGeometry(
            hip_height=hip_height_m + self.seat_change_cm / 100.0,
            reach=self.reach_cm / 100.0,
            spacing=self.spacing_cm / 100.0,
            pitch=np.radians(self.pitch_deg),
            splay=np.radians(self.splay_deg),
        )


@dataclass(frozen=True)
class Phase:
    """A named span [s]."""

    name: str
    start_s: float
    end_s: float
    setup: str | None = None
    side: str | None = None


@dataclass(frozen=True)
class Repetition:
    """One repetition of a range move; its held span [s]."""

    side: str
    motion: str
    hold_start_s: float
    hold_end_s: float
    phase: str


@dataclass
class Timeline:
    """Rows laid end to end, joined by minimum-jerk transitions, with the phases they belong to."""

    person: Person
    sides: tuple
    fine_hz: float
    rng: np.random.Generator
    parts: list = field(default_factory=list)
    count: int = 0
    phases: list = field(default_factory=list)
    repetitions: list = field(default_factory=list)
    strokes: dict = field(default_factory=dict)

    @property
    def now_s(self):
        return self.count / self.fine_hz

    def grid(self, seconds):
        return np.arange(round(seconds * self.fine_hz)) / self.fine_hz

    def columns(self, side):
        first = len(PELVIS_JOINTS) + len(LEG_JOINTS) * self.sides.index(side)
        return slice(first, first + len(LEG_JOINTS))

    def add(self, rows, join_s=1.5):
        """Append rows after a transition from the last pose; returns the start of the rows [s]."""
        if self.parts and join_s > 0.0:
            x = minimum_jerk(self.grid(join_s) / join_s)[:, None]
            self.parts.append(self.parts[-1][-1] * (1.0 - x) + rows[0] * x)
            self.count += len(x)
        start = self.now_s
        self.parts.append(rows)
        self.count += len(rows)
        return start

    def rows(self):
        return np.concatenate(self.parts)

    def pose(self, hip_height_m, legs):
        """One row: square pelvis at a height, a leg pose (7,) per side."""
        row = np.zeros(len(PELVIS_JOINTS) + len(LEG_JOINTS) * len(self.sides))
        row[0] = hip_height_m
        for side in self.sides:
            row[self.columns(side)] = legs[side]
        return row

    def still_legs(self, hip_height_m, posture_sd_deg=0.0):
        def error():
            return np.radians(self.rng.normal(0.0, posture_sd_deg))

        return {
            side: seated_leg(side, hip_height_m, self.person.lengths, error(), error(), error(), error())
            for side in self.sides
        }

    def still(self, name, hip_height_m, seconds, posture_sd_deg=0.0, setup=None):
        """Sit still, soles flat. The first still pose is exact; a retaken one differs by the posture spread."""
        legs = self.still_legs(hip_height_m, posture_sd_deg)
        start = self.add(np.tile(self.pose(hip_height_m, legs), (len(self.grid(seconds)), 1)), 2.5)
        self.phases.append(Phase(name, start, self.now_s, setup))

    def _move(self, name, sides, base, changes, rise, hold, fall, setup=None, motion=None):
        """Repetitions of one move: leg = base + pulse * change; `changes` {side: (n, 7)} [rad]."""
        lead, pause = 0.7, 0.6
        n = len(next(iter(changes.values())))
        length = rise + hold + fall + pause
        t = self.grid(2 * lead + n * length)
        height = self.person.hip_height_m
        rows = np.tile(self.pose(height, self.still_legs(height) | base), (len(t), 1))
        for side in sides:
            for i, change in enumerate(changes[side]):
                rows[:, self.columns(side)] += pulse(t, lead + i * length, rise, hold, fall)[:, None] * change
        start = self.add(rows)
        self.phases.append(Phase(name, start, self.now_s, setup, None if len(sides) == len(self.sides) else sides[0]))
        for side in sides if motion else ():
            for i in range(n):
                at = start + lead + i * length + rise
                self.repetitions.append(Repetition(side, motion, at, at + hold, name))

    def functional_move(self, name, sides, repetitions=5):
        """Ankle taps (toes down first), knee kicks (straightening first) or thigh lifts (upward first)."""
        # hip flexion, adduction, rotation, knee, tibial rotation, dorsiflexion, inversion [deg]
        change, cross = {
            "ankle_taps": ((3, 0, 0, 1, 0, -24, 0), (0.5, 0.5, 0.5, 1, 1, 2, 2)),
            "knee_kicks": ((1, 0, 0, -45, 0, -4, 0), (1, 0.7, 1, 4, 2, 2, 1)),
            "thigh_lifts": ((18, 0, 0, 8, 0, -6, 0), (2, 1.5, 1.5, 3, 1, 2, 1)),
        }[name]
        changes = {
            side: np.radians(np.array(change) + self.rng.normal(0.0, 1.0, (repetitions, 7)) * np.array(cross))
            for side in sides
        }
        self._move(name, sides, {}, changes, 1.0, 0.15, 1.0)

    def range_move(self, motion, sides, repetitions=5, phase=None):
        """Slow moves to the active end: 2-3 s there, held 1.5 s, back; small motions out of plane."""
        name, joint, sign, _ = RANGES[motion]
        person, base, changes = self.person, {}, {}
        for side in sides:
            leg = self.still_legs(person.hip_height_m)[side]
            if motion != "hip_flexion":
                leg[[0, 3, 5]] = leg[0] + np.radians(5.0), np.radians(86.0), np.radians(-10.0)
            growth = person.warm_up_deg * (np.arange(repetitions) / max(repetitions - 1, 1) - 1.0)
            ends = person.end_deg(motion) + growth + self.rng.normal(0.0, person.repetition_sd_deg, repetitions)
            ends = np.radians(ends)
            if motion == "hip_horizontal_abduction":
                ends = np.arctan(np.tan(ends) * np.sin(leg[0]))
            cross = np.array([1, 1, 1, 1.5, 1, 1.5, 1]) * np.radians(person.cross_deg)
            change = self.rng.normal(0.0, 1.0, (repetitions, 7)) * cross
            if motion == "hip_flexion":
                change[:, 3] += np.radians(12.0)
            change[:, joint] = sign * ends - leg[joint]
            base[side], changes[side] = leg, change
        self._move(phase or name, sides, base, changes, self.rng.uniform(2.0, 3.0), 1.5, 1.5, motion=motion)

    def pedal(self, setup):
        """Rest on the pedal, then play; pelvis, knees and (heel-up) foot headings drift slowly throughout."""
        person, rng = self.person, self.rng
        lead = 1.5
        t = self.grid(setup.rest_s + lead + setup.playing_s)
        started = minimum_jerk((t - setup.rest_s) / lead)
        rows = np.zeros((len(t), len(PELVIS_JOINTS) + len(LEG_JOINTS) * len(self.sides)))
        geometry = setup.geometry(person.hip_height_m)
        rows[:, 0] = geometry.hip_height
        rows[:, 1] = np.radians(wander(t, person.pelvis_yaw_sd_deg, person.pelvis_time_s, rng))
        rows[:, 2] = np.radians(wander(t, person.pelvis_roll_sd_deg, person.pelvis_time_s, rng))
        heel_up = setup.technique != "heel_down"
        drawn = {}
        for side in self.sides:
            starts, lengths, amplitudes = getattr(setup, side).draw(setup.playing_s, rng)
            starts = starts + setup.rest_s + lead
            lift = setup.heel_lift_deg if heel_up else 0.0
            settle = 0.5 * person.settle_deg * (1.0 + np.tanh(wander(t, 1.0, 20.0, rng)))
            drop = started * (lift + settle) + stroke_train(t, starts, lengths, amplitudes)
            sd = person.foot_heading_sd_deg
            sd = (4.0 if heel_up else 0.0) if sd is None else sd
            heading = started * wander(t, sd, person.foot_heading_time_s, rng)
            if setup.technique == "swivel":
                turns = setup.swivel_deg * (-1.0) ** np.arange(len(starts))
                heading = heading + stroke_train(t, starts, lengths, turns)
            swivel = wander(t, person.knee_splay_sd_deg, person.knee_splay_time_s, rng)
            swivel = swivel * geometry.swivel_per_azimuth(side, person.lengths)
            for i in range(0, len(t), 100_000):
                part = slice(i, i + 100_000)
                pelvis = pelvis_orientation(*rows[part, 1:4].T)
                curves = (np.radians(curve[part]) for curve in (drop, heading, swivel))
                rows[part, self.columns(side)] = geometry.leg_angles(side, pelvis, *curves, heel_up, person.lengths)
            drawn[side] = starts, lengths, amplitudes
        start = self.add(rows, 2.5)
        self.phases.append(Phase("rest_on_pedal", start, start + setup.rest_s, setup.name))
        self.phases.append(Phase("playing", start + setup.rest_s + lead, self.now_s, setup.name))
        for side, (starts, lengths, amplitudes) in drawn.items():
            deepest = start + starts + 0.45 * lengths
            self.strokes.setdefault(side, []).append(np.column_stack([deepest, amplitudes]))
