"""Clips that are not where they are said to be, and range moves that went the other way: said, never believed."""

import dataclasses
from dataclasses import replace

import numpy as np
import pytest
from analysed import analysed
from footroom.analysis.session_exposure import _wrong_way
from physics_leg import Person, PhysicsParameters, SetupScript, simulate
from physics_model import require_mujoco


@pytest.fixture(scope="module")
def two_legs():
    require_mujoco()
    setups = (SetupScript(playing_s=30.0),)
    return simulate(PhysicsParameters(seed=3, sides=("right", "left"), setups=setups, person=Person(cross_deg=1.0)))


def renamed(physics, names):
    """The same recordings under other clip names, in the same order."""
    return {names.get(name, name): record for name, record in physics.clips.items()}


def test_clips_in_their_places_are_not_called_swapped(two_legs, tmp_path):
    result = analysed(tmp_path / "right", two_legs)
    assert not any("swapped" in entry["reason"] for entry in result.quality["withheld"])
    assert "right_ankle_dorsiflexion" in result.angles


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("right_foot", "right_shank"),
        ("right_shank", "right_thigh"),
        ("right_foot", "left_foot"),
        ("right_shank", "left_shank"),
    ],
)
def test_two_swapped_clips_are_said_and_the_leg_is_withheld(two_legs, tmp_path, one, other):
    result = analysed(tmp_path / "swapped", two_legs, clips=renamed(two_legs, {one: other, other: one}))
    reason = result.withheld()["right leg"]
    assert "look swapped" in reason
    assert "correct their segments or sides in import.toml" in reason
    assert one in reason or other in reason
    assert not any(column.startswith("right_") for column in result.angles)


def test_a_range_move_the_other_way_is_not_an_end(two_legs, tmp_path):
    """The plantarflexion phase is called dorsiflexion and the other way round."""
    swap = {"range_dorsiflexion": "range_plantarflexion", "range_plantarflexion": "range_dorsiflexion"}
    phases = [replace(p, name=swap.get(p.name, p.name)) for p in two_legs.phases]
    result = analysed(tmp_path / "way", two_legs, phases=phases)
    assert any(
        "Right ankle dorsiflexion: in the range phase the joint moved the other way" in m
        for m in result.quality["messages"]
    )
    assert result.exposure["ranges"]["right"]["ankle_dorsiflexion"]["source"] == "norm"


def test_a_thigh_without_rotation_moves_leaves_the_ankle(two_legs, tmp_path):
    phases = [p for p in two_legs.phases if p.name not in ("range_internal_rotation", "range_external_rotation")]
    result = analysed(tmp_path / "thigh", two_legs, phases=[dataclasses.asdict(p) for p in phases])
    assert "record the hip rotation moves or give thigh_slope_deg" in result.withheld()["right hip and knee"]
    assert np.isfinite(result.errors(two_legs, "right_ankle_dorsiflexion")).all()
    assert "right_hip_flexion" not in result.angles


def test_a_range_move_whose_beginning_is_not_known_is_not_called_wrong():
    rising = np.r_[np.full(50, 0.0), np.full(200, 40.0), np.full(200, 0.0)]
    assert not _wrong_way(rising)
    assert _wrong_way(-rising)
    late = np.r_[np.full(100, np.nan), rising[100:]]  # known from the first repetition's end on
    assert not _wrong_way(late)
    assert not _wrong_way(np.full(10, np.nan))
