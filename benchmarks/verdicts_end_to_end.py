"""Verdicts from clips on the physics engine's leg: no difference, and 6 cm of reach, called right?

    .venv/bin/python benchmarks/verdicts_end_to_end.py --write docs/verdicts.md

From motion to `compare_participant`: people whose two set-ups are one truth under two names, and people with 6 cm of
reach between them; both set-ups in one wearing (four sessions), and each in wearings of its own (three sessions a
side). The clips sit anew in each wearing and move on the skin, poses are repeated to 1 deg, the order turns, and the
person plays a little differently each time (the seed). Foot, shank and thigh are worn on the right, so that all motions
of that leg are shown and any of them could be called clear by mistake. Needs mujoco.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from analysed import store
from footroom.analysis.comparison import compare_participant
from footroom.analysis.pipeline import analyze_session, read_exposure
from footroom.logger.logbook import Logbook
from physics_leg import SKIN_WOBBLE_DEG, Person, PhysicsParameters, SetupScript, simulate
from verdicts import write_between

REACH_CM, APART_CM = 44.0, 6.0
SESSIONS = {True: 4, False: 3}  # with both set-ups; a side
SEEDS = {(True, 0.0): 1000, (True, APART_CM): 2000, (False, 0.0): 3000, (False, APART_CM): 4000}


@dataclass(frozen=True)
class Wearing:
    """One analysed session and the true median dorsiflexion of its playing, by set-up [deg]."""

    exposure: dict[str, Any]
    session: Any
    true_deg: dict[str, float]


@dataclass(frozen=True)
class Judged:
    """One person's comparison. true_deg: the true difference in room of these very sessions, b minus a."""

    row: dict[str, Any]
    clear: list[str]
    true_deg: float


def wear(logbook: Logbook, seed: int, scripts: tuple[SetupScript, ...]) -> Wearing:
    """Simulate, store and analyse one wearing."""
    physics = simulate(
        PhysicsParameters(
            seed=seed,
            person=Person(posture_sd_deg=1.0),
            setups=scripts,
            wobble_deg=SKIN_WOBBLE_DEG,
        )
    )
    simulate.cache_clear()
    named = sorted(scripts, key=lambda one: one.name)
    typed = [{"name": one.name, "reach_cm": one.reach_cm, "throne_height_cm": 50.0} for one in named]
    when = datetime(2026, 1, 1, 18, tzinfo=UTC) + timedelta(days=seed % 1000)
    name = store(logbook, physics.clips, physics.phases, participant={"id": "person"}, setups=typed, recorded_at=when)
    analyze_session(logbook, name)
    exposure = read_exposure(logbook, name)
    if exposure is None:
        raise SystemExit(f"{name} gave no figures")
    angle = physics.truth["right_ankle_dorsiflexion"]
    medians = {one.name: float(np.median(angle[physics.within("playing", one.name)])) for one in scripts}
    return Wearing(exposure, logbook.session(name), medians)


def person(logbook: Logbook, number: int, same: bool, apart_cm: float, playing_s: float) -> Judged:
    """All sessions of one person, compared."""
    a = SetupScript(name="a", reach_cm=REACH_CM, playing_s=playing_s)
    b = replace(a, name="b", reach_cm=REACH_CM + apart_cm)
    count = SESSIONS[same]
    plan = [(a, b) if i % 2 else (b, a) for i in range(count)] if same else [(a,), (b,)] * count
    first = SEEDS[same, apart_cm] + number * len(plan)
    worn = [wear(logbook, first + i, scripts) for i, scripts in enumerate(plan)]
    rows = compare_participant([one.exposure for one in worn], [one.session for one in worn])
    true = {name: np.mean([one.true_deg[name] for one in worn if name in one.true_deg]) for name in "ab"}
    clear = [f"{row['motion']} {row['measure']}" for row in rows if row["verdict"] == "clear difference"]
    primary = next(row for row in rows if row["primary"])
    return Judged(primary, clear, float(true["a"] - true["b"]))  # room grows as the angle falls


def line(same: bool, apart_cm: float, found: list[Judged]) -> str:
    """One line of the table."""
    if apart_cm:
        right = sum(one.row["verdict"] == "clear difference" and one.row["difference"] > 0 for one in found)
    else:
        right = sum(not one.clear for one in found)
    measured = [one.row["difference"] for one in found]
    errors = np.subtract(measured, [one.true_deg for one in found])
    held = sum(one.row["interval"][0] <= one.true_deg <= one.row["interval"][1] for one in found)
    what = f"{apart_cm:g} cm of reach between" if apart_cm else "one truth under two names"
    return (
        f"| {'same wearing' if same else 're-worn'}, {SESSIONS[same]} {'sessions' if same else 'a side'} | {what} | "
        f"{np.mean([one.true_deg for one in found]):+.2f} | {np.mean(measured):+.2f} | "
        f"{np.sqrt(np.mean(errors**2)):.2f} | {right} of {len(found)} | {held} of {len(found)} |"
    )


def main() -> None:
    """All four kinds, person by person on stderr, the table on stdout or into a file."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--people", type=int, default=20, help="comparisons of each kind")
    parser.add_argument("--playing", type=float, default=120.0, help="s on each set-up and session")
    parser.add_argument("--write", type=Path, help="replace the table in this file, between its two marks")
    given = parser.parse_args()
    table = [
        f"{given.people} people of each kind, {given.playing:g} s of playing on each set-up and session.\n",
        "| sessions | truth | true room, b minus a [deg] | measured | error of a comparison, RMS | called right "
        "| interval holds it |",
        "|---|---|---:|---:|---:|---:|---:|",
    ]
    for same, apart_cm in SEEDS:
        begin, found = time.perf_counter(), []
        for number in range(given.people):
            with tempfile.TemporaryDirectory() as folder:
                one = person(Logbook.create(Path(folder) / "book"), number, same, apart_cm, given.playing)
            found.append(one)
            low, high = one.row["interval"]
            print(
                f"{'same wearing' if same else 're-worn'}, {apart_cm:g} cm, person {number}: true {one.true_deg:+.2f}, "
                f"measured {one.row['difference']:+.2f} ({low:+.2f} to {high:+.2f}): {one.row['verdict']}; "
                f"clear: {', '.join(one.clear) or 'nothing'}",
                file=sys.stderr,
                flush=True,
            )
        table.append(line(same, apart_cm, found))
        print(f"{table[-1]} {time.perf_counter() - begin:.0f} s", file=sys.stderr, flush=True)
    if given.write is None:
        print("\n".join(table))
    else:
        write_between(given.write, "engine", "\n".join(table))


if __name__ == "__main__":
    main()
