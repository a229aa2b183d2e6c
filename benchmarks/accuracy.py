"""How near the angles come: five simulated people with known angles, and three real recordings with a reference.

    python benchmarks/accuracy.py [--seeds 5] [--playing 300]

Simulated: the leg in the mujoco physics engine (tests/physics_leg.py), RMSE while playing, mean of the seeds [deg].
"""

import argparse
import sys
import tempfile
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from analysed import analysed, result_of, rmse
from footroom.analysis.hinge import find_hinge
from footroom.analysis.orientation import orient, up_in_sensor
from footroom.analysis.pipeline import analyze_session
from footroom.logger.csv_import import import_folder
from footroom.logger.logbook import Logbook
from pendulum import best_rmse_deg, read_pendulum
from physics_leg import Person, PhysicsParameters, SetupScript, simulate
from reference_data import REPOSITORY
from scipy.io import loadmat

COLUMNS = {  # and the bound in the first case [deg]
    "ankle_dorsiflexion": 0.5,
    "knee_flexion": 1.0,
    "hip_flexion": 1.0,
    "hip_rotation": 2.0,
    "hip_adduction": None,
    "hip_horizontal_abduction": None,
}
CASES = {
    "poses as asked, clean moves (cross 1 deg)": Person(posture_sd_deg=0.0, cross_deg=1.0),
    "poses off by 1 deg SD, sloppier moves (cross 2 deg)": Person(posture_sd_deg=1.0, cross_deg=2.0),
}


def simulated(folder, seeds, playing_s):
    for number, (case, person) in enumerate(CASES.items()):
        found = {column: [] for column in COLUMNS}
        room, covered = [], []
        for seed in range(1, seeds + 1):
            physics = simulate(PhysicsParameters(seed=seed, person=person, setups=(SetupScript(playing_s=playing_s),)))
            result = analysed(folder / f"{number}-{seed}", physics)
            for column in COLUMNS:
                found[column].append(rmse(result.errors(physics, f"right_{column}")))
            figures = result.exposure["setups"]["near"]["right"]["ankle_dorsiflexion"]
            end = physics.active_end_deg["right"]["ankle_dorsiflexion"]
            true = end - physics.truth.right_ankle_dorsiflexion[physics.within("playing")]
            room.append(figures["median_room_deg"] - np.median(true))
            low, high = figures["band_near_end"]
            covered.append(low <= np.mean(true < figures["zone_deg"]) <= high)
        print(f"\n{case}: {seeds} seeds, {playing_s:.0f} s")
        for column, values in found.items():
            bound = COLUMNS[column] if number == 0 else None
            tail = f"   bound {bound:.1f}" if bound else ""
            print(f"  {column:<26}{np.mean(values):6.2f}   seeds {min(values):.2f}-{max(values):.2f}{tail}")
        print(f"  median ankle room, error   {np.mean(np.abs(room)):5.2f}   worst {np.abs(room).max():.2f}")
        print(f"  true share inside its band {sum(covered)} of {seeds}")


def real(folder):
    data = REPOSITORY.parent / "shared" / "data"
    if not data.is_dir():
        print("\nReal recordings: absent (../shared/data), left out.")
        return
    print("\nReal recordings, RMSE [deg]")
    logbook = Logbook.create(folder / "ankle")
    session_id = import_folder(data / "ankle_encoder", logbook)
    analyze_session(logbook, session_id)
    result = result_of(logbook, session_id)
    encoder = np.loadtxt(data / "ankle_encoder" / "reference.csv", delimiter=",", skiprows=1)
    time = result.angles["time_s"].to_numpy()
    at = (time >= 1.0) & (time < 179.9)
    true = np.interp(time[at], encoder[:, 0], encoder[:, 1])
    error = result.angles["right_ankle_dorsiflexion"].to_numpy(dtype=float)[at] - true
    offset = np.nanmean(error)
    print(f"  ankle with encoder         {rmse(error - offset):6.2f}   bound 0.9; offset {offset:+.2f}")
    figures = result.exposure["setups"]["walking"]["right"]["ankle_dorsiflexion"]
    share, band = figures["share_near_end"], figures["band_near_end"]
    print(
        f"    share with < 5 deg of room {share:.3f}, encoder {np.mean(15 - true < 5):.3f}, "
        f"band {band[0]:.3f}-{band[1]:.3f}"
    )
    grid, tracks, optical = read_pendulum()
    hinge = find_hinge(tracks[0].gyr, tracks[1].gyr, grid.rate_hz)
    print(f"  pendulum hinge             {best_rmse_deg(grid, tracks, hinge, optical):6.2f}   bound 1.2")
    for trial in ("05_undisturbed_slow_rotation_with_breaks_B", "25_disturbed_tapping_B"):
        record = loadmat(data / "single_imu_optical" / f"{trial}.mat")
        acc, gyr, quat = record["imu_acc"], record["imu_gyr"], record["opt_quat"]
        rate = float(record["sampling_rate"].ravel()[0])
        track = orient(acc, gyr, np.ones(len(acc), dtype=bool), rate)
        use = (record["movement"].ravel() > 0) & np.isfinite(quat).all(axis=1)
        cosine = np.sum(up_in_sensor(track.quat[use]) * up_in_sensor(quat[use]), axis=1)
        error = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
        print(f"  BROAD trial {trial[:2]} inclination {rmse(error):7.2f}   bound 0.35")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=5)
    parser.add_argument("--playing", type=float, default=300.0, help="seconds of playing (default 300)")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        simulated(Path(name), wanted.seeds, wanted.playing)
        real(Path(name))


if __name__ == "__main__":
    main()
