"""Hinge axes from any motion: found where the motion shows them, refused where it does not, on made and real data."""

import numpy as np
import pytest
from footroom.analysis.hinge import MAX_ERROR_DEG, find_hinge
from moving_joint import RATE, joint_motion, off_deg
from pendulum import best_rmse_deg, read_pendulum


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_a_hinge_on_a_moving_limb_is_found(seed, noise):
    g1, g2, axis1, axis2, _ = joint_motion(seed=seed, noise=noise)
    hinge = find_hinge(g1, g2, RATE)
    assert hinge.why_not == ""
    assert off_deg(hinge.first.direction, axis1) < 0.5
    assert off_deg(hinge.second.direction, axis2) < 0.5
    assert max(hinge.first.error_deg, hinge.second.error_deg) < 1.0


def test_directions_are_unit_and_say_that_their_signs_are_open():
    g1, g2, *_ = joint_motion()
    hinge = find_hinge(g1, g2, RATE)
    for axis in (hinge.first, hinge.second):
        assert np.linalg.norm(axis.direction) == pytest.approx(1.0)
        assert not axis.signed
        assert 0.0 <= axis.share_explained <= 1.0


def test_a_little_play_beside_the_hinge_is_borne():
    g1, g2, axis1, axis2, _ = joint_motion(cross_rad=0.05, seed=2)
    hinge = find_hinge(g1, g2, RATE)
    assert hinge.why_not == ""
    assert max(off_deg(hinge.first.direction, axis1), off_deg(hinge.second.direction, axis2)) < 3.0


def test_the_rate_of_the_recording_does_not_matter():
    for rate in (50.0, 200.0):
        g1, g2, axis1, axis2, _ = joint_motion(rate_hz=rate, seed=1)
        hinge = find_hinge(g1, g2, rate)
        assert max(off_deg(hinge.first.direction, axis1), off_deg(hinge.second.direction, axis2)) < 1.0


REFUSED = {
    "the first segment rests, so its axis never shows": {"carry_rad": 0.0, "noise": 0.01},
    "both turn about the hinge only": {"carry_rad": (0.0, 0.0, 0.6), "noise": 0.01},
    "the joint turns about two axes alike": {"cross_rad": 0.5},
}


@pytest.mark.parametrize("case", REFUSED)
@pytest.mark.parametrize("seed", range(2))
def test_motion_that_shows_no_hinge_is_refused_or_the_answer_is_right(case, seed):
    """It may be refused, or found by luck; what must not happen is a wrong axis that looks sure."""
    g1, g2, axis1, axis2, _ = joint_motion(seed=seed, **REFUSED[case])
    hinge = find_hinge(g1, g2, RATE)
    errors = off_deg(hinge.first.direction, axis1), off_deg(hinge.second.direction, axis2)
    assert hinge.why_not or max(errors) < MAX_ERROR_DEG


@pytest.mark.parametrize("seed", range(2))
def test_two_axes_alike_are_refused(seed):
    g1, g2, *_ = joint_motion(seed=seed, cross_rad=0.5)
    assert find_hinge(g1, g2, RATE).why_not != ""


@pytest.mark.parametrize("seed", range(2))
def test_a_foot_that_stays_still_is_refused(seed):
    """One clip rests on the floor and measures noise only: nothing shows where its axis is."""
    rng = np.random.default_rng(seed)
    g1, *_ = joint_motion(seed=seed)
    hinge = find_hinge(g1, 0.002 * rng.normal(size=g1.shape), RATE)
    assert hinge.why_not != ""


@pytest.mark.parametrize("seed", range(2))
def test_noise_alone_is_refused(seed):
    rng = np.random.default_rng(seed)
    hinge = find_hinge(rng.normal(size=(3000, 3)), rng.normal(size=(3000, 3)), RATE)
    assert hinge.why_not != ""


def test_too_little_data_is_refused_with_the_reason():
    hinge = find_hinge(np.ones((100, 3)), np.ones((100, 3)), RATE)
    assert "less than two seconds" in hinge.why_not
    assert find_hinge(np.zeros((0, 3)), np.zeros((0, 3)), RATE).why_not != ""


def test_hinge_angle_of_a_real_pendulum():
    grid, tracks, optical = read_pendulum()
    assert np.ptp(optical) > 45.0
    hinge = find_hinge(tracks[0].gyr, tracks[1].gyr, grid.rate_hz)
    assert hinge.why_not == ""
    assert best_rmse_deg(grid, tracks, hinge, optical) <= 1.2
