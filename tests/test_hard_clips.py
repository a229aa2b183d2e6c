"""Recordings as they come: few or many samples a second, lost samples, clocks that run apart, clips of two people.

On legs in the physics engine. What is shown must lie inside the stated 95 % uncertainty nine times in ten or more (one
person is no sample of people: the table of `docs/accuracy.md` is), or be withheld.
"""

import re

import numpy as np
import pytest
from analysed import analysed, rmse
from clip_noise import ClipErrors
from physics_leg import Person, PhysicsParameters, SetupScript, replace, simulate
from physics_model import require_mujoco

ANGLES = ("ankle_dorsiflexion", "knee_flexion", "hip_flexion", "hip_rotation")
SHORT = PhysicsParameters(
    seed=5,
    person=Person(posture_sd_deg=0.0, cross_deg=1.0),
    setups=(SetupScript(playing_s=40.0),),
    ranges=("ankle_dorsiflexion", "hip_internal_rotation", "hip_external_rotation"),
)


def simulated(**changes):
    require_mujoco()
    return simulate(replace(SHORT, **changes))


@pytest.fixture(scope="module")
def plain():
    return simulated()


@pytest.mark.parametrize(
    "changes",
    [
        {"rate_hz": 50.0},
        {"rate_hz": 400.0, "errors": ClipErrors(lost_share=0.05)},
        {"errors": ClipErrors(lost_share=0.05, clock_skew_ppm=80.0, acc_full_scale_g=8.0), "knock_g": 12.0},
    ],
    ids=["50 Hz", "400 Hz, 5 % lost", "200 Hz, 5 % lost, skewed clocks, knocks that saturate"],
)
def test_inside_the_stated_uncertainty(changes, tmp_path):
    physics = simulated(**changes)
    result = analysed(tmp_path / "hard", physics)
    for angle in ANGLES:
        column = f"right_{angle}"
        error = result.errors(physics, column)
        sure = np.interp(
            physics.truth.time_s[physics.within("playing")],
            result.angles["time_s"],
            result.angles[f"{column}_uncertainty"],
        )
        known = np.isfinite(error)
        assert known.mean() > 0.9, column
        assert np.mean(np.abs(error[known]) <= sure[known]) >= 0.9, column


def test_a_foot_clip_of_another_person_is_said_and_its_angles_are_withheld(plain, tmp_path):
    """The other's session runs backward in time, which is a possible motion too, and at moments of its own."""
    theirs = simulated(seed=8).clips["right_foot"]
    n = min(len(plain.clips["right_foot"].time_s), len(theirs.time_s))
    theirs = replace(theirs, time_s=theirs.time_s[:n], acc=theirs.acc[:n][::-1], gyr=-theirs.gyr[:n][::-1])
    result = analysed(tmp_path / "two", plain, clips=plain.clips | {"right_foot": theirs})
    reasons = " ".join(result.withheld().values())
    assert "on two people" in reasons or "look swapped" in reasons
    assert "right_ankle_dorsiflexion" not in result.angles


def test_clips_of_one_person_are_no_strangers(plain, tmp_path):
    result = analysed(tmp_path / "one", plain)
    assert not any("did not move alike" in reason for reason in result.withheld().values())
    assert "right_ankle_dorsiflexion" in result.angles


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (
            {"reach_cm": 25.0},
            "the tape and the leg's slopes disagree by .* cm: measure reach",
        ),
        ({"spacing_cm": 40.0}, "by the tape the thigh points .* deg farther outward than its clip shows"),
    ],
)
def test_a_tape_that_contradicts_the_leg_is_said_and_not_used(plain, tmp_path, wrong, words):
    """Off by so much more than true; the rest is still known, sideways too from the still pose."""
    setups = [{**one, **{key: one[key] + off for key, off in wrong.items()}} for one in plain.setups]
    result = analysed(tmp_path / "tape", plain, setups=setups)
    assert re.search(words, result.withheld()["right hip from the tape on 'near'"])
    for angle in ("ankle_dorsiflexion", "hip_flexion", "knee_flexion"):
        assert rmse(result.errors(plain, f"right_{angle}")) < 2.0


def test_a_spacing_that_is_somewhat_off_is_doubted(plain, tmp_path):
    setups = [{**one, "spacing_cm": one["spacing_cm"] + 14.0} for one in plain.setups]
    result = analysed(tmp_path / "tape", plain, setups=setups)
    assert any("check the spacing, and whether the thighs pointed" in line for line in result.quality["messages"])
    right = analysed(tmp_path / "right", plain)
    assert not any("check the" in line for line in right.quality["messages"])
