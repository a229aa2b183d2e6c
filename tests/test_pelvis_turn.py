"""The pelvis' turn from where the hips are: by hand, by brute force, and as sure as it says."""

import numpy as np
import pytest
from analysed import analysed, rmse
from footroom.analysis.leg import _body
from footroom.analysis.pelvis_turn import (
    FOOT_SD_M,
    FORGET_S,
    HABIT_SD_DEG,
    READ_SD_M,
    SLIDE_SD_M,
    STEP_S,
    TURN_SD_DEG,
    pelvis_turn,
)
from footroom.analysis.segments import about_up
from footroom.analysis.timebase import Grid
from physics_leg import Person, PhysicsParameters, SetupScript, simulate
from physics_model import require_mujoco
from scipy.spatial.transform import Rotation

HALF_M = 0.085
EXACT = {"right": 1e-4, "left": 1e-4}


def grid_of(seconds, rate=4.0):
    return Grid(0.0, rate, round(seconds * rate))


def same(grid, **hips):
    return {side: np.full(grid.n, ahead) for side, ahead in hips.items()}


def test_a_pelvis_that_is_turned_to_the_left_has_its_right_hip_ahead():
    """9 mm at 85 mm: 0.009 / 0.085 = 0.1059 = 6.07 deg (6.08 by the sine); little is given away to other reasons."""
    grid = grid_of(600)
    turn, sd = pelvis_turn(same(grid, right=0.009, left=-0.009), 0.008, EXACT, HALF_M, grid)
    assert np.degrees(turn) == pytest.approx(np.full(grid.n, 6.07), abs=0.5)
    assert (sd < 1.1).all()


def test_sliding_ahead_is_no_turn():
    grid = grid_of(600)
    turn, _ = pelvis_turn(same(grid, right=0.02, left=0.02), 0.008, EXACT, HALF_M, grid)
    assert np.abs(turn).max() < 1e-9


def test_one_leg_hardly_tells():
    grid = grid_of(600)
    turn, sd = pelvis_turn(same(grid, right=0.009), 0.008, EXACT, HALF_M, grid)
    both, sure = pelvis_turn(same(grid, right=0.009, left=-0.009), 0.008, EXACT, HALF_M, grid)
    assert (turn > 0).all() and (turn < both / 2).all()
    assert (sd > 3 * sure).all() and (sd < np.hypot(TURN_SD_DEG, HABIT_SD_DEG)).all()


def test_a_foot_off_its_pedal_does_not_turn_the_pelvis_far():
    grid = grid_of(600)
    hips = same(grid, right=0.0, left=0.0)
    hips["right"][400:480] = 0.4
    turn, _ = pelvis_turn(hips, 0.008, EXACT, HALF_M, grid)
    assert np.degrees(np.abs(turn)).max() < 15 and np.degrees(np.abs(turn[1200:])).max() < 1.5


def test_where_no_hip_is_known_nothing_is_said():
    grid = grid_of(120)
    turn, sd = pelvis_turn(same(grid, right=np.nan, left=np.nan), 0.008, EXACT, HALF_M, grid)
    assert not turn.any() and np.isnan(sd).all()
    hips = same(grid, right=0.0, left=0.0)
    hips["right"][:100], hips["left"][:200] = np.nan, np.nan
    turn, sd = pelvis_turn(hips, 0.008, EXACT, HALF_M, grid)
    assert np.isnan(sd[:100]).all() and np.isfinite(sd[100:]).all() and not turn[:100].any()
    turn, sd = pelvis_turn({}, 0.008, {}, HALF_M, grid)
    assert not turn.any() and np.isnan(sd).all()


def test_as_sure_as_it_says():
    """Turns, slides and shifts as the model has them: the turn lies within 1.96 deviations in 95 % of the time."""
    rng, grid = np.random.default_rng(5), Grid(STEP_S / 2, 1 / STEP_S, 75)
    own, tape_sd = {"right": 0.006, "left": 0.006}, 0.008
    alike = np.exp(-np.abs(grid.time_s[:, None] - grid.time_s[None, :]) / FORGET_S)
    root = np.linalg.cholesky(alike)

    def wander(sd):
        return sd * root @ rng.normal(size=grid.n)

    inside = []
    for _ in range(300):
        true = wander(np.radians(TURN_SD_DEG)) + rng.normal(0.0, np.radians(HABIT_SD_DEG))
        alone = rng.normal(0.0, tape_sd) + wander(SLIDE_SD_M)
        hips = {
            side: sign * HALF_M * true + alone + rng.normal(0.0, own[side]) + wander(FOOT_SD_M)
            + rng.normal(0.0, READ_SD_M, grid.n)
            for side, sign in (("right", 1.0), ("left", -1.0))
        }  # fmt: skip
        turn, sd = pelvis_turn(hips, tape_sd, own, HALF_M, grid)
        inside.append(np.mean(np.degrees(np.abs(turn - true)) < 1.96 * sd))
    assert 0.92 < np.mean(inside) < 0.98


def test_against_the_normal_distribution_conditioned_step_by_step():
    """Slow reference: the joint covariance entry by entry, then the textbook's conditional mean and variance."""
    grid, rng = Grid(STEP_S / 2, 1 / STEP_S, 12), np.random.default_rng(2)
    hips = {side: rng.normal(0.0, 0.01, grid.n) for side in ("right", "left")}
    own = {"right": 0.004, "left": 0.007}
    turn, sd = pelvis_turn(hips, 0.008, own, HALF_M, grid)
    rows = [(side, t) for side in hips for t in grid.time_s]
    swing, habit = np.radians(TURN_SD_DEG) ** 2, np.radians(HABIT_SD_DEG) ** 2

    def shared(t, u):
        return swing * np.exp(-abs(t - u) / FORGET_S) + habit

    arm = {"right": HALF_M, "left": -HALF_M}
    seen = np.zeros((len(rows), len(rows)))
    for i, (a, t) in enumerate(rows):
        for j, (b, u) in enumerate(rows):
            seen[i, j] = arm[a] * arm[b] * shared(t, u) + SLIDE_SD_M**2 * np.exp(-abs(t - u) / FORGET_S) + 0.008**2
            if a == b:
                seen[i, j] += FOOT_SD_M**2 * np.exp(-abs(t - u) / FORGET_S) + own[a] ** 2 + READ_SD_M**2 * (t == u)
    for k, at in enumerate(grid.time_s):
        to_seen = np.array([arm[a] * shared(at, t) for a, t in rows])
        gain = np.linalg.inv(seen) @ to_seen
        assert turn[k] == pytest.approx(gain @ np.concatenate([hips["right"], hips["left"]]), abs=1e-9)
        assert np.radians(sd[k]) ** 2 == pytest.approx(shared(at, at) - gain @ to_seen, rel=1e-6)


def test_the_room_seen_by_somebody_who_is_turned():
    """Against scipy: forward, up, right is ISB x, y, z; a turn to the left is positive about up."""
    rng = np.random.default_rng(1)
    vectors, turn = rng.normal(size=(20, 3)), rng.uniform(-0.5, 0.5, 20)
    in_room = vectors[:, [0, 2, 1]] * [1.0, -1.0, 1.0]  # forward, left, up
    seen = Rotation.from_euler("y", turn[:, None]).inv().apply(vectors)
    assert _body(about_up(-turn, in_room)) == pytest.approx(seen)


def test_a_pelvis_that_turns_no_longer_hides_in_a_single_leg(tmp_path):
    """Physics engine, yaw of 6 deg SD: with the pelvis taken as square a thigh was 6 deg off."""
    require_mujoco()
    physics = simulate(
        PhysicsParameters(
            seed=4,
            sides=("right", "left"),
            both_at_once=True,
            rate_hz=100.0,
            ranges=("hip_internal_rotation", "hip_external_rotation"),
            person=Person(pelvis_yaw_sd_deg=6.0),
            setups=(SetupScript(playing_s=180.0),),
        )
    )
    found = analysed(tmp_path / "L", physics)
    for side in ("right", "left"):
        name = f"{side}_hip_horizontal_abduction"
        assert rmse(found.errors(physics, name)) < 2.5
