"""Drift that arises in playing must not reach back into the range check (found with a slow knee splay, which the
orientation filter may take for gyroscope bias: an abduction end of 30.5 deg came out as 17)."""

import numpy as np
import pytest
from footroom.analysis.leg import OnPedal, add_hip, leg_angles
from footroom.analysis.segments import SegmentAxes, about_up
from footroom.analysis.timebase import Grid

GRID = Grid(0.0, 50.0, 50 * 200)
STILL = [(0.0, 5.0), (190.0, 195.0)]
PLAYING = (100.0, 185.0)


def seated(heading_rad):
    """A level thigh and an upright shank, both straight ahead, their earth frames turned by the same heading."""
    n, known, stretch = GRID.n, np.ones(GRID.n, dtype=bool), np.zeros(GRID.n, dtype=np.int32)

    def axes(y):
        return SegmentAxes(about_up(heading_rad, np.tile(y, (n, 1))), about_up(heading_rad, right), known, stretch)

    right = np.tile([0.0, -1.0, 0.0], (n, 1))
    return {"thigh": axes([-1.0, 0.0, 0.0]), "shank": axes([0.0, 0.0, 1.0])}


def abduction(heading_rad, side="right"):
    pedal = OnPedal(GRID.mask([PLAYING]), None, GRID.mask([]))
    still = [GRID.mask([span]) for span in STILL]
    return sideways(leg_angles(seated(heading_rad), side, GRID, still, [pedal]), side)


def sideways(leg, side):
    add_hip(leg, side, np.zeros(GRID.n))
    return leg.columns["hip_horizontal_abduction"]


@pytest.mark.parametrize("side", ["right", "left"])
def test_drift_of_the_playing_leaves_the_range_check_alone(side):
    time_s = GRID.time_s
    drift = np.radians(np.interp(time_s, PLAYING, (0.0, 20.0)))
    found = abduction(drift, side)
    assert np.abs(found[GRID.slice(5.0, 100.0)]).max() < 0.1  # range check: no drift yet, none given
    assert np.abs(found[GRID.slice(100.0, 200.0)]).max() < 0.1  # playing: taken back as it came


def test_between_poses_without_playing_drift_is_even():
    pedal = OnPedal(GRID.mask([]), None, GRID.mask([]))
    still = [GRID.mask([span]) for span in STILL]
    drift = np.radians(20.0) * GRID.time_s / 200.0
    found = sideways(leg_angles(seated(drift), "right", GRID, still, [pedal]), "right")
    assert np.abs(found[GRID.slice(2.5, 192.5)]).max() < 0.1


def test_a_pose_on_either_side_bounds_the_drift():
    """Near the middle of two poses 190 s apart: 94 * 96 / 190 = 47.5 s; with playing between them, 94 s from one."""

    def away(*playing):
        pedal = OnPedal(GRID.mask(playing), None, GRID.mask([]))
        still = [GRID.mask([span]) for span in STILL]
        return leg_angles(seated(np.zeros(GRID.n)), "right", GRID, still, [pedal]).from_still_s

    middle = GRID.slice(96.5, 96.52).start
    assert away()[middle] == pytest.approx(47.5, abs=0.1)
    assert away((90.0, 120.0))[middle] == pytest.approx(94.0, abs=0.1)
    assert away()[-1] == pytest.approx(7.5, abs=0.1)
