"""Case x joint x RMSE x coverage of the 95 % uncertainty, on legs in the physics engine (the tests' own leg).

    python benchmarks/coverage.py [--seeds 8] [--minutes 10] [--jobs 2] [--long] [--write docs/accuracy.md]

Every leg: random mounting, gyroscope bias 0.4 deg/s SD, noise, 16 bit, thigh slope -12 deg, knee splay SD 3 deg, thigh
clip lagging 40 % of axial rotation, tape errors SD 0.5 cm and 1 deg, pelvis yaw SD 6 deg unless the case says square.
`as asked`: the still pose exact, the range moves without cross movements: what clips and method can do. `as guided`:
cross movements in the range moves of 1 deg. `as people are`: poses repeated to 1 deg, cross movements 1.5 deg; that is
what the uncertainties are made for, so their coverage is judged there.
"""

from __future__ import annotations

import argparse
import sys
from collections import defaultdict
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from analysed import session_of
from footroom.analysis.orientation import orient
from footroom.analysis.quality import Quality
from footroom.analysis.session_angles import session_angles
from footroom.analysis.timebase import common_grid, onto_grid
from physics_leg import SKIN_WOBBLE_DEG, Person, PhysicsParameters, SetupScript, Strokes, simulate

PEOPLE = {"as asked": (0.0, 0.0), "as guided": (0.0, 1.0), "as people are": (1.0, 1.5)}
"""SD of a repeated pose and of cross movements in the range moves [deg]."""
HEEL_DOWN = Strokes(amplitude_deg=(3.0, 9.0), small_share=0.0)
HEEL_UP = Strokes(amplitude_deg=(10.0, 25.0), small_share=0.0)
CASES = {
    "heel-down": {},
    "heel-up": {"technique": "heel_up"},
    "swivel": {"technique": "swivel"},
    "heel-up, skin wobble": {"technique": "heel_up", "wobble": True},
    "heel-down, square pelvis": {"yaw": 0.0},
    "heel-down, no tape": {"tape": False},
    "heel-down, knocks of 12 g": {"knocks": 12.0},
    "heel-down, 100 Hz": {"rate": 100.0},
    "heel-down, 400 Hz": {"rate": 400.0},
}
LONG = {"heel-down, 45 min": {"minutes": 45.0}, "heel-up, 45 min": {"technique": "heel_up", "minutes": 45.0}}


def parameters(seed, minutes, people, technique="heel_down", wobble=False, yaw=6.0, tape=True, rate=200.0, knocks=0.0):
    """One person's session in one case."""
    strokes = HEEL_DOWN if technique == "heel_down" else HEEL_UP
    setup = SetupScript(playing_s=60.0 * minutes, technique=technique, right=strokes, left=strokes)
    return PhysicsParameters(
        seed=seed,
        sides=("right", "left"),
        setups=(setup,),
        rate_hz=rate,
        person=Person(
            posture_sd_deg=PEOPLE[people][0],
            cross_deg=PEOPLE[people][1],
            pelvis_yaw_sd_deg=yaw,
        ),
        thigh_lag=0.4,
        tape_sd_cm=0.5,
        tape_sd_deg=1.0,
        with_tape=tape,
        both_at_once=True,
        knock_g=knocks,
        **({"wobble_deg": SKIN_WOBBLE_DEG} if wobble else {}),
    )


def measured(job):
    """RMSE, bias, coverage, half-width and unknown share of every column of one session."""
    case, people, seed, minutes = job
    physics = simulate(parameters(**{"seed": seed, "minutes": minutes, "people": people} | (CASES | LONG)[case]))
    simulate.cache_clear()
    session = session_of(
        physics.clips,
        physics.phases,
        participant=physics.participant,
        setups=physics.setups,
        recorded_at=datetime(2026, 11, 20, tzinfo=UTC),
    )
    grid = common_grid({name: clip.time_s for name, clip in physics.clips.items()})
    tracks = {}
    for name, clip in physics.clips.items():
        values, known = onto_grid(clip.time_s, np.column_stack([clip.acc, clip.gyr]), grid)
        tracks[name] = orient(values[:, :3], values[:, 3:], known, grid.rate_hz)
    found = session_angles(session, tracks, grid, Quality())
    rows = physics.within("playing")
    time_s = physics.truth.time_s.to_numpy()[rows]
    out = []
    for column, values in found.columns.items():
        error = np.interp(time_s, grid.time_s, values) - physics.truth[column].to_numpy()[rows]
        sure = np.interp(time_s, grid.time_s, found.uncertainty[column])
        known = np.isfinite(error)
        joint = column.removeprefix("right_").removeprefix("left_")
        half = len(error) // 2
        if known.any():
            e = error[known]
            drift = abs(np.nanmean(error[half:]) - np.nanmean(error[:half])) if known[half:].any() else np.nan
            covered = np.mean(np.abs(e) <= sure[known])
            numbers = (np.mean(e**2), covered, np.mean(sure[known]), 1 - known.mean(), drift)
        else:
            numbers = (np.nan, np.nan, np.nan, 1.0, np.nan)
        out.append((people, case, joint, *numbers))
    return out


def table(rows):
    """Markdown, a line per case and joint."""
    groups = defaultdict(list)
    for people, case, joint, *numbers in rows:
        groups[people, case, joint].append(numbers)
    lines = [
        "| legs | case | angle | RMSE [deg] | covered [%] | half-width 95 % [deg] | unknown [%] | drift [deg] |",
        "|---|---|---|---:|---:|---:|---:|---:|",
    ]
    for (people, case, joint), numbers in groups.items():
        square, covered, sure, unknown, drift = np.nanmean(np.array(numbers, dtype=float), axis=0)
        lines.append(
            f"| {people} | {case} | {joint} | {np.sqrt(square):.2f} | {100 * covered:.0f} | {sure:.1f} | "
            f"{100 * unknown:.0f} | {drift:.2f} |"
        )
    return "\n".join(lines)


def main():
    """Run all cases and print (or write) the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, default=8)
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--cases", nargs="*", choices=CASES, help="only these")
    parser.add_argument("--people", nargs="*", choices=PEOPLE, help="only these")
    parser.add_argument("--long", action="store_true", help="sessions of 45 min in place of the others, for the drift")
    parser.add_argument("--write", type=Path, help="replace the table in this file, between its two marks")
    given = parser.parse_args()
    cases = LONG if given.long else {c: CASES[c] for c in given.cases or CASES}
    seeds = range(1, given.seeds + 1)
    jobs = [(c, people, s, given.minutes) for people in given.people or PEOPLE for c in cases for s in seeds]
    with ProcessPoolExecutor(given.jobs) as pool:
        rows = [row for result in pool.map(measured, jobs) for row in result]
    text = table(rows)
    minutes = "45" if given.long else f"{given.minutes:g}"
    heading = f"{given.seeds} seeds, two legs each, {minutes} min of playing\n\n"
    if given.write is None:
        print(heading + text)
        return
    before, _, rest = given.write.read_text(encoding="utf-8").partition("<!-- table begins -->")
    _, _, after = rest.partition("<!-- table ends -->")
    marks = ("<!-- table begins -->", "<!-- table ends -->")
    given.write.write_text(f"{before}{marks[0]}\n{heading}{text}\n{marks[1]}{after}", encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
