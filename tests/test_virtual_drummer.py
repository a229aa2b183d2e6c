"""Somebody on a throne who does what a recording asks for."""

from __future__ import annotations

import numpy as np
import pytest
from footroom.logger.models import PHASE_NAMES
from footroom.logger.sources.virtual_counts import ACC_SCALE, VirtualWearing
from footroom.logger.virtual_drummer import BLEND_S, ENDS_DEG, Throne, VirtualDrummer
from footroom.logger.virtual_leg import ANGLE_NAMES, LegAngles

RATE = 100.0


def angle(drummer, side, name, t):
    return np.rad2deg(drummer.angles(side, np.asarray(t, dtype=float))[:, ANGLE_NAMES.index(name)])


@pytest.mark.parametrize("phase", PHASE_NAMES)
def test_every_phase_can_be_asked_for_and_moves_smoothly(phase):
    drummer = VirtualDrummer()
    drummer.begin(phase, 3.0)
    t = np.arange(0, 25, 1 / 800)
    angles = np.rad2deg(drummer.angles("right", t))
    assert np.isfinite(angles).all()
    assert np.abs(np.diff(angles, axis=0)).max() * 800 < 600  # deg/s; strokes reach several hundred
    assert np.abs(np.diff(angles, 2, axis=0)).max() * 800**2 < 60_000  # deg/s^2: no jump in speed


@pytest.mark.parametrize("wait_s", [0.0, 0.4])
@pytest.mark.parametrize("stroke_s", [0.0, 0.05, 0.1, 0.15])
def test_phases_that_follow_each_other_at_once_make_no_leap(wait_s, stroke_s):
    """A recording ends the playing and asks for a pose in one breath; no leg is elsewhere in no time."""
    drummer = VirtualDrummer()
    drummer.begin("playing", 0.0)
    drummer.begin("rest_on_pedal", 10.0 + stroke_s, setup="near")
    drummer.begin("still", 10.0 + stroke_s + wait_s)
    angles = np.rad2deg(drummer.angles("right", np.arange(9, 13, 1 / 800)))
    assert np.abs(np.diff(angles, axis=0)).max() * 800 < 600  # deg/s


@pytest.mark.parametrize(
    ("phase", "name", "first"),
    [("ankle_taps", "ankle_dorsiflexion", -1), ("knee_kicks", "knee_flexion", -1), ("thigh_lifts", "hip_flexion", 1)],
)
def test_calibration_moves_begin_the_way_that_analysis_expects(phase, name, first):
    """Toes down, straightening, upward: docs/import.md."""
    drummer = VirtualDrummer()
    drummer.begin(phase, 0.0)
    t = np.arange(0, 6, 1 / RATE)
    moved = angle(drummer, "left", name, t) - angle(drummer, "left", name, [0.0])
    beyond = np.flatnonzero(np.abs(moved) > 3)
    assert beyond.size and np.sign(moved[beyond[0]]) == first


def test_a_range_phase_goes_to_its_end_again_and_again_and_a_phase_of_one_side_moves_that_side_only():
    drummer = VirtualDrummer()
    drummer.begin("range_dorsiflexion", 0.0, side="right")
    t = np.arange(0, 60, 1 / RATE)
    right, left = (angle(drummer, side, "ankle_dorsiflexion", t) for side in ("right", "left"))
    tops = right > 0.8 * ENDS_DEG["range_dorsiflexion"]
    assert np.count_nonzero(np.diff(tops.astype(int)) == 1) >= 8
    assert right.max() == pytest.approx(ENDS_DEG["range_dorsiflexion"], rel=0.15)
    assert np.ptp(left) < 1


def test_a_pedal_that_stands_nearer_leaves_the_ankle_more_bent_up():
    t = np.arange(BLEND_S + 1, 10, 1 / RATE)
    means = {}
    for setup in Throne().setups:
        drummer = VirtualDrummer()
        drummer.begin("playing", 0.0, setup=setup)
        means[setup] = float(np.median(angle(drummer, "right", "ankle_dorsiflexion", t)))
    assert means["near"] - means["far"] > 5


def test_cutting_time_anywhere_changes_nothing():
    drummer = VirtualDrummer(seed=4).practise(calm_s=2, move_s=5)
    t = np.arange(0, 30, 1 / RATE)
    whole = drummer.angles("right", t)
    pieces = [drummer.angles("right", piece) for piece in np.split(t, [1, 199, 200, 350, 351, 1234])]
    np.testing.assert_allclose(np.concatenate(pieces), whole, atol=1e-12)
    assert whole.shape == (len(t), len(ANGLE_NAMES)) and LegAngles.from_array(whole).knee_flexion.shape == (len(t),)


def test_what_was_asked_for_later_leaves_the_past_alone():
    drummer = VirtualDrummer()
    drummer.begin("ankle_taps", 0.0)
    t = np.arange(0, 8, 1 / RATE)
    before = drummer.angles("left", t)
    drummer.begin("playing", 8.0, setup="far")
    np.testing.assert_array_equal(drummer.angles("left", t), before)


def test_what_cannot_be_asked_for_is_refused():
    drummer = VirtualDrummer()
    drummer.begin("still", 5.0)
    with pytest.raises(ValueError, match="no phase 'dance'"):
        drummer.begin("dance", 6.0)
    with pytest.raises(ValueError, match="set-up 'moon'; set-ups are near, far"):
        drummer.begin("playing", 6.0, setup="moon")
    with pytest.raises(ValueError, match=r"playing cannot begin at 4\.0 s, before still at 5\.0 s"):
        drummer.begin("playing", 4.0)


def test_clips_keep_still_at_one_g_and_do_not_care_how_they_are_asked():
    wearing = VirtualWearing(VirtualDrummer(), ["left_shank", "pelvis"], clean=True)
    counts = wearing.counts("left_shank", 0, 400, 200.0)
    assert counts.dtype == np.int16 and counts.shape == (400, 6)
    size = np.linalg.norm(counts[:, :3] * ACC_SCALE, axis=1)
    assert size.mean() == pytest.approx(9.80665, rel=0.02)  # a clip's own bias is within a few thousandths of g
    pieces = np.concatenate([wearing.counts("left_shank", first, 13, 200.0) for first in range(0, 390, 13)])
    np.testing.assert_array_equal(pieces, counts[:390])
    assert not np.array_equal(wearing.counts("pelvis", 0, 400, 200.0), counts)
