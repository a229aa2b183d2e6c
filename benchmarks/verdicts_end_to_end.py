"""Verdicts from clips on the physics engine's leg: no difference, and 6 cm of reach, called right?

    .venv/bin/python benchmarks/verdicts_end_to_end.py --pairs 20

A pair is one wearing with two set-ups, from motion to `compare_participant`: 20 pairs whose set-ups are one truth under
two names, and 20 with 6 cm of reach between. Four wearings make a person, as in practice. The clips sit anew in each
wearing, poses are repeated to 1 deg, order turns, the person plays a little differently each time (the seed). Needs
mujoco.
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
from physics_leg import Person, PhysicsParameters, SetupScript, simulate

REACH_CM, APART_CM, WEARINGS = 44.0, 6.0, 4


@dataclass(frozen=True)
class Wearing:
    """One analysed session and the true difference in median dorsiflexion, set-up b minus a, of its playing [deg]."""

    exposure: dict[str, Any]
    session: Any
    true_deg: float


def wear(logbook: Logbook, seed: int, apart_cm: float, playing_s: float) -> Wearing:
    """Simulate, store and analyse one wearing."""
    a = SetupScript(name="a", reach_cm=REACH_CM, playing_s=playing_s)
    b = replace(a, name="b", reach_cm=REACH_CM + apart_cm)
    physics = simulate(
        PhysicsParameters(
            seed=seed,
            segments=("foot", "shank"),
            person=Person(posture_sd_deg=1.0),
            setups=(a, b) if seed % 2 else (b, a),
            moves=("ankle_taps", "knee_kicks"),
            ranges=("ankle_dorsiflexion",),
        )
    )
    simulate.cache_clear()
    typed = [{"name": one.name, "reach_cm": one.reach_cm, "throne_height_cm": 50.0} for one in (a, b)]
    when = datetime(2026, 11, 1, 18, tzinfo=UTC) + timedelta(days=seed % 1000)
    name = store(logbook, physics.clips, physics.phases, participant={"id": "pair"}, setups=typed, recorded_at=when)
    analyze_session(logbook, name)
    exposure = read_exposure(logbook, name)
    if exposure is None:
        raise SystemExit(f"{name} gave no figures")
    angle = physics.truth["right_ankle_dorsiflexion"]
    medians = [float(np.median(angle[physics.within("playing", one)])) for one in ("a", "b")]
    return Wearing(exposure, logbook.session(name), medians[0] - medians[1])  # room grows as the angle falls


def judged(wearings: list[Wearing]) -> dict[str, Any]:
    """The primary row of some wearings of one person."""
    rows = compare_participant([one.exposure for one in wearings], [one.session for one in wearings])
    return next(row for row in rows if row["primary"])


def main() -> None:
    """Both groups, pair by pair and person by person."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--pairs", type=int, default=20, help="wearings of each kind")
    parser.add_argument("--playing", type=float, default=60.0, help="s on each set-up")
    given = parser.parse_args()
    for start, apart_cm in ((1000, 0.0), (2000, APART_CM)):
        begin = time.perf_counter()
        with tempfile.TemporaryDirectory() as folder:
            logbook = Logbook.create(Path(folder) / "logbook")
            found = [wear(logbook, start + i, apart_cm, given.playing) for i in range(given.pairs)]
        print(f"{apart_cm:g} cm apart, {given.pairs} pairs, {time.perf_counter() - begin:.0f} s")
        measured = [judged([one])["difference"] for one in found]
        errors = np.subtract(measured, [one.true_deg for one in found])
        for one, number in zip(found, measured, strict=True):
            print(f"  {one.session.id}: true {one.true_deg:+.2f}, measured {number:+.2f} deg")
        print(f"  error of a pair: mean {np.mean(errors):+.2f}, RMS {np.sqrt(np.mean(errors**2)):.2f} deg")
        people = [found[i : i + WEARINGS] for i in range(0, len(found) - WEARINGS + 1, WEARINGS)]
        for person in [*people, found] if len(people) > 1 else people or [found]:
            row = judged(person)
            print(f"  {len(person)} wearings: {row['difference']:+.2f} {row['interval']}: {row['verdict']}")


if __name__ == "__main__":
    main()
