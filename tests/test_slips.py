"""Clips that turn on the leg: found, dated, and what follows is not believed. benchmarks/slips.py has the curve."""

import numpy as np
import pytest
from analysed import analysed
from footroom.analysis.slips import find_slip
from footroom.analysis.turn_steps import hinge_axis, steps
from physics_leg import Person, PhysicsParameters, SetupScript, Slip, simulate
from physics_model import require_mujoco
from slipped_clips import AXES, oriented, tracks_of, with_moved_knee, with_slip, with_turned_foot

PLAYED = (SetupScript(name="near", playing_s=90.0), SetupScript(name="far", reach_cm=50.0, playing_s=60.0))


def session(*slips, seed=5):
    require_mujoco()
    return simulate(PhysicsParameters(seed=seed, setups=PLAYED, slips=slips, person=Person(cross_deg=1.0)))


@pytest.fixture(scope="module")
def slipped(tmp_path_factory):
    physics = session(Slip("right_shank", 12.0, axis=(0.0, 0.0, 1.0), setup="near", after_s=40.0))
    return physics, analysed(tmp_path_factory.mktemp("slip"), physics)


@pytest.fixture(scope="module")
def clean():
    """A session without slips, and the start of its first playing."""
    physics = session()
    return *tracks_of(physics), physics.span("playing", "near")[0]


def slips_of(session, tracks, grid):
    found = {clip.name: find_slip(session, clip, tracks, grid) for clip in session.clips}
    return {name: slip for name, slip in found.items() if slip is not None}


def test_a_turned_shank_clip_is_found_and_dated(slipped):
    physics, result = slipped
    (found,) = result.quality["slips"]
    true = physics.slips[0]
    assert found["clip"] == "right_shank"
    assert found["time_s"] == pytest.approx(true["time_s"], abs=2.0)
    assert found["turn_deg"] == pytest.approx(12.0, abs=3.0)
    assert any(entry["what"].startswith("what right_shank shows after") for entry in result.quality["withheld"])


def test_nothing_that_the_turned_clip_shows_is_believed_afterwards(slipped):
    physics, result = slipped
    (found,) = result.quality["slips"]
    time_s = result.angles["time_s"].to_numpy()
    ankle = result.angles["right_ankle_dorsiflexion"].to_numpy()
    assert np.isnan(ankle[time_s >= found["time_s"] + 0.1]).all()  # the time is given to a tenth of a second
    start, _ = physics.span("playing", "near")
    assert np.isfinite(ankle[(time_s >= start) & (time_s < found["time_s"] - 0.1)]).all()
    assert "ankle_dorsiflexion" in result.exposure["setups"]["near"]["right"]
    assert "ankle_dorsiflexion" not in result.exposure["setups"]["far"].get("right", {})


@pytest.mark.parametrize("clip", ["right_foot", "right_shank"])
@pytest.mark.parametrize("axis", "xyz")
def test_a_slip_of_8_deg_is_found_about_every_axis(clean, clip, axis):
    """Also about the vertical (y), of which no still pose knows."""
    session, samples, mounts, grid, tracks, start = clean
    turned = with_slip(samples[clip], mounts[clip], AXES[axis], -8.0, start + 37.0)
    found = slips_of(session, tracks | {clip: oriented(turned, grid)}, grid)
    assert set(found) == {clip}
    assert found[clip].time_s == pytest.approx(start + 37.0, abs=2.0)
    assert found[clip].turn_deg == pytest.approx(8.0, abs=3.0)


def test_a_foot_that_turns_on_its_board_has_not_slipped(clean):
    session, samples, _, grid, tracks, start = clean
    turned = with_turned_foot(samples["right_foot"], tracks["right_foot"], grid, 15.0, start + 40.0)
    assert slips_of(session, tracks | {"right_foot": oriented(turned, grid)}, grid) == {}


def test_a_knee_that_moves_sideways_is_no_slip_of_shank_or_thigh(clean):
    session, samples, mounts, grid, tracks, start = clean
    moved = {}
    for clip, ahead in (("right_shank", (1.0, 0.0, 0.0)), ("right_thigh", (0.0, -1.0, 0.0))):
        forward = mounts[clip].T @ np.array(ahead)
        moved[clip] = oriented(
            with_moved_knee(samples[clip], tracks[clip], grid, forward, 12.0, start + 40.0, start + 88.0), grid
        )
    part = grid.slice(start, start + 90.0)
    assert np.abs(steps(moved["right_shank"], part, start).yaw).max() > 5.0  # it did turn
    assert slips_of(session, tracks | moved, grid) == {}


def test_a_silent_clip_is_no_slip(clean):
    """A clip's heading does not carry over a gap, so nothing is concluded across one."""
    session, samples, _, grid, tracks, start = clean
    time_s, acc, gyr = samples["right_shank"]
    heard = (time_s < start + 40.0) | (time_s > start + 47.0)
    broken = oriented((time_s[heard], acc[heard], gyr[heard]), grid)
    assert slips_of(session, tracks | {"right_shank": broken}, grid) == {}
    found = steps(broken, grid.slice(start, start + 90.0), start)
    assert np.isnan(found.turn[np.abs(found.time_s - start - 43.0) < 4.0]).all()


def test_people_who_repeat_a_pose_within_a_degree_have_no_slip():
    """Retaken still poses differ by 1 deg (SD) here, and every set-up has another posture."""
    for seed in (5, 6):
        found = tracks_of(session(seed=seed))
        assert slips_of(found[0], found[4], found[3]) == {}


def test_too_little_shows_no_axis_and_no_step(clean):
    *_, grid, tracks, start = clean
    track = tracks["right_foot"]
    assert hinge_axis(track, grid.slice(start, start + 2.0)) is None  # too short
    assert hinge_axis(track, grid.slice(0.5, 5.5)) is None  # nobody moved
    assert steps(track, grid.slice(start, start + 1.0), start).time_s.size == 0
    assert steps(track, slice(0, 0), 0.0).turn.shape == (0, 3)
