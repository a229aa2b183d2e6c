"""Heel-down or heel-up from the pitch of the sole: by made-up pitches, and on legs in the physics engine."""

import numpy as np
import pytest
from analysed import analysed
from footroom.analysis.technique import heel_drops, technique_of
from footroom.analysis.timebase import Grid
from physics_leg import PhysicsParameters, SetupScript, Strokes, simulate
from physics_model import require_mujoco

GRID = Grid(0.0, 50.0, 50 * 130)
REST, PLAYING = [(0.0, 10.0)], [(10.0, 130.0)]


def pitch(lift_deg, stroke_deg=6.0):
    """Board of 18 deg; strokes press it three times a second; the heel lifted by so much while playing."""
    time = GRID.time_s
    played = 18.0 - lift_deg - stroke_deg * np.maximum(np.sin(2 * np.pi * 3 * time), 0.0)
    return np.where(time < 10.0, 18.0, played)


@pytest.mark.parametrize(
    ("lift", "word"),
    [(0.0, "heel-down"), (1.5, "heel-down"), (4.5, "unknown"), (8.0, "unknown"), (11.0, "heel-up"), (15.0, "heel-up")],
)
def test_the_pitch_between_strokes_tells(lift, word):
    drop = heel_drops(pitch(lift), REST, PLAYING, GRID).drop_deg
    assert drop == pytest.approx(-lift, abs=0.3)
    assert len(drop) == 6
    assert technique_of(drop) == word


def test_a_change_half_way_is_unknown():
    half = np.where(GRID.time_s < 70.0, pitch(0.0), pitch(12.0))
    assert technique_of(heel_drops(half, REST, PLAYING, GRID).drop_deg) == "unknown"


@pytest.mark.parametrize(("rest", "playing"), [([], PLAYING), (REST, []), ([(200.0, 210.0)], PLAYING)])
def test_without_a_rest_or_playing_nothing_is_claimed(rest, playing):
    assert technique_of(heel_drops(pitch(12.0), rest, playing, GRID).drop_deg) == "unknown"


def test_a_silent_clip_says_nothing():
    assert technique_of(heel_drops(np.full(GRID.n, np.nan), REST, PLAYING, GRID).drop_deg) == "unknown"


def test_two_set_ups_of_one_leg_in_the_engine(tmp_path):
    require_mujoco()
    strokes = Strokes(amplitude_deg=(3.0, 9.0), small_share=0.0)
    setups = (
        SetupScript(name="flat", playing_s=25.0, right=strokes),
        SetupScript(name="lifted", playing_s=25.0, technique="heel_up", right=strokes),
    )
    physics = simulate(PhysicsParameters(seed=5, setups=setups, ranges=("ankle_dorsiflexion",), end_checks=False))
    exposure = analysed(tmp_path / "two", physics).exposure
    assert exposure["techniques"] == {"flat": {"right": "heel-down"}, "lifted": {"right": "heel-up"}}
    for setup, sides in exposure["techniques"].items():  # one answer in both places
        assert exposure["playing"][setup]["right"]["heel"]["technique"] == sides["right"]
