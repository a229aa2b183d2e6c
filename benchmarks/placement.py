"""Does the placement model predict the next measured set-up, and do its suggestions help? And how long takes a map?

    python benchmarks/placement.py [--people 200] [--seed 7] [--snare | --snare-untold]

The people are another leg than the model's: the tests' own chain (`tests/physics_pose.py`, the one the physics engine
runs), with lengths the tape got wrong (SD 0.8 cm), a hip height above the seat of their own, a habit of holding knee
and trunk, sliding on the throne after a pedal that moves away (up to a quarter of the way), and posture that differs on
every set-up (SD 2 deg in every joint). Clips are put on anew for every set-up (SD 1.2 deg in room: repetitions and
creep). --tape: how wrong the tape is on every set-up (SD) [cm], and twice that in degrees.
--snare: a snare of 14 in between the legs, elsewhere on every set-up (38-60 cm ahead); knees turn out as far as that
needs, thighs being as thick as the model thinks within 10 % (SD). --snare-untold: the same, and the model not told.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from footroom.analysis.fit import fit_of
from footroom.analysis.learning import score
from footroom.analysis.measured_fit import Measured, learn_person, predict_next
from footroom.analysis.motions import MOTION
from footroom.analysis.next_step import NoSuggestion, State, suggest
from footroom.analysis.placement import MODELLED, Yardstick, placement_map
from footroom.logger.models import Participant, Setup
from physics_model import BALL, Lengths
from physics_pose import PedalGeometry, pelvis_orientation

SIDES = ("right", "left")
POSTURE_SD, WEARING_SD = 2.0, 1.2
KNOBS = ("throne_height_cm", "reach_cm", "spacing_cm", "footboard_pitch_deg", "foot_splay_deg")


@dataclass
class Person:
    """One simulated person; `rng` draws posture and wearing anew for every set-up."""

    rng: np.random.Generator
    lengths: Lengths = field(init=False)

    def __post_init__(self):
        r = self.rng
        self.stature = r.uniform(1.52, 1.92)
        self.lengths = Lengths(
            self.stature * (0.245 + r.normal(0, 0.008)), self.stature * (0.246 + r.normal(0, 0.008)),
            self.stature * 0.0955 / 2 + r.normal(0, 0.005),
        )  # fmt: skip
        self.hip_above_seat = r.normal(0.09, 0.01)
        self.slide = r.uniform(0.0, 0.25)
        self.yaw, self.tilt = np.radians(r.normal(0, 3)), np.radians(r.normal(-4, 5))
        self.swivel = {side: np.radians(r.normal(2, 4)) for side in SIDES}
        self.thickness = 1.0
        self.ends = {
            (side, motion): r.normal(mean, sd)
            for side in SIDES
            for motion, mean, sd in (
                ("ankle_dorsiflexion", 17, 4), ("ankle_plantarflexion", 48, 6), ("hip_flexion", 108, 7),
                ("hip_horizontal_abduction", 38, 6), ("hip_internal_rotation", 32, 5), ("hip_external_rotation", 38, 5),
            )
        }  # fmt: skip

    def known(self):
        """What the tape says of this person."""
        r = self.rng
        return Participant(
            id="p", stature_cm=100 * self.stature, thigh_length_cm=100 * self.lengths.thigh + r.normal(0, 0.8),
            shank_length_cm=100 * self.lengths.shank + r.normal(0, 0.8),
            hip_width_cm=200 * self.lengths.hip_half_width + r.normal(0, 0.8), ball_to_ankle_cm=100 * BALL[0],
        )  # fmt: skip

    def first_setup(self):
        """A throne that suits the legs, and pedals somewhere about them: true values."""
        r = self.rng
        knee = 100 * (self.lengths.shank + 0.09)
        return {
            "throne_height_cm": knee + r.uniform(-6, 4), "reach_cm": 100 * self.lengths.thigh + r.uniform(-5, 5),
            "spacing_cm": r.uniform(42, 62), "footboard_pitch_deg": r.uniform(15, 24),
            "foot_splay_deg": r.uniform(5, 18),
        }  # fmt: skip

    def turned(self, side, pedal, pelvis, snare):
        """The knee's own swivel, or as much more as the thigh needs to clear the snare (up to 30 deg) [rad]."""
        turns = self.swivel[side] + np.radians(np.arange(0.0, 30.5, 0.5))
        pelvis = np.broadcast_to(pelvis[0], (len(turns), 3, 3))
        leg = pedal.leg_angles(side, pelvis, np.zeros(len(turns)), 0.0, turns, False, self.lengths)
        sign = 1.0 if side == "right" else -1.0
        a, b = leg[:, 0], sign * leg[:, 1]
        up = np.stack([-np.sin(a) * np.cos(b), np.cos(a) * np.cos(b), np.sin(b)], axis=-1)
        along = np.linspace(0.0, 1.0, 60)[:, None, None]
        hip = pelvis[0] @ np.array([0.0, 0.0, sign * self.lengths.hip_half_width]) + [0.0, pedal.hip_height, 0.0]
        points = hip - along * self.lengths.thigh * (pelvis @ up[..., None])[..., 0]
        thick = self.thickness * 0.051 * self.stature * (1.0 - 0.3 * along[..., 0])
        top, deep, radius = snare["snare_rim_cm"] / 100, 5.5 * 0.0254, 7 * 0.0254
        beside = (points[..., 1] > top - deep - thick) & (points[..., 1] < top + thick)
        free = np.hypot(points[..., 0] - snare["snare_forward_cm"] / 100, points[..., 2]) - radius - thick
        clear = (np.where(beside, free, 1.0) >= 0.0).all(axis=0)
        return turns[np.argmax(clear)] if clear.any() else turns[0]

    def angles(self, setup, home_reach):
        """Median angle toward each end while playing, posture included [deg]; None when the leg does not reach."""
        slid = self.slide * (setup["reach_cm"] - home_reach)
        n = 40
        drop = np.radians(3.0 - 3.0 * np.cos(np.linspace(0, 2 * np.pi, n)))
        pelvis = np.broadcast_to(pelvis_orientation(np.array(self.yaw), np.array(0.0), np.array(self.tilt)), (n, 3, 3))
        found = {}
        for side in SIDES:
            pedal = PedalGeometry(
                setup["throne_height_cm"] / 100 + self.hip_above_seat, (setup["reach_cm"] - slid) / 100,
                setup["spacing_cm"] / 100, np.radians(setup["footboard_pitch_deg"]),
                np.radians(setup["foot_splay_deg"]), 0.0,
            )  # fmt: skip
            try:
                swivel = self.turned(side, pedal, pelvis, setup) if "snare_rim_cm" in setup else self.swivel[side]
                leg = np.degrees(pedal.leg_angles(side, pelvis, drop, 0.0, swivel, False, self.lengths))
            except ValueError:
                return None
            a, b = np.radians(leg[:, 0]), np.radians(leg[:, 1])
            azimuth = np.degrees(np.arctan2(-np.sin(b), np.sin(a) * np.cos(b)))
            traces = {
                "ankle_dorsiflexion": leg[:, 5], "hip_flexion": leg[:, 0], "hip_rotation": leg[:, 2],
                "hip_horizontal_abduction": azimuth,
            }  # fmt: skip
            posture = {name: self.rng.normal(0, POSTURE_SD) for name in traces}
            for motion in MODELLED:
                angle = MOTION[motion]
                value = float(np.median(traces[angle.angle])) + posture[angle.angle]
                found[side, motion] = angle.sign * value
        return found

    def measured(self, angles):
        """Those angles as clips put on anew show them, against the session's own end [deg]."""
        return {joint: value + self.rng.normal(0, WEARING_SD) for joint, value in angles.items()}

    def taped(self, setup, tape_cm):
        """The set-up as the tape says."""
        return {
            knob: value + self.rng.normal(0, tape_cm * (2.0 if knob.endswith("deg") else 1.0)) * (knob[-2:] != "in")
            for knob, value in setup.items()
        }


def changed(rng, setup):
    """Another set-up of the kind people try: throne as it is, one or two knobs of the pedals elsewhere."""
    return setup | {
        "reach_cm": setup["reach_cm"] + rng.uniform(-5, 5),
        "spacing_cm": setup["spacing_cm"] + rng.uniform(-5, 5),
        "footboard_pitch_deg": setup["footboard_pitch_deg"] + rng.uniform(-3, 3),
    }


def smallest(person, angles):
    """The person's least spare room [deg]."""
    return min(person.ends[joint] - value - MOTION[joint[1]].zone_deg for joint, value in angles.items())


def with_snare(rng, setup):
    """A snare between the legs, its rim at a height people play at over this throne."""
    return setup | {
        "snare_diameter_in": 14.0, "snare_forward_cm": rng.uniform(38, 60),
        "snare_rim_cm": setup["throne_height_cm"] + rng.uniform(14, 22),
    }  # fmt: skip


def try_person(seed, tape_cm, snare=False, told=True):
    """Three measured set-ups teach, the fourth is predicted; then a suggestion from the third is tried."""
    person = Person(np.random.default_rng(seed))
    first = person.first_setup()
    setups = [first] + [changed(person.rng, first) for _ in range(3)]
    if snare:
        person.thickness = person.rng.normal(1.0, 0.1)
        setups = [with_snare(person.rng, setup) for setup in setups]
    truths = [person.angles(setup, first["reach_cm"]) for setup in setups]
    if any(truth is None for truth in truths):
        return None
    known = person.known()
    taped = [person.taped(setup, tape_cm) for setup in setups]
    taped = [{key: value for key, value in one.items() if told or "snare" not in key} for one in taped]
    fits = [fit_of(known, Setup(name=f"{i}", **one)) for i, one in enumerate(taped)]
    measured = [person.measured(truth) for truth in truths]
    seen = [Measured(f"{i}", f"{i}", fits[i], measured[i]) for i in range(4)]
    learned = learn_person(seen[:3])
    predictions = list(predict_next(learned, seen[3]).items())
    ends = {j: e + person.rng.normal(0, 0.7) for j, e in person.ends.items()}
    yardstick = Yardstick(ends, corrections=learned.corrections)
    state = State({j: yardstick.ends[j] - measured[2][j] for j in person.ends}, throne_settled=True)
    step = suggest(learned.applied(fits[2]), yardstick, state)
    if isinstance(step, NoSuggestion):
        return predictions, step.reason, None
    tried = dict(setups[2])
    tried[step.knob] += step.by
    both = set(step.sides) == set(SIDES)
    after = person.angles(tried, first["reach_cm"])
    if after is None:
        return predictions, "", None
    if not both:
        after = {j: after[j] if j[0] in step.sides else truths[2][j] for j in after}
    return predictions, f"{step.knob} {step.by:+g}", smallest(person, after) - smallest(person, truths[2])


def map_time():
    """Seconds of a map of 200 x 200 positions x 2 legs: least and median of 15, processor time."""
    fit = fit_of(
        Participant(id="p", stature_cm=175),
        Setup(
            name="a", throne_height_cm=50, reach_cm=45, spacing_cm=50, foot_splay_deg=15, snare_diameter_in=14,
            snare_forward_cm=52, snare_rim_cm=70, stand_spread_cm=34,
        ),
    )  # fmt: skip
    ends = {(s, m): 40.0 for s in SIDES for m in MODELLED}
    taken, walls = [], []
    for _ in range(15):
        start, wall = time.process_time(), time.perf_counter()
        placement_map(fit, Yardstick(ends))
        taken.append(time.process_time() - start)
        walls.append(time.perf_counter() - wall)
    return min(taken), float(np.median(taken)), float(np.median(walls))


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--people", type=int, default=200)
    parser.add_argument("--seed", type=int, default=7)
    parser.add_argument("--tape", type=float, default=0.3)
    parser.add_argument("--snare", action="store_true")
    parser.add_argument("--snare-untold", action="store_true")
    options = parser.parse_args()
    found, reasons, knobs, gains, seed = [], {}, {}, [], 1000 * options.seed
    people = 0
    while len(gains) < options.people and people < 6 * options.people:
        seed += 1
        snare = options.snare or options.snare_untold
        result = try_person(seed, options.tape, snare, not options.snare_untold)
        if result is None:
            continue
        people += 1
        predictions, word, gain = result
        if people <= options.people:
            found += predictions
        if gain is None:
            key = " ".join(word.split()[:4])
            reasons[key] = reasons.get(key, 0) + 1
        else:
            knobs[word] = knobs.get(word, 0) + 1
            gains.append(gain)
    result = score([p for _, p in found])
    print(f"fourth set-up, {min(people, options.people)} people x 12 joints: RMSE {result.rmse_deg:.2f} deg of room, "
          f"model alone {result.model_rmse_deg:.2f}; 90 % intervals hold {100 * result.share_held:.1f} %")  # fmt: skip
    for motion in MODELLED:
        own = score([p for joint, p in found if joint[1] == motion])
        print(
            f"    {motion:26} RMSE {own.rmse_deg:.2f}, model alone {own.model_rmse_deg:.2f}, {own.share_held:.2f} held"
        )
    print(f"{people} people, {len(gains)} suggestions: smallest room larger in "
          f"{100 * np.mean(np.array(gains) > 0):.1f} %, median gain {np.median(gains):.1f} deg")  # fmt: skip
    print("suggested:", ", ".join(f"{word} {n}" for word, n in sorted(knobs.items(), key=lambda k: -k[1])))
    print("no suggestion:", ", ".join(f"{word}... {n}" for word, n in sorted(reasons.items(), key=lambda k: -k[1])))
    least, middle, wall = map_time()
    print(f"map 200 x 200 x 2 legs: {1000 * least:.0f} ms least, {1000 * middle:.0f} ms median processor time, "
          f"{1000 * wall:.0f} ms median on the clock")  # fmt: skip


if __name__ == "__main__":
    main()
