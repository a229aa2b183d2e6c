"""How small a slip is found: clips that turn at once in simulated sessions, by clip, size and axis; and false alarms.

    python benchmarks/slips.py [--seeds 25] [--jobs 2] [--write docs/slips.md]

Sessions: a leg in the physics engine (heel-down, heel-up, swivel, heel-up with wobbling skin; poses repeated to 1 deg,
cross movements 1.5 deg, pelvis yaw 6 deg) and our own virtual leg (a pupil who plays heel-down, one who changes between
heel-down and heel-up). In each, each clip turns once per size and axis, at a random moment of the playing, within 0.1
to 0.9 s. Axes are the segment's: x ahead, y along the shank or thigh and up from the sole, z the joint's hinge.
False alarms: the same sessions without a slip, and with what must not pass for one: a foot that turns on its board by
8 or 15 deg and stays, a knee that moves outward by 8 or 15 deg in half a second and stays.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from pathlib import Path

os.environ.setdefault("OMP_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

import numpy as np
from footroom.analysis.calibration import phases_of
from footroom.analysis.slips import find_slip
from footroom.analysis.timebase import common_grid
from footroom.sample_sessions import clips as virtual
from footroom.sample_sessions.evening import plan_evening, rng_for
from footroom.sample_sessions.pupils import HERON, WREN
from physics_leg import SKIN_WOBBLE_DEG, Person, PhysicsParameters, SetupScript, Strokes, simulate
from slipped_clips import AXES, oriented, tracks_of, with_moved_knee, with_slip, with_turned_foot

TURNS_DEG = (3, 4, 5, 6, 8, 12)
CLIPS = ("right_foot", "right_shank", "right_thigh")
HEEL_DOWN = Strokes(amplitude_deg=(3.0, 9.0), small_share=0.0)
HEEL_UP = Strokes(amplitude_deg=(10.0, 25.0), small_share=0.0)
KINDS = ("heel-down", "heel-up", "swivel", "heel-up, skin wobble", "virtual, heel-down", "virtual, both")
DATED_S = 10.0


def physics(kind, seed):
    technique = "swivel" if kind == "swivel" else "heel_down" if kind == "heel-down" else "heel_up"
    strokes = HEEL_DOWN if kind == "heel-down" else HEEL_UP
    setups = tuple(
        SetupScript(name=name, reach_cm=reach, playing_s=90.0, technique=technique, right=strokes)
        for name, reach in (("near", 46.0), ("far", 50.0))
    )
    wobble = {"wobble_deg": SKIN_WOBBLE_DEG} if "wobble" in kind else {}
    person = Person(posture_sd_deg=1.0, cross_deg=1.5, pelvis_yaw_sd_deg=6.0)
    found = simulate(PhysicsParameters(seed=seed, setups=setups, person=person, thigh_lag=0.4, **wobble))
    simulate.cache_clear()
    return tracks_of(found)


def virtual_leg(kind, seed):
    pupil = replace(WREN if kind == "virtual, heel-down" else HERON, faults={}, sides=("right",))
    evening = plan_evening(pupil, seed % 4, seed=seed, playing_s=100.0)
    samples = virtual.simulate(evening, seed=seed)
    rng = rng_for(pupil, evening.number, 1, seed)
    mounts = {f"right_{s}": virtual._mount(s, "right", pupil.size, rng).rotation for s in virtual.WORN}
    grid = common_grid({name: one[0] for name, one in samples.items()})
    tracks = {name: oriented(one, grid) for name, one in samples.items()}
    return virtual.session(evening, seed=seed), samples, mounts, grid, tracks


def measured(job):
    """Rows (what, clip, axis, found, error of the date [s] or None) of one session."""
    kind, seed = job
    session, samples, mounts, grid, tracks = (virtual_leg if kind.startswith("virtual") else physics)(kind, seed)
    rng = np.random.default_rng(seed)
    clips = {clip.name: clip for clip in session.clips}
    playing = phases_of(session, "playing")
    rows = []

    def look(what, clip, axis, changed, at_s=None):
        slip = find_slip(session, clips[clip], tracks | changed, grid)
        rows.append((what, clip, axis, slip is not None, None if slip is None or at_s is None else slip.time_s - at_s))

    for clip in CLIPS:
        look("clean", clip, "", {})
        for turn in TURNS_DEG:
            for axis, way in AXES.items():
                phase = playing[rng.integers(len(playing))]
                at_s = rng.uniform(phase.start_s + 5.0, phase.end_s - 5.0)
                turn_deg = turn * rng.choice([-1.0, 1.0])
                turned = with_slip(samples[clip], mounts[clip], way, turn_deg, at_s, rng.uniform(0.1, 0.9))
                look(turn, clip, axis, {clip: oriented(turned, grid)}, at_s)
    first = playing[0]
    for turn_deg in (8.0, 15.0):
        at_s = rng.uniform(first.start_s + 5.0, first.end_s - 5.0)
        foot = oriented(with_turned_foot(samples["right_foot"], tracks["right_foot"], grid, turn_deg, at_s), grid)
        moved = {}
        for clip, ahead in (("right_shank", (1.0, 0.0, 0.0)), ("right_thigh", (0.0, -1.0, 0.0))):
            forward = mounts[clip].T @ np.array(ahead)
            knee = with_moved_knee(samples[clip], tracks[clip], grid, forward, turn_deg, at_s, first.end_s - 1.0)
            moved[clip] = oriented(knee, grid)
        for clip in CLIPS:
            look("a foot turned", clip, "", {"right_foot": foot})
            look("a knee moved", clip, "", moved)
    return [(kind, seed, *row) for row in rows]


def tables(rows):
    """Markdown: the curve, then false alarms."""
    found = defaultdict(list)
    alarms = defaultdict(lambda: defaultdict(bool))
    for kind, seed, what, clip, axis, hit, error in rows:
        if isinstance(what, str):
            alarms[what][kind, seed] |= hit
        else:
            found[clip, axis, what].append((hit, hit and abs(error) <= DATED_S))
    sizes = " | ".join(f"{turn} deg" for turn in TURNS_DEG)
    lines = [f"| clip | axis | {sizes} |", "|---|---|" + "---:|" * len(TURNS_DEG)]
    for clip in CLIPS:
        for axes, name in (("x", "x"), ("y", "y"), ("z", "z"), ("xyz", "all")):
            cells = []
            for turn in TURNS_DEG:
                hits = np.array([h for a in axes for h in found[clip, a, turn]], dtype=float)
                cells.append(f"{100 * hits[:, 0].mean():.0f} ({100 * hits[:, 1].mean():.0f})")
            lines.append(f"| {clip.removeprefix('right_')} | {name} | {' | '.join(cells)} |")
    lines += ["", "| nothing slipped, but | sessions with an alarm |", "|---|---:|"]
    for what, sessions in alarms.items():
        name = "nothing happened" if what == "clean" else what
        lines.append(f"| {name} | {sum(sessions.values())} of {len(sessions)} |")
    return "\n".join(lines)


def main():
    """Run all sessions and print (or write) the tables."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=25)
    parser.add_argument("--first-seed", type=int, default=101)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--write", type=Path, help="replace the tables in this file, between its two marks")
    given = parser.parse_args()
    jobs = [(kind, seed) for seed in range(given.first_seed, given.first_seed + given.seeds) for kind in KINDS]
    with ProcessPoolExecutor(given.jobs) as pool:
        rows = [row for one in pool.map(measured, jobs) for row in one]
    text = f"{len(jobs)} sessions, one leg, three clips each\n\n" + tables(rows)
    if given.write is None:
        print(text)
        return
    before, _, rest = given.write.read_text(encoding="utf-8").partition("<!-- table begins -->")
    _, _, after = rest.partition("<!-- table ends -->")
    new = f"{before}<!-- table begins -->\n{text}\n<!-- table ends -->{after}"
    given.write.write_text(new, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
