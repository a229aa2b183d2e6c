"""How a clip sits on its segment: main rotation axes with their sign, segment frames, the slope of a thigh."""

import numpy as np
import pytest
from footroom.analysis.alignment import (
    SENSOR_AXES,
    WEAK_SHARE,
    frame_from,
    main_axis,
    tilted_long_axis,
    unit,
)
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

RATE = 100.0
TRUE_AXIS = unit(np.array([0.3, -0.8, 0.52]))


def move(first=1, turn_deg=25.0, repetitions=5, axis=TRUE_AXIS, cross=0.0, noise=0.002, seed=0):
    """Rates of a move out and back `repetitions` times, beginning with a turn of sign `first` about `axis`."""
    rng = np.random.default_rng(seed)
    t = np.arange(round(2.0 * RATE)) / RATE
    out_and_back = first * np.radians(turn_deg) * np.sin(np.pi * t / 2.0) ** 2
    speed = np.gradient(np.tile(out_and_back, repetitions)) * RATE
    pause = np.zeros(round(0.5 * RATE))
    speed = np.concatenate([pause, speed, pause])
    across = unit(np.cross(axis, [1.0, 0.0, 0.0]))
    wobble = cross * np.std(speed) * rng.normal(size=speed.size)
    return speed[:, None] * axis + wobble[:, None] * across + noise * rng.normal(size=(speed.size, 3))


@pytest.mark.parametrize("first_turn", [1, -1])
@pytest.mark.parametrize("wanted_sign", [1, -1])
def test_the_first_direction_gives_the_sign(first_turn, wanted_sign):
    """The move begins with a turn of `first_turn` about the true axis, and is said to begin with `wanted_sign`."""
    axis = main_axis([move(first_turn)], RATE, wanted_sign, "ankle taps")
    assert axis is not None and axis.signed
    assert np.degrees(np.arccos(axis.direction @ (first_turn * wanted_sign * TRUE_AXIS))) < 0.5
    assert axis.method == "ankle taps"


def test_fidgeting_before_the_move_does_not_turn_the_sign():
    rates = move(1)
    rates[:50] += -np.radians(4.0) / 0.5 * TRUE_AXIS  # 4 deg the wrong way, then 25 deg the right way
    axis = main_axis([rates], RATE, 1, "knee kicks")
    assert axis.direction @ TRUE_AXIS > 0.99


def test_repetitions_of_a_phase_are_taken_together():
    """One phase in which the first move went the wrong way is outvoted by two larger ones."""
    axis = main_axis([move(-1, turn_deg=10), move(1, seed=1), move(1, seed=2)], RATE, 1, "thigh lifts")
    assert axis.direction @ TRUE_AXIS > 0.99


def test_share_explained_falls_with_cross_rotation():
    shares = [main_axis([move(cross=c)], RATE, 1, "taps").share_explained for c in (0.0, 0.3, 0.7)]
    assert shares[0] > 0.99
    assert shares[0] > shares[1] > shares[2]
    # cross rotation of 0.7 times the main one, by arithmetic: 1 / (1 + 0.7^2) = 0.67
    assert shares[2] == pytest.approx(1 / (1 + 0.7**2), abs=0.03)
    assert shares[2] < WEAK_SHARE < shares[1]


def test_error_grows_with_cross_rotation_and_falls_with_repetitions():
    clean, dirty = (main_axis([move(cross=c)], RATE, 1, "taps").error_deg for c in (0.1, 0.5))
    twice = main_axis([move(cross=0.5), move(cross=0.5, seed=3)], RATE, 1, "taps").error_deg
    assert clean < dirty
    assert twice < dirty


@pytest.mark.parametrize(
    "moves",
    [
        pytest.param([], id="no phase"),
        pytest.param([np.zeros((0, 3))], id="nothing known in it"),
        pytest.param([np.full((30, 3), 1.0)], id="shorter than half a second"),
        pytest.param([0.01 * np.random.default_rng(0).normal(size=(500, 3))], id="sat still"),
        pytest.param([move(turn_deg=5.0)], id="moved 5 deg only"),
    ],
)
def test_no_move_no_axis(moves):
    assert main_axis(moves, RATE, 1, "taps") is None


# ---- frames


def directions():
    return st.tuples(*[st.floats(-1, 1) for _ in range(3)]).map(np.array).filter(lambda v: np.linalg.norm(v) > 0.1)


@given(directions(), directions(), st.sampled_from(["long", "right"]))
@settings(max_examples=200, deadline=None)
def test_a_frame_is_right_handed_and_proper(long_axis, right_axis, keep):
    assume(abs(unit(long_axis) @ unit(right_axis)) < np.cos(np.radians(21)))
    frame = frame_from(long_axis, right_axis, keep)
    assert np.allclose(frame.T @ frame, np.eye(3), atol=1e-9)
    assert np.linalg.det(frame) == pytest.approx(1.0)
    x, y, z = frame.T
    assert np.allclose(np.cross(x, y), z, atol=1e-9)
    kept, given_axis = (y, long_axis) if keep == "long" else (z, right_axis)
    assert np.allclose(kept, unit(given_axis), atol=1e-9)
    assert y @ long_axis > 0 and z @ right_axis > 0


def test_frame_by_hand():
    """Sensor x up and sensor y to the right: anterior = proximal x right = x cross y = z."""
    frame = frame_from(np.array([2.0, 0.0, 0.0]), np.array([0.3, 5.0, 0.0]))
    assert np.allclose(frame, np.column_stack([[0, 0, 1], [1, 0, 0], [0, 1, 0]]))


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_parallel_axes_are_refused(sign):
    with pytest.raises(ValueError, match="nearly parallel"):
        frame_from(np.array([0.0, 1.0, 0.0]), sign * np.array([0.0, 1.0, 0.3]))


@pytest.mark.parametrize("slope_deg", [-20.0, -12.0, 0.0, 5.0])
def test_slope_of_a_sitting_thigh(slope_deg):
    """Forward x, up y, right z in a turned sensor: the knee-ward direction rises by the slope."""
    mount = Rotation.random(rng=np.random.default_rng(4)).inv()
    slope = np.radians(slope_deg)
    kneeward = np.array([np.cos(slope), np.sin(slope), 0.0])
    up, right = mount.apply([0.0, 1.0, 0.0]), mount.apply([0.0, 0.0, 1.0])
    assert np.allclose(tilted_long_axis(up, right, slope_deg), -mount.apply(kneeward))


def test_hints_name_six_directions():
    assert set(SENSOR_AXES) == {"+x", "-x", "+y", "-y", "+z", "-z"}
    assert np.array_equal(SENSOR_AXES["-y"], [0.0, -1.0, 0.0])
