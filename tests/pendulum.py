"""The pendulum recording: RepoIMU, Szczesna et al. 2016, ICCVG, pp 509-520; two rigid segments, optical reference."""

import numpy as np
from footroom.analysis.alignment import Alignment, frame_from
from footroom.analysis.joint_angles import ankle_dorsiflexion
from footroom.analysis.orientation import orient, up_in_sensor
from footroom.analysis.segments import heading_tie, segment_axes
from footroom.analysis.timebase import Grid
from reference_data import reference_folder
from scipy.spatial.transform import Rotation


def _changes(time_s, values):
    """Rows where the values change: the file repeats them at 90 Hz (see ../shared/data/README.md)."""
    keep = np.concatenate([[True], (np.diff(values, axis=0) != 0).any(axis=1)])
    return time_s[keep], values[keep]


def read_pendulum():
    """(grid, tracks of both segments, optical hinge angle (n,) [deg]); skips the calling test where it is absent."""
    folder = reference_folder("pendulum_optical")
    tables = [
        np.loadtxt(folder / f"Pendulum_Test02a_Trial1_Segment_{i}.csv", delimiter=";", skiprows=2) for i in (1, 2)
    ]
    time_s = tables[0][:, 0]
    grid = Grid(float(time_s[0]), 100.0, int((time_s[-1] - time_s[0]) * 100))
    tracks = []
    for table in tables:
        acc, gyr = (_changes(table[:, 0], table[:, columns]) for columns in (slice(5, 8), slice(8, 11)))
        on_grid = [np.column_stack([np.interp(grid.time_s, t, c) for c in v.T]) for t, v in (acc, gyr)]
        tracks.append(orient(*on_grid, np.ones(grid.n, dtype=bool), grid.rate_hz))
    poses = [Rotation.from_quat(table[:, 1:5], scalar_first=True) for table in tables]
    turn = (poses[0].inv() * poses[1]).as_rotvec()
    main = np.linalg.svd(turn, full_matrices=False)[2][0]
    optical = np.interp(grid.time_s, time_s, np.degrees(turn @ main))
    return grid, tracks, optical


def hinge_angle(grid, tracks, hinge, signs):
    """Hinge angle (n,) [deg] from found axes with these signs, zero in the first two seconds."""
    still = grid.mask([(0.0, 2.0)])
    axes = []
    for track, axis, sign in zip(tracks, (hinge.first, hinge.second), signs, strict=True):
        up = up_in_sensor(track.quat)[still].mean(axis=0)
        frame = frame_from(up, sign * axis.direction, "right")
        axes.append(segment_axes(track, Alignment(frame, axis, "still", 1.0), still))
    return ankle_dorsiflexion(axes[0], axes[1], heading_tie(axes[0], axes[1], grid))


def best_rmse_deg(grid, tracks, hinge, optical):
    """RMSE after the median is removed [deg]; signs are open, so the best pairing counts, up to the sense of all."""
    found = []
    for sign in (1.0, -1.0):
        angle = hinge_angle(grid, tracks, hinge, (1.0, sign))
        for sense in (1.0, -1.0):
            error = angle - sense * optical
            found.append(float(np.sqrt(np.mean((error - np.median(error)) ** 2))))
    return min(found)
