"""Clips that turn on the leg, in the physics engine: found, dated, and what follows is not believed."""

import numpy as np
import pytest
from analysed import analysed
from physics_leg import Person, PhysicsParameters, SetupScript, Slip, simulate
from physics_model import require_mujoco

PLAYED = (SetupScript(name="near", playing_s=90.0), SetupScript(name="far", reach_cm=50.0, playing_s=60.0))


def session(*slips, seed=5):
    require_mujoco()
    return simulate(PhysicsParameters(seed=seed, setups=PLAYED, slips=slips, person=Person(cross_deg=1.0)))


@pytest.fixture(scope="module")
def slipped(tmp_path_factory):
    physics = session(Slip("right_shank", 12.0, axis=(0.0, 0.0, 1.0), setup="near", after_s=40.0))
    return physics, analysed(tmp_path_factory.mktemp("slip"), physics)


def test_a_turned_shank_clip_is_found_and_dated(slipped):
    physics, result = slipped
    (found,) = result.quality["slips"]
    true = physics.slips[0]
    assert found["clip"] == "right_shank"
    assert found["time_s"] == pytest.approx(true["time_s"], abs=10.0)
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


def test_people_who_repeat_a_pose_within_a_degree_have_no_slip(tmp_path):
    """Retaken still poses differ by 1 deg (SD) here, and every set-up has another posture."""
    for seed in (5, 6):
        result = analysed(tmp_path / str(seed), session(seed=seed))
        assert result.quality["slips"] == []
